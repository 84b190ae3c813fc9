"""From a tasting's records to a rating table, and to the tidy rows of the export."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from twobowls.debrief.rating_table import Factor, RatingTable
from twobowls.tasting.codes import bowl_tones
from twobowls.tasting.coffees import Coffee
from twobowls.tasting.planning import order_for
from twobowls.tasting.records import Mark, Pick, Record, latest_marks
from twobowls.tasting.sensations import SENSATIONS
from twobowls.tasting.tasting import Seat, Tasting

LIMITS = (0.0, 100.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Evening:
    """A tasting with everything that was recorded, and what the bowls are called by now.

    ``labels`` maps bowl codes to what a page may call their coffee: its name once the tasting
    is revealed, the code until then. Bowls of one coffee share a label only when revealed.
    """

    tasting: Tasting
    records: tuple[Record, ...]
    labels: dict[str, str]

    @property
    def revealed(self) -> bool:
        """Whether coffees may be named."""
        return self.tasting.state == "revealed"

    def marks(self) -> tuple[Mark, ...]:
        """Return the marks that count: the latest of each seat, bowl, sensation and round."""
        return latest_marks(each for each in self.records if isinstance(each, Mark))

    def tones(self) -> dict[str, int]:
        """Return the number of the tone of each label: that of its bowl, or of its first code."""
        by_code = bowl_tones(self.labels)
        tones: dict[str, int] = {}
        for code in sorted(self.labels):
            tones.setdefault(self.labels[code], by_code[code])
        return tones

    def codes_of(self, label: str) -> tuple[str, ...]:
        """Return the codes of the bowls with a label, in the order in which they were poured."""
        return tuple(
            bowl.code for bowl in self.tasting.plan.bowls if self.labels[bowl.code] == label
        )


def evening(tasting: Tasting, records: Iterable[Record], coffees: Mapping[str, Coffee]) -> Evening:
    """Put a tasting, its records and its coffees together.

    Parameters
    ----------
    tasting : Tasting
        In any state; coffees are named only once it is revealed.
    records : iterable of Record
        The whole history.
    coffees : mapping of id to Coffee
        The coffees of this tasting, archived ones too.
    """
    counting = _counting(tasting)
    return Evening(
        tasting=counting,
        records=counting_records(tasting, records),
        labels=bowl_labels(counting, coffees),
    )


def counting_records(tasting: Tasting, records: Iterable[Record]) -> tuple[Record, ...]:
    """Return what counts, as whose it counts: the host may have set bowls and seats aside."""
    merged, gone = tasting.merged, tasting.set_aside
    return tuple(
        replace(each, seat=merged[each.seat]) if each.seat in merged else each
        for each in records
        if each.seat not in tasting.removed and gone.isdisjoint(_bowls_of(each))
    )


def _bowls_of(record: Record) -> tuple[str, ...]:
    return (record.bowl_a, record.bowl_b) if isinstance(record, Pick) else (record.bowl,)


def _counting(tasting: Tasting) -> Tasting:
    """Return the tasting without the bowls and seats that do not count."""
    gone, plan = tasting.set_aside, tasting.plan
    orders = tuple(
        replace(order, codes=tuple(code for code in order.codes if code not in gone))
        for order in plan.orders
    )
    bowls = tuple(bowl for bowl in plan.bowls if bowl.code not in gone)
    plan = replace(plan, bowls=bowls, orders=orders)
    return replace(tasting, plan=plan, seats=tasting.counting_seats())


def bowl_labels(tasting: Tasting, coffees: Mapping[str, Coffee]) -> dict[str, str]:
    """Return what each bowl's coffee is called by now, by code."""
    names = coffee_names(tasting.setup.coffee_ids, coffees)
    named = tasting.state == "revealed"
    return {
        bowl.code: names[bowl.coffee_id] if named and bowl.coffee_id in names else bowl.code
        for bowl in tasting.plan.bowls
    }


def coffee_names(ids: Iterable[str], coffees: Mapping[str, Coffee]) -> dict[str, str]:
    """Return a name for each coffee; those of the same name get their roaster, or a number.

    Examples
    --------
    >>> shelf = {
    ...     "a": Coffee(id="a", name="Oro", roaster="Pell"),
    ...     "b": Coffee(id="b", name="Oro", roaster="Quill"),
    ...     "c": Coffee(id="c", name="Brisa"),
    ... }
    >>> coffee_names("abc", shelf)
    {'a': 'Oro (Pell)', 'b': 'Oro (Quill)', 'c': 'Brisa'}
    """
    known = {each: coffees[each] for each in dict.fromkeys(ids) if each in coffees}
    plain = [coffee.name for coffee in known.values()]
    names: dict[str, str] = {}
    for coffee_id, coffee in known.items():
        name = coffee.name
        if plain.count(name) > 1 and coffee.roaster:
            name = f"{name} ({coffee.roaster})"
        base, number = name, 1
        while name in names.values():
            number += 1
            name = f"{base} {number}"
        names[coffee_id] = name
    return names


def rating_table(night: Evening) -> RatingTable:
    """Return the marks that count as a rating table.

    The taster is the seat's number, the position that of the bowl within its flight in the
    seat's own order. Until the reveal each bowl stands for itself, so there is no bowl factor.
    """
    seats = _seats(night.tasting)
    places = {seat.id: positions(night.tasting, seat) for seat in seats.values()}
    flights = {bowl.code: str(bowl.flight + 1) for bowl in night.tasting.plan.bowls}
    marks = [
        mark
        for mark in night.marks()
        if mark.seat in seats
        and mark.bowl in night.labels
        and (mark.intensity is not None or mark.liking is not None)
    ]
    rounds = [each.key for each in night.tasting.setup.rounds]
    pads = [each.key for each in SENSATIONS]
    return RatingTable(
        taster=Factor.of(str(seats[mark.seat].number) for mark in marks),
        coffee=Factor.of(night.labels[mark.bowl] for mark in marks),
        sensation=_ordered([mark.sensation for mark in marks], pads),
        round=_ordered([mark.round for mark in marks], rounds),
        position=Factor.of(str(places[mark.seat][mark.bowl]) for mark in marks),
        bowl=Factor.of(mark.bowl for mark in marks) if night.revealed else None,
        flight=Factor.of(flights[mark.bowl] for mark in marks),
        intensity=_values(mark.intensity for mark in marks),
        liking=_values(mark.liking for mark in marks),
        kept=np.array([mark.kept for mark in marks], dtype=np.bool_),
        limits={"intensity": LIMITS, "liking": LIMITS},
    )


def positions(tasting: Tasting, seat: Seat) -> dict[str, int]:
    """Return the place of each bowl within its flight, in the order of one seat, from 1."""
    flights = {bowl.code: bowl.flight for bowl in tasting.plan.bowls}
    counts: dict[int, int] = {}
    places: dict[str, int] = {}
    for code in order_for(tasting.plan, seat.number):
        counts[flights[code]] = counts.get(flights[code], 0) + 1
        places[code] = counts[flights[code]]
    return places


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkRow:
    """One mark of the history, with all that the export says about it; flights from 1."""

    seat: int
    nickname: str
    coffee: str
    bowl: str
    flight: int
    round: str
    position: int
    sensation: str
    intensity: float | None
    liking: float | None
    at_ms: int
    since_pour_s: float | None
    temperature_c: float | None
    counts: int
    kept: int


def mark_rows(night: Evening) -> list[MarkRow]:
    """Return every mark ever made, oldest first; ``counts`` is 1 for those that count.

    ``kept`` is 1 for those that repeat a former round's place because the taster said so.
    """
    seats = _seats(night.tasting)
    places = {seat.id: positions(night.tasting, seat) for seat in seats.values()}
    flights = {bowl.code: bowl.flight for bowl in night.tasting.plan.bowls}
    counting = {(mark.seat, mark.id) for mark in night.marks()}
    history = sorted(
        (each for each in night.records if isinstance(each, Mark) and each.seat in seats),
        key=lambda mark: mark.at_ms,
    )
    return [
        MarkRow(
            seat=seats[mark.seat].number,
            nickname=seats[mark.seat].nickname,
            coffee=night.labels[mark.bowl],
            bowl=mark.bowl,
            flight=flights[mark.bowl] + 1,
            round=mark.round,
            position=places[mark.seat][mark.bowl],
            sensation=mark.sensation,
            intensity=mark.intensity,
            liking=mark.liking,
            at_ms=mark.at_ms,
            since_pour_s=mark.since_pour_s,
            temperature_c=mark.temperature_c,
            counts=int((mark.seat, mark.id) in counting),
            kept=int(mark.kept),
        )
        for mark in history
        if mark.bowl in night.labels
    ]


def without_names(rows: Iterable[MarkRow]) -> list[MarkRow]:
    """Return the rows of an export with the seats' numbers and nobody's name."""
    return [replace(row, nickname="") for row in rows]


def _seats(tasting: Tasting) -> dict[str, Seat]:
    return {seat.id: seat for seat in tasting.seats}


def _ordered(values: list[str], usual: list[str]) -> Factor:
    """Code labels in their usual order; labels that have none come last."""
    found = set(values)
    known = [each for each in usual if each in found]
    labels = (*known, *sorted(found - set(known)))
    place = {label: number for number, label in enumerate(labels)}
    return Factor(labels, np.array([place[each] for each in values], dtype=np.int32))


def _values(values: Iterable[float | None]) -> np.ndarray:
    return np.array([np.nan if each is None else each for each in values], dtype=np.float64)
