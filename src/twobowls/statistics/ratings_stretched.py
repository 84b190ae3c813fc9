"""The rating model with stretch of the scale taken out of the tasters' disagreement.

The mean mark of taster i for coffee j is m + a_i + (1 + b_i) c_j + d_ij: a stretch of one's own
and an opinion of one's own. Where stretch differs, the plain model takes it for disagreement, the
same for all coffees; but a stretch parts tasters about coffees far from the middle, and hardly
about those near it. Here b_i c_j is a random slope of each taster over the coffees' means,
its deviation integrated out with all others.

What is approximate: the slopes are over the posterior means of the c_j (from the middle of the
table), which are found in turn with the fit; that they are known only so well goes into the
disagreement d_ij. Only ratios of stretches mean anything: coffees are told, for people too, on the
scale that these tasters have in the mean. Stretch of a coffee's change from round to round, and of
slips, is left out.

References
----------
Brockhoff, Schlich and Skovgaard (2015), Food Quality and Preference 39, 156-166 (the mixed
assessor model; from memory).
"""

from dataclasses import dataclass

import numpy as np

from twobowls.counting import count_of
from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.mixed_model_levels import Cells
from twobowls.statistics.ratings_columns import RatingColumns, checked_values, gather_columns
from twobowls.statistics.ratings_mixtures import node_quantiles
from twobowls.statistics.ratings_results import Estimate, RatingFit
from twobowls.statistics.ratings_terms import STRETCH, check_terms
from twobowls.statistics.ratings_weak import Nodes, chosen_terms, report_nodes, weak_nodes

ROUNDS = 6
SETTLED = 0.02  # of the coffees' standard deviation


@dataclass(frozen=True, slots=True, kw_only=True)
class StretchedFit:
    """A fit with stretch.

    ``fit`` is as `fit_ratings` returns it; its ``taster:coffee`` is disagreement beyond stretch.
    People are people like these who stretch the scale as much as this table does in the mean.
    ``deviation`` is the standard deviation of stretches among people, whose mean is 1;
    ``levels`` are the coffees' means, from their middle, over which tasters stretch.
    """

    fit: RatingFit
    deviation: Estimate
    levels: dict[str, float]


def fit_ratings_stretched(
    columns: RatingColumns,
    *,
    random: tuple[str, ...] | None = None,
    fixed: tuple[str, ...] | None = None,
    scale: tuple[float, float] = (0.0, 100.0),
    level: float = 0.90,
) -> StretchedFit:
    """Fit the weak model of `fit_ratings` with a stretch of the scale for each taster.

    Parameters
    ----------
    columns : RatingColumns
        The marks, of two tasters and two coffees at least.
    random, fixed : tuple of str, or None
        As in `fit_ratings`.
    scale : tuple of float
        Both ends of the scale.
    level : float
        Probability of the intervals.

    Returns
    -------
    StretchedFit

    Raises
    ------
    InputError
        What `fit_ratings` refuses; one taster or one coffee only.

    Examples
    --------
    >>> wide, narrow, middling = [20, 40, 60, 80], [43, 48, 52, 57], [35, 45, 55, 65]
    >>> columns = RatingColumns(
    ...     y=wide + narrow + middling, taster=list("aaaabbbbcccc"), coffee=list("ABCD") * 3
    ... )
    >>> found = fit_ratings_stretched(columns)
    >>> found.deviation.mean > 0.25, found.fit.people.contrasts[0].b
    (True, 'B')
    """
    values = checked_values(columns, scale)
    if not 0.0 < level < 1.0:
        raise InputError("level", f"{level:g} is not between 0 and 1", "Give a share such as 0.9")
    given = tuple(columns.factors())
    check_terms(random or (), "random", given)
    check_terms(fixed or (), "fixed", given)
    cells = gather_columns(columns, values, set(given))
    width = scale[1] - scale[0]
    terms = chosen_terms(cells, random, fixed)
    _check(cells, terms)
    slope, nodes, names = stretched_nodes(cells, terms, width)
    fit = report_nodes(cells, terms, nodes, names, width, level, slope)
    coffees = cells.factors["coffee"].levels
    return StretchedFit(
        fit=fit,
        deviation=_deviation(nodes, names, width, level),
        levels=dict(zip(coffees, (width * slope).tolist(), strict=True)),
    )


def _check(cells: Cells, terms: tuple[str, ...]) -> None:
    tasters, coffees = (len(cells.factors[name].levels) for name in ("taster", "coffee"))
    if tasters < 2 or coffees < 2:
        raise InputError(
            "marks",
            f"{count_of(tasters, 'taster')} and {count_of(coffees, 'coffee')} show no stretch",
            "Give two tasters and two coffees at least, or leave stretch out",
        )
    if "taster" not in terms or "coffee" not in terms:
        raise InputError(
            "random",
            "stretch needs the terms “taster” and “coffee”",
            "Name both, or use the terms by default",
        )


def stretched_nodes(
    cells: Cells, terms: tuple[str, ...], width: float
) -> tuple[FloatArray, Nodes, tuple[str, ...]]:
    """Find the coffees' means (as shares of the width) and the posterior over them in turn."""
    nodes, names = weak_nodes(cells, terms, width)
    slope = _middled(nodes, width)
    for _ in range(ROUNDS):
        nodes, names = weak_nodes(cells, terms, width, slope)
        new = _middled(nodes, width)
        moved = float(np.abs(new - slope).max())
        if moved <= SETTLED * float(np.std(new)):
            break
        slope = new
    return slope, nodes, names


def _middled(nodes: Nodes, width: float) -> FloatArray:
    means = nodes.weights @ nodes.moments.people.mean / width
    return np.asarray(means - means.mean())


def _deviation(nodes: Nodes, names: tuple[str, ...], width: float, level: float) -> Estimate:
    """Return the posterior of the deviation of stretches, which are slopes over shares of width."""
    values = nodes.deviations[:, [names.index(STRETCH)]] / width
    mean = float(nodes.weights @ values[:, 0])
    spread = float(nodes.weights @ (values[:, 0] - mean) ** 2) ** 0.5
    low, high = (
        float(node_quantiles(nodes.weights, values, 0.5 + side * level / 2)[0]) for side in (-1, 1)
    )
    return Estimate(mean=mean, se=spread, interval=(low, high))
