"""Picks, pair by pair: how often each coffee was picked, and how sure the lead is."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from twobowls.debrief.evidence import Evidence, evidence
from twobowls.debrief.tables import Evening
from twobowls.tasting.records import Pick, Question


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundPicks:
    """The picks between two coffees in one round, each seat's latest there."""

    round: str
    for_a: int
    for_b: int
    same: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PickPair:
    """All picks between two coffees on one sensation, over all rounds.

    ``for_a`` and ``for_b`` count seats by their latest pick, ``same`` those who saw no
    difference; ``rounds`` has the picks of each round that has any, in order, so that a seat
    which picked in three rounds is in each of them. ``share`` is the
    posterior share of picks for ``a`` (a "same" counts half for each), ``interval`` its central
    interval and ``probability`` that of ``a`` leading.
    """

    sensation: str
    question: Question
    a: str
    b: str
    for_a: int
    for_b: int
    same: int
    share: float
    interval: tuple[float, float]
    probability: float
    rounds: tuple[RoundPicks, ...]

    @property
    def evidence(self) -> Evidence:
        """The word for how sure the lead is."""
        return evidence(self.probability)


def standing_picks(night: Evening) -> tuple[Pick, ...]:
    """Return the picks that count: a seat's latest between two coffees, in one question.

    Earlier rounds of the same seat are the same opinion forming, not further evidence. Picks
    between two bowls of one coffee are left out.
    """
    return _latest(night, (each for each in night.records if isinstance(each, Pick)))


def _latest(night: Evening, picks: Iterable[Pick]) -> tuple[Pick, ...]:
    latest: dict[tuple[str, frozenset[str], str, str], Pick] = {}
    for pick in sorted(picks, key=lambda each: each.at_ms):
        pair = frozenset(night.labels.get(each, "") for each in (pick.bowl_a, pick.bowl_b))
        if len(pair) == 2 and "" not in pair:
            latest[pick.seat, pair, pick.sensation, pick.question] = pick
    return tuple(latest.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class PickRow:
    """One pick of the history, with all that the export says about it.

    ``answer`` is the code of the bowl or "same", ``picked`` what that bowl may be called;
    ``counts`` is 1 for the latest of a seat between two coffees in one question.
    """

    seat: int
    nickname: str
    sensation: str
    question: Question
    round: str
    bowl_a: str
    coffee_a: str
    bowl_b: str
    coffee_b: str
    answer: str
    picked: str
    at_ms: int
    counts: int


def without_names(rows: Iterable[PickRow]) -> list[PickRow]:
    """Return the rows of an export with the seats' numbers and nobody's name."""
    return [replace(row, nickname="") for row in rows]


def pick_rows(night: Evening) -> list[PickRow]:
    """Return every pick ever made, oldest first."""
    seats = {seat.id: seat for seat in night.tasting.seats}
    counting = {(pick.seat, pick.id) for pick in standing_picks(night)}
    history = sorted(
        (each for each in night.records if isinstance(each, Pick) and each.seat in seats),
        key=lambda pick: pick.at_ms,
    )
    return [
        PickRow(
            seat=seats[pick.seat].number,
            nickname=seats[pick.seat].nickname,
            sensation=pick.sensation,
            question=pick.question,
            round=pick.round,
            bowl_a=pick.bowl_a,
            coffee_a=night.labels[pick.bowl_a],
            bowl_b=pick.bowl_b,
            coffee_b=night.labels[pick.bowl_b],
            answer=pick.answer,
            picked=night.labels.get(pick.answer, pick.answer),
            at_ms=pick.at_ms,
            counts=int((pick.seat, pick.id) in counting),
        )
        for pick in history
        if pick.bowl_a in night.labels and pick.bowl_b in night.labels
    ]


def pick_pairs(night: Evening, level: float = 0.90) -> tuple[PickPair, ...]:
    """Count the picks between every two coffees, the most picked pairs first.

    ``a`` is the coffee that leads.
    """
    rounds: dict[str, dict[_Key, list[int]]] = {}
    for round_ in night.tasting.setup.rounds:
        there = (each for each in night.records if isinstance(each, Pick))
        rounds[round_.key] = _tallies(
            night, _latest(night, (each for each in there if each.round == round_.key))
        )
    pairs = [
        _pair(
            key, tally, {name: found[key] for name, found in rounds.items() if key in found}, level
        )
        for key, tally in _tallies(night, standing_picks(night)).items()
    ]
    return tuple(sorted(pairs, key=_order))


_Key = tuple[str, Question, str, str]


def _tallies(night: Evening, picks: Iterable[Pick]) -> dict[_Key, list[int]]:
    """Count picks for the first coffee, the second, and neither, by sensation, question, pair."""
    counts: dict[_Key, list[int]] = {}
    for pick in picks:
        a, b = sorted((night.labels[pick.bowl_a], night.labels[pick.bowl_b]))
        tally = counts.setdefault((pick.sensation, pick.question, a, b), [0, 0, 0])
        chosen = night.labels.get(pick.answer)
        tally[2 if chosen is None else 0 if chosen == a else 1] += 1
    return counts


def _order(pair: PickPair) -> tuple[int, str, str, str]:
    return (-(pair.for_a + pair.for_b + pair.same), pair.sensation, pair.a, pair.b)


def _pair(key: _Key, tally: list[int], rounds: dict[str, list[int]], level: float) -> PickPair:
    """Return the beta posterior with a flat prior; both shapes are one plus the picks."""
    from scipy.special import betainc, betaincinv

    sensation, question, a, b = key
    for_a, for_b, same = tally
    turned = for_b > for_a
    if turned:
        a, b, for_a, for_b = b, a, for_b, for_a
    up, down = 1 + for_a + same / 2, 1 + for_b + same / 2
    tail = (1 - level) / 2
    return PickPair(
        sensation=sensation,
        question=question,
        a=a,
        b=b,
        for_a=for_a,
        for_b=for_b,
        same=same,
        share=up / (up + down),
        interval=(float(betaincinv(up, down, tail)), float(betaincinv(up, down, 1 - tail))),
        probability=1 - float(betainc(up, down, 0.5)),
        rounds=tuple(
            RoundPicks(round=name, for_a=there[turned], for_b=there[not turned], same=there[2])
            for name, there in rounds.items()
        ),
    )
