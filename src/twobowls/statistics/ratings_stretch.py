"""How far each taster stretches the scale: a mixed assessor model.

The mean mark of taster i for coffee j is m + a_i + s_i c_j + error: one taster spreads the same
coffees over half the line, another over a few points. The stretch s_i is 1 + b_i with
b_i normal about zero; its deviation and the size of the error are unknown too. Levels a are
integrated out, all else is drawn from its posterior (`stretch_posterior`). Stretches are told
relative to the table's mean, because only their ratios mean anything.

Intervals hold the share of cases that they promise when stretches differ as the prior has it: a
half-normal deviation, 0.40 in the mean. Few marks say little of how much they differ, and the
prior then draws tasters together: where they differ more than the mean, intervals hold less than
they promise, and more where all are alike. Ends of the scale are no part of the model: marks cut
there let whoever stretches most look narrower. Figures are in `benchmarks/calibration`.

References
----------
Brockhoff, Schlich and Skovgaard (2015), Food Quality and Preference 39, 156-166 (the mixed
assessor model; from memory).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from twobowls.counting import count_of
from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.mixed_model_levels import encode
from twobowls.statistics.ratings_columns import RatingColumns, checked_values
from twobowls.statistics.ratings_results import Estimate, RatingFit
from twobowls.statistics.stretch_posterior import (
    StretchDraws,
    StretchParts,
    across,
    draw_stretches,
)

# Mean stretch below which ratios to it mean nothing, because half of the table turns the order of
# the other half round: a rule of thumb. Draws there are left out; hardly any are.
LEAST_MEAN = 1.0 / 3.0
SEED = 1  # the same marks give the same figures


@dataclass(frozen=True, slots=True, kw_only=True)
class TasterStretch:
    """One taster's stretch relative to the table's mean (1 is as wide as the table).

    ``probability`` is that of a stretch above the table's mean.
    """

    taster: str
    stretch: Estimate
    probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StretchFit:
    """How tasters use the scale. ``deviation`` is the standard deviation of stretches."""

    deviation: Estimate
    tasters: tuple[TasterStretch, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Table:
    """Taster-by-coffee means (T, C), their error variances (inf where missing).

    ``variance`` is that of the coffees.
    """

    means: FloatArray
    errors: FloatArray
    variance: float


def taster_stretch(
    columns: RatingColumns,
    fit: RatingFit,
    scale: tuple[float, float] = (0.0, 100.0),
    level: float = 0.90,
) -> StretchFit:
    """Estimate how far each taster stretches the scale.

    Parameters
    ----------
    columns : RatingColumns
        The marks; two coffees and two tasters at least.
    fit : RatingFit
        Their fit with the weak prior: its variances and weights tell how large errors are.
    scale : tuple of float
        Both ends of the scale.
    level : float
        Probability of the intervals.

    Returns
    -------
    StretchFit

    Raises
    ------
    InputError
        One coffee or one taster only, or a fit without the needed terms.

    Examples
    --------
    >>> from twobowls.statistics.ratings import fit_ratings
    >>> wide, narrow, middling = [20, 40, 60, 80], [43, 48, 52, 57], [35, 45, 55, 65]
    >>> columns = RatingColumns(
    ...     y=wide + narrow + middling, taster=list("aaaabbbbcccc"), coffee=list("ABCD") * 3
    ... )
    >>> found = taster_stretch(columns, fit_ratings(columns))
    >>> max(found.tasters, key=lambda each: each.stretch.mean).taster
    'a'
    """
    return pooled_stretch([(columns, fit)], scale, level)


def pooled_stretch(
    parts: Sequence[tuple[RatingColumns, RatingFit]],
    scale: tuple[float, float] = (0.0, 100.0),
    level: float = 0.90,
) -> StretchFit:
    """Estimate how far each taster stretches the scale, from several sensations together.

    Parameters
    ----------
    parts : sequence of (RatingColumns, RatingFit)
        The marks of each sensation and their fit with the weak prior. A taster is taken to
        stretch all of them alike; levels may differ.
    scale : tuple of float
        Both ends of the scale.
    level : float
        Probability of the intervals.

    Returns
    -------
    StretchFit
        Tasters in the order in which they first appear among the parts' levels.

    Raises
    ------
    InputError
        No part, or one that `taster_stretch` refuses.

    Examples
    --------
    >>> from twobowls.statistics.ratings import fit_ratings
    >>> def part(wide, narrow):
    ...     columns = RatingColumns(
    ...         y=wide + narrow + [40, 47, 53, 60],
    ...         taster=list("aaaabbbbcccc"),
    ...         coffee=list("ABCD") * 3,
    ...     )
    ...     return columns, fit_ratings(columns)
    >>> both = [part([20, 40, 60, 80], [44, 48, 52, 56]), part([82, 58, 41, 22], [57, 53, 47, 44])]
    >>> wide, narrow, _ = pooled_stretch(both).tasters
    >>> wide.stretch.mean > 1.2, narrow.stretch.mean < 0.8
    (True, True)
    """
    tasters, draws, cautions = stretch_draws(parts, scale, np.random.default_rng(SEED))
    relative = relative_stretch(draws)
    summaries = zip(tasters, _estimates(relative, level), _chances(relative > 1.0), strict=True)
    return StretchFit(
        deviation=_estimates(draws.deviation[:, None], level)[0],
        tasters=tuple(
            TasterStretch(taster=name, stretch=estimate, probability=chance)
            for name, estimate, chance in summaries
        ),
        cautions=cautions,
    )


def stretch_draws(
    parts: Sequence[tuple[RatingColumns, RatingFit]],
    scale: tuple[float, float],
    rng: np.random.Generator,
) -> tuple[tuple[str, ...], StretchDraws, tuple[str, ...]]:
    """Return the tasters, draws from the posterior, and cautions; see `pooled_stretch`."""
    sizes = _sizes([fit for _, fit in parts])
    tables = [_table(columns, sizes, fit.weights, scale) for columns, fit in parts]
    tasters, whole = _side_by_side(tables)
    cautions = _cautions(max(table.means.shape[1] for _, table in tables))
    return tasters, draw_stretches(whole, rng), cautions


def relative_stretch(draws: StretchDraws) -> FloatArray:
    """Return stretches over the table's mean (N, T), where that is not near zero.

    Examples
    --------
    >>> one = np.array([[0.5, 1.5], [1.0, 3.0]])
    >>> relative_stretch(StretchDraws(one, np.ones(2), np.ones(2))).tolist()
    [[0.5, 1.5], [0.5, 1.5]]
    """
    average = draws.stretch.mean(axis=1)
    kept = np.abs(average) >= min(LEAST_MEAN, float(np.median(np.abs(average))))
    return np.asarray(draws.stretch[kept] / average[kept, None])


def _estimates(draws: FloatArray, level: float) -> list[Estimate]:
    low, high = np.quantile(draws, [0.5 - level / 2, 0.5 + level / 2], axis=0).tolist()
    rows = zip(draws.mean(axis=0).tolist(), draws.std(axis=0).tolist(), low, high, strict=True)
    return [Estimate(mean=m, se=sd, interval=(a, b)) for m, sd, a, b in rows]


def _chances(so: NDArray[np.bool_]) -> list[float]:
    """Shares of draws (N, T), never quite 0 or 1: that many draws cannot say."""
    return [float(each) for each in (so.sum(axis=0) + 0.5) / (len(so) + 1.0)]


@dataclass(frozen=True, slots=True)
class _Sizes:
    """How much coffees vary, tasters disagree about a coffee, and marks slip: variances."""

    coffee: float
    own: float
    slip: float


def _sizes(fits: Sequence[RatingFit]) -> _Sizes:
    """Average the fits' variances: one fit alone knows them too roughly to weigh parts by."""
    if not fits:
        raise InputError("parts", "there is none", "Give the marks of one sensation at least")
    found = []
    for fit in fits:
        named = {frozenset(name.split(":")): size for name, size in fit.variance.items()}
        coffee = named.get(frozenset({"coffee"}))
        if fit.prior != "weak" or coffee is None:
            raise InputError(
                "fit", "it does not tell how much coffees vary", "Fit the marks with the weak prior"
            )
        own = named.get(frozenset({"taster", "coffee"}), 0.0)
        found.append((coffee, own, fit.variance["residual"]))
    coffee, own, slip = np.mean(found, axis=0).tolist()
    return _Sizes(coffee, own, slip)


def _table(
    columns: RatingColumns,
    sizes: _Sizes,
    weights: Mapping[str, float],
    scale: tuple[float, float],
) -> tuple[tuple[str, ...], _Table]:
    values = checked_values(columns, scale)
    taster, coffee = encode("taster", columns.taster), encode("coffee", columns.coffee)
    if len(taster.levels) < 2 or len(coffee.levels) < 2:
        raise InputError(
            "marks",
            f"{count_of(len(taster.levels), 'taster')} and "
            f"{count_of(len(coffee.levels), 'coffee')} show no stretch",
            "Give two tasters and two coffees at least",
        )
    adjusted = values - _round_part(columns, values)
    shape = (len(taster.levels), len(coffee.levels))
    codes = taster.codes * shape[1] + coffee.codes
    size = shape[0] * shape[1]
    counts = np.bincount(codes, minlength=size).reshape(shape)
    sums = np.bincount(codes, adjusted, size).reshape(shape)
    shared = np.maximum(counts, 1)
    care = np.array([weights.get(name, 1.0) for name in taster.levels])
    errors = np.where(counts > 0, sizes.own + sizes.slip / (shared * care[:, None]), np.inf)
    return taster.levels, _Table(sums / shared, errors, sizes.coffee)


def _side_by_side(
    tables: Sequence[tuple[tuple[str, ...], _Table]],
) -> tuple[tuple[str, ...], StretchParts]:
    """Put tables beside each other, taster by taster; who is not in one has no marks there."""
    tasters = tuple(dict.fromkeys(name for names, _ in tables for name in names))
    coffees = max(table.means.shape[1] for _, table in tables)
    weight = np.zeros((len(tables), len(tasters), coffees, coffees))
    pull = np.zeros((len(tables), len(tasters), coffees))
    precision = np.ones((len(tables), coffees))
    quadratic, rank = 0.0, 0
    for number, (names, table) in enumerate(tables):
        rows, size = [tasters.index(name) for name in names], table.means.shape[1]
        own = across(1.0 / table.errors)
        drawn = np.einsum("icd,id->ic", own, table.means)
        weight[number, rows, :size, :size] = own
        pull[number, rows, :size] = drawn
        precision[number, :size] = 1.0 / table.variance
        quadratic += float((drawn * table.means).sum())
        rank += int(np.isfinite(table.errors).sum()) - len(names)
    return tasters, StretchParts(weight, pull, precision, quadratic, rank)


def _round_part(columns: RatingColumns, values: FloatArray) -> FloatArray:
    """Mean of each round, less the mean of all marks."""
    if columns.round is None:
        return np.zeros_like(values)
    rounds = encode("round", columns.round).codes
    means = np.bincount(rounds, values) / np.bincount(rounds)
    return np.asarray((means - values.mean())[rounds])


def _cautions(coffees: int) -> tuple[str, ...]:
    if coffees < 4:
        return (f"With {coffees} coffees, stretch and a taste of one's own look much alike.",)
    return ()
