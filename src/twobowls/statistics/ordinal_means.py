"""What a category fit says about the coffees: shares of each category, means, contrasts.

Everything is read off a finished fit; errors by the delta method.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, product
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import expit, logit

from twobowls.errors import InputError
from twobowls.statistics.inputs import between, numbers, one_of
from twobowls.statistics.mixtures import Mixture
from twobowls.statistics.ordinal_design import Design, effect_columns
from twobowls.statistics.ordinal_inputs import Array
from twobowls.statistics.ordinal_link import Link
from twobowls.statistics.ordinal_results import OrdinalFit
from twobowls.statistics.ratings_results import Contrast, Estimate

__all__ = ["LevelCategories", "category_contrasts", "category_means"]

Population = Literal["typical", "people"]
_MOST_CELLS = 5_000
_NODES = 31
_MOST_NUMBERS = 2_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelCategories:
    """One coffee (one level of a factor) as the fit sees it.

    ``latent`` is its place on the latent scale above the middle of all levels; ``shares``
    the probability of each category; ``score`` the mean category.
    """

    level: str
    latent: Estimate
    shares: dict[str, Estimate]
    score: Estimate


def category_means(
    fit: OrdinalFit,
    factor: str,
    *,
    at: Mapping[str, str | float] | None = None,
    population: Population = "people",
    scores: ArrayLike | None = None,
    level: float | None = None,
) -> tuple[LevelCategories, ...]:
    """Estimate category shares and mean category for every level of a fixed factor.

    Parameters
    ----------
    fit : OrdinalFit
        Any fit with that factor.
    factor : str
        Name of a fixed factor.
    at : mapping of name to level or number, optional
        Other fixed factors and numeric columns to hold at one value (a round, an age).
    population : {"people", "typical"}
        ``people`` averages over tasters (the random factors) as a sample of people;
        ``typical`` is for someone in the middle of them.
    scores : array (K,), optional
        What each category counts in the mean: its own number, or 1 to K for text.
    level : float, optional
        Of the intervals; the fit's when left out.

    Returns
    -------
    tuple of LevelCategories
        In the order of the factor's levels.

    Raises
    ------
    InputError
        For an unknown factor, level or population, or too many combinations to average over.

    Notes
    -----
    What is not held is averaged: other fixed factors over their levels with equal weight,
    numeric columns at their means. Errors by the delta method in all parameters; intervals of
    shares and scores are made on the logit scale, so that they stay on it.

    Examples
    --------
    >>> from twobowls.statistics.ordinal import fit_ordinal
    >>> fit = fit_ordinal([1, 2, 2, 1, 3, 2, 3, 4, 3, 2, 4, 4], {"coffee": ["A"] * 6 + ["B"] * 6})
    >>> a, b = category_means(fit, "coffee")
    >>> round(a.score.mean, 1), round(b.score.mean, 1)
    (2.0, 3.2)
    >>> round(sum(share.mean for share in b.shares.values()), 9)
    1.0
    """
    one_of("population", population, ("people", "typical"))
    wanted = fit.level if level is None else between("level", level, 0, 1)
    design = fit.target.problem.design
    worth = _scores(fit, scores)
    grid = _grid(design, factor, at or {})
    centre = np.mean([cells.mean(axis=0) for cells in grid], axis=0)
    names = next(each for each in design.fixed if each.name == factor).levels
    out = []
    for name, cells in zip(names, grid, strict=True):
        shares = _shares(fit, cells, population)
        out.append(
            LevelCategories(
                level=name,
                latent=fit.posterior.estimate(_direction(fit, cells.mean(axis=0) - centre), wanted),
                shares={
                    each: _bounded(shares.project(np.eye(worth.size)[[k]]), 0.0, 1.0, wanted)
                    for k, each in enumerate(fit.categories)
                },
                score=_bounded(
                    shares.project(worth[None]), float(worth.min()), float(worth.max()), wanted
                ),
            )
        )
    return tuple(out)


def category_contrasts(
    fit: OrdinalFit, factor: str, level: float | None = None
) -> tuple[Contrast, ...]:
    """Compare every two levels of a fixed factor on the latent scale.

    Parameters
    ----------
    fit : OrdinalFit
        Any fit with that factor.
    factor : str
        Name of a fixed factor.
    level : float, optional
        Of the intervals; the fit's when left out.

    Returns
    -------
    tuple of Contrast
        ``a`` minus ``b`` in units of the latent scale, and the probability that ``a`` lies
        above ``b`` (with a flat prior: that of the normal approximation).

    Raises
    ------
    InputError
        For an unknown factor.

    Examples
    --------
    >>> from twobowls.statistics.ordinal import fit_ordinal
    >>> fit = fit_ordinal([1, 2, 2, 1, 3, 2, 3, 4, 3, 2, 4, 4], {"coffee": ["A"] * 6 + ["B"] * 6})
    >>> contrast, = category_contrasts(fit, "coffee")
    >>> contrast.a, contrast.b, round(contrast.probability, 2)
    ('A', 'B', 0.02)
    """
    wanted = fit.level if level is None else between("level", level, 0, 1)
    design = fit.target.problem.design
    places = [cells.mean(axis=0) for cells in _grid(design, factor, {})]
    names = next(each for each in design.fixed if each.name == factor).levels
    out = []
    for (a, at_a), (b, at_b) in combinations(zip(names, places, strict=True), 2):
        direction = _direction(fit, at_a - at_b)
        out.append(
            Contrast(
                a=a,
                b=b,
                estimate=fit.posterior.estimate(direction, wanted),
                probability=fit.posterior.chance_above(direction),
            )
        )
    return tuple(out)


def _scores(fit: OrdinalFit, scores: ArrayLike | None) -> Array:
    if scores is not None:
        return numbers("scores", scores, (len(fit.categories),))
    try:
        return np.array([float(each) for each in fit.categories])
    except ValueError:
        return np.arange(1.0, len(fit.categories) + 1.0)


def _grid(design: Design, factor: str, at: Mapping[str, str | float]) -> list[Array]:
    """Return, for each level, the effects' rows of all cells to average over."""
    own = one_of("factor", factor, [each.name for each in design.fixed])
    _check_held(design, own, at)
    free = [each for each in design.fixed if each.name != own and each.name not in at]
    cells = int(np.prod([len(each.levels) for each in free], dtype=float))
    if cells > _MOST_CELLS:
        raise InputError(
            "factor",
            f"Averaging over {cells} combinations of the other factors is too many",
            "Hold some with at, or make the factor with most levels a random one",
        )
    first = len(design.centre) - len(design.numbers)
    middle = dict(zip(design.numbers, design.centre[first:].tolist(), strict=True))
    numeric = np.array([float(at.get(name, middle[name])) for name in design.numbers])
    own_levels = next(each for each in design.fixed if each.name == own).levels
    return [
        np.array([_cell(design, picked, numeric) for picked in _cells(design, own, level, at)])
        for level in range(len(own_levels))
    ]


def _cells(
    design: Design, own: str, level: int, at: Mapping[str, str | float]
) -> Iterator[tuple[int, ...]]:
    """Yield one level a fixed factor, for all combinations of those that are free."""
    choices: list[Sequence[int]] = []
    for each in design.fixed:
        if each.name == own:
            choices.append([level])
        elif each.name in at:
            choices.append([each.levels.index(str(at[each.name]))])
        else:
            choices.append(range(len(each.levels)))
    return product(*choices)


def _check_held(design: Design, own: str, at: Mapping[str, str | float]) -> None:
    levels = {each.name: each.levels for each in design.fixed if each.name != own}
    for name, value in at.items():
        if name in levels:
            one_of(f"at {name}", str(value), levels[name])
        elif one_of("at", name, [*levels, *design.numbers]):
            numbers(f"at {name}", [value], (1,))


def _cell(design: Design, picked: tuple[int, ...], numeric: Array) -> Array:
    coded = [effect_columns(each)[level] for each, level in zip(design.fixed, picked, strict=True)]
    return np.concatenate([*coded, numeric])


def _direction(fit: OrdinalFit, effects: Array) -> Array:
    """Return the direction among all parameters that a combination of effects is."""
    first = fit.target.problem.design.basis.shape[1]
    direction = np.zeros(len(fit.names))
    direction[first : first + effects.size] = effects
    return direction


def _shares(fit: OrdinalFit, cells: Array, population: Population) -> Mixture:
    """Return the joint distribution of the category shares, averaged over cells."""
    posterior, kinds = fit.posterior, len(fit.categories)
    each = max(1, _MOST_NUMBERS // (cells.shape[0] * kinds * _NODES))
    means, covariances = [], []
    for first in range(0, posterior.weights.size, each):
        some = slice(first, first + each)
        share, slope = _shares_at(fit, posterior.means[some], cells, population)
        means.append(share)
        covariances.append(slope @ posterior.covariances[some] @ slope.transpose(0, 2, 1))
    return Mixture(posterior.weights, np.concatenate(means), np.concatenate(covariances))


def _shares_at(
    fit: OrdinalFit, parameters: Array, cells: Array, population: Population
) -> tuple[Array, Array]:
    """Return the shares (N, K) and their derivatives (N, K, parameters) at N points."""
    problem = fit.target.problem
    basis, split = problem.design.basis, problem.effects
    first, count = basis.shape[1], parameters.shape[0]
    gamma, sd = parameters[:, :split], parameters[:, split:]
    sd = sd if population == "people" else np.zeros_like(sd)
    edges = (gamma[:, :first] @ basis.T)[:, :, None] - (gamma[:, first:] @ cells.T)[:, None]
    total = np.sqrt((sd**2).sum(axis=1))
    below, by_edge, by_total = _below(problem.link, edges, total[:, None, None])
    slope = np.zeros((count, basis.shape[0], parameters.shape[1]))
    slope[:, :, :first] = by_edge.mean(axis=2)[:, :, None] * basis
    slope[:, :, first:split] = -by_edge @ cells / cells.shape[0]
    share_of_total = sd / np.maximum(total, 1e-300)[:, None]
    slope[:, :, split:] = by_total.mean(axis=2)[:, :, None] * share_of_total[:, None]
    ends = np.zeros((count, 1))
    share = np.diff(np.concatenate([ends, below.mean(axis=2), ends + 1.0], axis=1), axis=1)
    flat = np.zeros((count, 1, parameters.shape[1]))
    return share, np.diff(np.concatenate([flat, slope, flat], axis=1), axis=1)


def _below(link: Link, edges: Array, total: Array) -> tuple[Array, Array, Array]:
    """Return the chance of falling below edges for people who differ by an sd ``total``.

    With its derivatives in the edges and in ``total``. For normal noise, what differs and the
    noise add up to one normal; else by Gauss-Hermite quadrature.
    """
    if link.name == "probit":
        whole = np.sqrt(1.0 + total**2)
        scaled = edges / whole
        by_edge = np.exp(link.log_density(scaled)) / whole
        return np.exp(link.log_cdf(scaled)), by_edge, -by_edge * scaled * total / whole
    nodes, weights = np.polynomial.hermite_e.hermegauss(_NODES if total.any() else 1)
    weights = weights / weights.sum()
    shifted = edges[..., None] + total[..., None] * nodes
    density = np.exp(link.log_density(shifted))
    below = np.exp(link.log_cdf(shifted)) @ weights
    return below, density @ weights, density @ (weights * nodes)


def _bounded(one: Mixture, low: float, high: float, level: float) -> Estimate:
    """Return the estimate of a bounded number, its interval made on the logit scale."""
    mean, se = one.mean_and_sd([1.0])
    span = high - low
    share = np.clip((one.means - low) / span, 1e-12, 1.0 - 1e-12)
    slope = 1.0 / (share * (1.0 - share) * span)
    stretched = Mixture(one.weights, logit(share), one.covariances * (slope**2)[:, :, None])
    bottom, top = expit(np.array(stretched.interval([1.0], level)))
    return Estimate(
        mean=mean,
        se=se,
        interval=(low + span * float(bottom), low + span * float(top)),
    )
