"""What the picks add to the marks: both in one posterior, and which statements that moves."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from twobowls.counting import count_of
from twobowls.debrief.analysis import Analysis, SensationFit, columns_of, turned
from twobowls.debrief.evidence import Evidence, evidence, expected_false
from twobowls.debrief.findings import few
from twobowls.debrief.phrases import above, title
from twobowls.debrief.pick_counts import standing_picks
from twobowls.debrief.rating_table import RatingTable, Scale
from twobowls.debrief.tables import Evening
from twobowls.statistics.marks_and_picks import Joined, MarksAndPicks, join_marks_and_picks
from twobowls.statistics.picks_table import SAME, PickTable, count_picks
from twobowls.statistics.ratings_results import Contrast, Population
from twobowls.tasting.records import Pick, Question

SCALE_OF: dict[Question, Scale] = {"more": "intensity", "better": "liking"}
# A word that changes because two ways of computing differ a little has not been moved by picks:
# their own push must be this large, in standard deviations of the difference.
LEAST_PUSH = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class WithPicks:
    """One contrast without and with the picks; ``a`` is the coffee that the marks put above.

    ``before`` and ``after`` are the chances of ``a`` being above by the marks alone and with the
    picks; ``push`` is what the picks did, in standard deviations (below 0: against the marks).
    """

    id: str
    a: str
    b: str
    before: float
    after: float
    push: float
    difference: float
    se: float
    interval: tuple[float, float]

    @property
    def words(self) -> tuple[Evidence, Evidence]:
        """The evidence without and with the picks; see ``turned`` for its direction."""
        return evidence(self.before), evidence(self.after)

    @property
    def turned(self) -> bool:
        """Whether with the picks the evidence is for ``b``."""
        return self.after < 0.5 and self.words[1] != "cannot tell"

    @property
    def moved(self) -> bool:
        """Whether the picks changed the word, or what it is said of."""
        before, after = self.words
        return (before != after or self.turned) and abs(self.push) >= LEAST_PUSH


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinedPicks:
    """Marks and picks of one sensation on one scale in one posterior.

    ``id`` is that of the marks' fit. ``picks`` of ``seats`` people count, ``same`` of which saw
    no difference.
    """

    id: str
    sensation: str
    scale: Scale
    picks: int
    seats: int
    same: int
    table: tuple[WithPicks, ...]
    people: tuple[WithPicks, ...]
    slope: float

    def of(self, population: Population) -> tuple[WithPicks, ...]:
        """Return the contrasts of one population."""
        return self.table if population == "table" else self.people

    @property
    def moves(self) -> tuple[WithPicks, ...]:
        """The contrasts at this table whose word the picks changed, the furthest first."""
        found = [each for each in self.table if each.moved]
        return tuple(sorted(found, key=lambda each: (-abs(each.push), each.id)))


def join_picks(night: Evening, table: RatingTable, analysis: Analysis) -> tuple[JoinedPicks, ...]:
    """Join the picks to the marks wherever a sensation has both.

    Parameters
    ----------
    night : Evening
        The tasting; of each seat's picks between two coffees the latest counts.
    table : RatingTable
        Its marks.
    analysis : Analysis
        Their fits. Nothing in it changes: what the picks add stands beside it.
    """
    seats = {seat.id: str(seat.number) for seat in night.tasting.seats}
    parts = {(part.sensation, part.scale): part for part in table.parts()}
    made: dict[tuple[str, Scale], list[Pick]] = {}
    for pick in standing_picks(night):
        if pick.seat in seats:
            made.setdefault((pick.sensation, SCALE_OF[pick.question]), []).append(pick)
    found = []
    for fit in analysis.fits:
        part = parts[fit.sensation, fit.scale]
        tasters = part.table.taster.take(part.rows).labels
        coffees = {each.level for each in fit.fit.table.coffees}
        picks = [
            each
            for each in made.get((fit.sensation, fit.scale), ())
            if seats[each.seat] in tasters
            and {night.labels[each.bowl_a], night.labels[each.bowl_b]} <= coffees
        ]
        if picks:
            counted = _counted(night, seats, picks)
            both = join_marks_and_picks(
                columns_of(part), fit.fit, counted, scale=fit.limits, level=fit.fit.level
            )
            found.append(_joined(fit, both, picks, len(counted.tasters)))
    return tuple(found)


def _counted(night: Evening, seats: dict[str, str], picks: Iterable[Pick]) -> PickTable:
    rows = [
        (night.labels[each.bowl_a], night.labels[each.bowl_b], each.answer, seats[each.seat])
        for each in picks
    ]
    first, second, answers, who = zip(*rows, strict=True)
    picked = [night.labels.get(answer, SAME) for answer in answers]
    return count_picks(first, second, picked, who)


def _joined(fit: SensationFit, both: MarksAndPicks, picks: list[Pick], seats: int) -> JoinedPicks:
    return JoinedPicks(
        id=fit.id,
        sensation=fit.sensation,
        scale=fit.scale,
        picks=both.picks,
        seats=seats,
        same=Counter(each.answer for each in picks)[SAME],
        table=_contrasts(fit, both.table),
        people=_contrasts(fit, both.people),
        slope=both.slope.mean,
    )


def _contrasts(fit: SensationFit, found: Joined) -> tuple[WithPicks, ...]:
    return tuple(
        _with_picks(fit, found.population, before, after)
        for before, after in zip(found.before, found.contrasts, strict=True)
    )


def _with_picks(
    fit: SensationFit, population: Population, before: Contrast, after: Contrast
) -> WithPicks:
    """Turn a contrast the way the marks have it, and add what the picks did to their chance."""
    marks = fit.contrast(before.a, before.b, population)
    if marks.probability < 0.5:
        marks, before, after = turned(marks), turned(before), turned(after)
    push = _score(after.probability) - _score(before.probability)
    return WithPicks(
        id=fit.contrast_id(marks.a, marks.b),
        a=marks.a,
        b=marks.b,
        before=marks.probability,
        after=_chance(_score(marks.probability) + push),
        push=push,
        difference=after.estimate.mean,
        se=after.estimate.se,
        interval=after.estimate.interval,
    )


def _score(probability: float) -> float:
    from scipy.special import ndtri

    return float(ndtri(min(max(probability, 1e-15), 1 - 1e-15)))


def _chance(score: float) -> float:
    from scipy.special import ndtr

    return float(ndtr(score))


def move_sentence(sensation: str, scale: Scale, move: WithPicks) -> str:
    """Say how the picks moved a statement.

    Examples
    --------
    >>> move = WithPicks(
    ...     id="x", a="Brisa", b="Oro", before=0.93, after=0.97, push=0.4,
    ...     difference=8, se=4, interval=(1, 15),
    ... )
    >>> move_sentence("verdict", "liking", move)
    'Brisa is liked better than Oro: leaning by the marks, likely with the picks.'
    """
    before, after = move.words
    alone = "the marks alone cannot tell" if before == "cannot tell" else f"{before} by the marks"
    if move.turned:
        both = f"with the picks {after} the other way round"
    elif after == "cannot tell":
        both = "with the picks we cannot tell"
    else:
        both = f"{after} with the picks"
    return f"{above(sensation, scale, move.a, [move.b])}: {alone}, {both}."


def join_sentence(found: JoinedPicks) -> str:
    """Say how many picks there are for one sensation, and whether they change a word.

    Examples
    --------
    >>> none = JoinedPicks(
    ...     id="body-liking", sensation="body", scale="liking", picks=6, seats=4, same=1,
    ...     table=(), people=(), slope=0.1,
    ... )
    >>> join_sentence(none)
    'Body, liking: 6 picks by 4 people, 1 of them “the same”. They change no word.'
    """
    scale = "strength" if found.scale == "intensity" else "liking"
    same = f", {found.same} of them “the same”" if found.same else ""
    counted = f"{count_of(found.picks, 'pick')} by {count_of(found.seats, 'person', 'people')}"
    count = len(found.moves)
    change = "no word" if not count else count_of(count, "statement")
    they = "It changes" if found.picks == 1 else "They change"
    return f"{title(found.sensation)}, {scale}: {counted}{same}. {they} {change}."


def moved_tally(found: Iterable[JoinedPicks]) -> str:
    """Say how many of the statements that the picks moved are expected to be wrong.

    Counts those that still at least lean with the picks; empty where there are none.
    """
    moves = [each for one in found for each in one.moves if each.words[1] != "cannot tell"]
    held = [max(each.after, 1 - each.after) for each in moves]
    if not held:
        return ""
    wrong = few(expected_false(held))
    return f"{count_of(len(held), 'statement')} with the picks: {wrong} expected to be wrong."
