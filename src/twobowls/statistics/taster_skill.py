"""How each taster marks: repeatability, discrimination, agreement, use of the scale.

One sensation on one scale at a time, after the notions of ISO 11132. Private matters: what is
said of whom is decided elsewhere.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtrit

from twobowls.counting import count_of
from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.coffee_means import Rest, coffee_table, label_codes, rows_of
from twobowls.statistics.correlation import Correlation, correlation
from twobowls.statistics.discriminating import Discriminating, discriminating, repeatability
from twobowls.statistics.inputs import between, numbers
from twobowls.statistics.intervals import Interval

_LEAST_RELIABILITY = 0.5  # below it more than half of what the others show is noise


@dataclass(frozen=True, slots=True, kw_only=True)
class TasterSkill:
    """How one taster marks one sensation; None where the data cannot tell.

    ``repeatability`` is the standard deviation between hidden repeats (``repeat_df`` degrees of
    freedom), in units of the scale. ``discrimination`` says whether the marks tell coffees
    apart. ``agreement`` correlates the taster's coffees with the mean of the others'.
    ``stretch`` is the slope on that mean: 1 for the table's own use of the scale, 0.5 for half
    of it. ``offset`` is how much higher the taster marks than the others, on the same coffees.
    ``lowest``, ``highest`` and ``spread`` (standard deviation) describe the marks themselves.
    """

    taster: str
    marks: int
    coffees: int
    repeatability: Interval | None
    repeat_df: int
    discrimination: Discriminating | None
    agreement: Correlation | None
    stretch: Interval | None
    offset: Interval | None
    lowest: float
    highest: float
    spread: float
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TableSkill:
    """All tasters, and the repeatability of the table pooled over them."""

    tasters: tuple[TasterSkill, ...]
    repeatability: Interval | None
    repeat_df: int


def taster_skill(
    tasters: Sequence[str],
    coffees: Sequence[str],
    marks: ArrayLike,
    *,
    rounds: Sequence[str] | None = None,
    level: float = 0.90,
) -> TableSkill:
    """Return how each taster of a table marks one sensation.

    Parameters
    ----------
    tasters, coffees : sequence of str, shape (n,)
        Who marked what. The same coffee twice in one round is a hidden repeat.
    marks : array_like, shape (n,)
        The marks, one a bowl and round, on one scale.
    rounds : sequence of str, shape (n,), or None
        The round of each mark; one round when None.
    level : float
        Coverage of the intervals.

    Returns
    -------
    TableSkill
        Tasters in the order of their first mark.

    Raises
    ------
    InputError
        When lengths differ, a mark is missing, or nothing is given.

    Notes
    -----
    A taster's coffees are means with the rounds taken out by least squares. The others' mean
    leaves the taster out. Its own noise, known from how tasters differ, would draw the stretch
    towards 0, so the slope is divided by the mean's reliability; agreement is left as it is.
    Intervals: chi-squared (repeatability), F (signal), posterior
    (agreement), Student's t over coffees (stretch, offset).

    References
    ----------
    ISO 11132 (repeatability, discrimination, agreement, bias of assessors); from memory.

    Examples
    --------
    >>> who = ["Ada"] * 6 + ["Bo"] * 6 + ["Cy"] * 6
    >>> what = ["x", "x", "y", "y", "z", "z"] * 3
    >>> table = taster_skill(who, what, [20, 24, 50, 46, 70, 78, 30, 33, 45, 40, 60, 62, 25, 20,
    ...                                  55, 60, 80, 85])
    >>> ada = table.tasters[0]
    >>> round(ada.repeatability.estimate, 1), round(ada.stretch.estimate, 2), ada.agreement.pairs
    (4.0, 1.25, 3)
    """
    y = numbers("marks", marks, (None,))
    between("level", level, 0, 1)
    who, names = label_codes("tasters", tasters, y.size)
    what, _ = label_codes("coffees", coffees, y.size)
    when, _ = label_codes("rounds", ["one"] * y.size if rounds is None else rounds, y.size)
    rest = Rest(coffee_table(tasters, coffees, y, rounds=rounds).means)
    skills = tuple(
        _skill(name, y[own], what[own], when[own], rest, i, level)
        for i, (name, own) in enumerate(zip(names, rows_of(who, len(names)), strict=True))
    )
    cells = (who * (what.max() + 1) + what) * (when.max() + 1) + when
    pooled = repeatability(y, cells, level)
    return TableSkill(
        tasters=skills,
        repeatability=None if pooled is None else pooled[0],
        repeat_df=0 if pooled is None else pooled[1],
    )


def _skill(
    name: str,
    y: FloatArray,
    what: IntArray,
    when: IntArray,
    rest: Rest,
    taster: int,
    level: float,
) -> TasterSkill:
    repeats = repeatability(y, what * (when.max() + 1) + when, level)
    own, others = rest.without(taster)
    coffees = int(np.unique(what).size)
    told = discriminating(y, what, when, level)
    reliability = rest.reliability(taster)
    return TasterSkill(
        taster=name,
        marks=int(y.size),
        coffees=coffees,
        repeatability=None if repeats is None else repeats[0],
        repeat_df=0 if repeats is None else repeats[1],
        discrimination=told,
        agreement=_agreement(own, others, level),
        stretch=_stretch(own, others, reliability, level),
        offset=_offset(own, others, level),
        lowest=float(y.min()),
        highest=float(y.max()),
        spread=float(y.std(ddof=1)) if y.size > 1 else 0.0,
        cautions=_cautions(repeats, own.size, told, reliability),
    )


def _varied(values: FloatArray) -> bool:
    return values.size > 1 and bool(np.ptp(values) > 1e-9 * (1 + np.abs(values).max()))


def _agreement(own: FloatArray, others: FloatArray, level: float) -> Correlation | None:
    if not (_varied(own) and _varied(others)):
        return None
    return correlation(own, others, level=level)


def _stretch(
    own: FloatArray, others: FloatArray, reliability: float, level: float
) -> Interval | None:
    """Return the slope on the others' mean, freed of its noise; needs three coffees."""
    df = own.size - 2
    if df < 1 or reliability < _LEAST_RELIABILITY:
        return None
    x = others - others.mean()
    slope = float(x @ own / (x @ x))
    left = own - own.mean() - slope * x
    half = float(stdtrit(df, (1 + level) / 2) * np.sqrt(left @ left / df / (x @ x)))
    return Interval(
        slope / reliability, (slope - half) / reliability, (slope + half) / reliability, level
    )


def _offset(own: FloatArray, others: FloatArray, level: float) -> Interval | None:
    """Return the mean difference from the others' mean; needs two coffees for an interval."""
    if own.size < 2:
        return None
    gap = own - others
    half = float(stdtrit(gap.size - 1, (1 + level) / 2) * gap.std(ddof=1) / gap.size**0.5)
    return Interval(float(gap.mean()), float(gap.mean()) - half, float(gap.mean()) + half, level)


def _cautions(
    repeats: tuple[Interval, int] | None,
    shared: int,
    told: Discriminating | None,
    reliability: float,
) -> tuple[str, ...]:
    texts = []
    repeat_df = 0 if repeats is None else repeats[1]
    if repeats is not None and repeats[0].estimate == 0:
        texts.append("Every hidden repeat got the same mark: the spread is finer than the marks.")
    if repeat_df == 0:
        texts.append("No hidden repeats: nothing tells how well marks are repeated.")
    elif repeat_df < 4:
        bowls = "repeat" if repeat_df == 1 else "repeats"
        texts.append(f"Only {repeat_df} hidden {bowls}: the spread is a rough guess.")
    if shared < 2:
        texts.append("Fewer than two coffees in common with the others: no agreement to speak of.")
    elif shared < 5:
        common = count_of(shared, "coffee")
        texts.append(f"Only {common} in common with the others: agreement is a guess.")
    if shared > 2 and reliability < _LEAST_RELIABILITY:
        texts.append("The others hardly tell the coffees apart: no stretch to measure against.")
    if told is None:
        texts.append("Neither repeats nor rounds: nothing to measure discrimination by.")
    return tuple(texts)
