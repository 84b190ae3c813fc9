"""How far the marks follow the model, in words that need no statistics.

Names no person: what is told is counted over the table.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from twobowls.counting import count_of
from twobowls.debrief.analysis import Analysis, SensationFit, columns_of
from twobowls.debrief.phrases import joined, number, title
from twobowls.debrief.rating_table import Part, RatingTable, Scale
from twobowls.statistics.ratings_checks import MANY_AT_ENDS, check_marks

BEYOND = 2.0  # standard deviations; normal slips pass it in one mark of twenty
USUAL = 0.0455
# Fewer marks than this, and a share beyond two standard deviations means nothing.
LEAST_MARKS = 40
MOST_TOLD = 8
MOST_ROWS = 50_000  # checking mark by mark takes seconds beyond


@dataclass(frozen=True, slots=True, kw_only=True)
class OddMark:
    """A mark that the others did not foretell, in points of the scale."""

    sensation: str
    scale: Scale
    coffee: str
    round: str | None
    mark: float
    expected: float
    places: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FitCheck:
    """The checks of one sensation on one scale.

    ``slip`` is the standard deviation of what the model leaves unexplained, in points;
    ``beyond`` counts marks more than two standard deviations from what the others foretell,
    ``odd`` are those so far off that chance would hardly do it, ``at_ends`` is the share of marks
    at an end of the line, ``scattered`` counts people whose marks scatter more than the model
    can hold, ``lighter`` those of them whose marks the fit lets count for less.
    """

    id: str
    sensation: str
    scale: Scale
    marks: int
    slip: float
    places: int
    beyond: int
    odd: tuple[OddMark, ...]
    at_ends: float
    scattered: int
    lighter: int = 0


def model_checks(table: RatingTable, analysis: Analysis) -> tuple[FitCheck, ...]:
    """Check the marks of each fit against it; empty for a table of more than ``MOST_ROWS`` rows.

    Parameters
    ----------
    table : RatingTable
        The marks.
    analysis : Analysis
        Their fits.
    """
    if len(table) > MOST_ROWS:
        return ()
    parts = {(part.sensation, part.scale): part for part in table.parts()}
    return tuple(_check(fit, parts[fit.sensation, fit.scale]) for fit in analysis.fits)


def _check(fit: SensationFit, part: Part) -> FitCheck:
    found = check_marks(columns_of(part), fit.fit, fit.limits)
    odd = tuple(
        OddMark(
            sensation=fit.sensation,
            scale=fit.scale,
            coffee=each.coffee,
            round=each.round,
            mark=each.mark,
            expected=each.expected,
            places=fit.places,
        )
        for each in found.outlying
    )
    return FitCheck(
        id=fit.id,
        sensation=fit.sensation,
        scale=fit.scale,
        marks=fit.fit.rows,
        slip=fit.fit.variance["residual"] ** 0.5,
        places=fit.places,
        beyond=sum(abs(each) > BEYOND for each in found.standardised),
        odd=odd,
        at_ends=found.at_ends,
        scattered=len(found.scattered),
        lighter=sum(each in fit.fit.weights for each in found.scattered),
    )


def check_sentences(
    checks: Iterable[FitCheck], rounds: Mapping[str, str] | None = None
) -> tuple[str, ...]:
    r"""Say what the checks found and what to make of it.

    Parameters
    ----------
    checks : iterable of FitCheck
        Those of all fits.
    rounds : mapping of round key to name, optional
        What rounds are called; as they are when left out.

    Examples
    --------
    >>> check_sentences([])
    ()
    >>> calm = FitCheck(
    ...     id="body-liking", sensation="body", scale="liking", marks=60, slip=7, places=0,
    ...     beyond=2, odd=(), at_ends=0.02, scattered=0,
    ... )
    >>> print(*check_sentences([calm]), sep="\n")
    No mark is so far off that it looks like a slip of the finger.
    2 of 60 marks are far from what the others foretell; about 3 would be usual.
    """
    found = list(checks)
    if not found:
        return ()
    odd = [each for one in found for each in one.odd]
    said = [_odd_sentence(odd)]
    said += [_odd_mark(each, rounds or {}) for each in odd[:MOST_TOLD]]
    if len(odd) > MOST_TOLD:
        said.append(f"And {len(odd) - MOST_TOLD} more.")
    return tuple(said + _spread(found) + _scattered(found) + _ends(found))


def _odd_sentence(odd: list[OddMark]) -> str:
    if not odd:
        return "No mark is so far off that it looks like a slip of the finger."
    looks = "looks" if len(odd) == 1 else "look"
    return (
        f"{count_of(len(odd), 'mark')} {looks} like a slip of the finger, or a bowl that "
        "was off: far from what all other "
        "marks foretell. Ask at the table. They count as they are."
    )


def _odd_mark(odd: OddMark, rounds: Mapping[str, str]) -> str:
    when = "" if odd.round is None else f", round {rounds.get(odd.round, odd.round)}"
    mark, expected = number(odd.mark, odd.places), number(odd.expected, odd.places)
    what = f"{title(odd.sensation)}, {_in_words(odd.scale)}: {odd.coffee}{when}"
    return f"{what}, marked {mark}, foretold about {expected}."


def _spread(found: list[FitCheck]) -> list[str]:
    marks, beyond = sum(each.marks for each in found), sum(each.beyond for each in found)
    if marks < LEAST_MARKS:
        return []
    usual = USUAL * marks
    said = f"{beyond:,} of {marks:,} marks are far from what the others foretell; "
    said += f"about {usual:.0f} would be usual."
    if beyond > usual + 3 * usual**0.5:
        said += " Slips are larger now and then than the model thinks: read “clear” as “likely”."
    return [said]


def _scattered(found: list[FitCheck]) -> list[str]:
    return [
        f"{title(each.sensation)}, {_in_words(each.scale)}: the marks of "
        f"{count_of(each.scattered, 'person', 'people')} jump about more than the model can "
        f"hold. {_weight(each)}"
        for each in found
        if each.scattered
    ]


def _weight(found: FitCheck) -> str:
    if found.lighter == found.scattered:
        return "They count for less than everybody else's."
    some = "Some of them" if found.lighter else "They"
    return f"{some} weigh as much as everybody's, so figures may be less sure than they look."


def _ends(found: list[FitCheck]) -> list[str]:
    crowded = [each for each in found if each.at_ends >= MANY_AT_ENDS]
    if not crowded:
        return []
    listed = joined(
        [
            f"{title(each.sensation)}, {_in_words(each.scale)} ({100 * each.at_ends:.0f} %)"
            for each in crowded
        ]
    )
    return [
        f"Many marks sit at an end of the line: {listed}. Differences there look smaller than "
        "they are. Next time, say that the ends are for the most extreme cup one can think of."
    ]


def _in_words(scale: Scale) -> str:
    return "strength" if scale == "intensity" else "liking"
