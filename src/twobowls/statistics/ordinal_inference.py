"""Likelihood-ratio statements about flat-prior category fits: intervals and comparisons."""

from dataclasses import dataclass
from math import inf, sqrt

import numpy as np
from scipy.special import gammaincc

from twobowls.errors import InputError
from twobowls.statistics.inputs import between, one_of
from twobowls.statistics.intervals import chi_square_quantile
from twobowls.statistics.ordinal_inputs import Array
from twobowls.statistics.ordinal_optimise import Target, climb
from twobowls.statistics.ordinal_results import OrdinalFit
from twobowls.statistics.ratings_results import Estimate

__all__ = ["LikelihoodRatio", "compare_fits", "likelihood_interval"]

_FARTHEST = 40.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LikelihoodRatio:
    """Twice the difference in log-likelihood of two nested fits, and its p-value.

    ``boundary_p`` is for exactly one more random factor, whose sd of zero lies on the edge
    of what is possible: half of ``p``. It is None otherwise.
    """

    statistic: float
    df: int
    p: float
    boundary_p: float | None = None


def compare_fits(smaller: OrdinalFit, larger: OrdinalFit) -> LikelihoodRatio:
    """Test a fit against a larger one by the likelihood ratio.

    Parameters
    ----------
    smaller, larger : OrdinalFit
        Flat-prior fits to the same ratings with the same link and quadrature; all terms of
        the smaller are in the larger.

    Returns
    -------
    LikelihoodRatio

    Raises
    ------
    InputError
        When the two cannot be compared.

    Notes
    -----
    Chi-squared with as many degrees of freedom as there are more parameters; for one
    variance on the boundary, Self and Liang (1987), J. Am. Stat. Assoc. 82, 605-610 (from
    memory).

    Examples
    --------
    >>> from twobowls.statistics.ordinal import fit_ordinal
    >>> ratings = [1, 2, 2, 1, 3, 2, 3, 4, 3, 2, 4, 4]
    >>> without = fit_ordinal(ratings, prior="flat")
    >>> by_coffee = fit_ordinal(ratings, {"coffee": ["A"] * 6 + ["B"] * 6}, prior="flat")
    >>> test = compare_fits(without, by_coffee)
    >>> round(test.statistic, 2), test.df, round(test.p, 3)
    (7.95, 1, 0.005)
    """
    _check_flat(smaller)
    _check_flat(larger)
    _check_nested(smaller, larger)
    df = larger.parameters - smaller.parameters
    statistic = max(0.0, 2.0 * (larger.log_likelihood - smaller.log_likelihood))
    p = float(gammaincc(0.5 * df, 0.5 * statistic))
    alone = df == 1 and len(larger.random_sd) == len(smaller.random_sd) + 1
    return LikelihoodRatio(statistic=statistic, df=df, p=p, boundary_p=0.5 * p if alone else None)


def likelihood_interval(fit: OrdinalFit, name: str, level: float | None = None) -> Estimate:
    """Return a parameter with the interval of values that the likelihood does not reject.

    Parameters
    ----------
    fit : OrdinalFit
        A flat-prior fit.
    name : str
        One of ``fit.names``.
    level : float, optional
        The fit's when left out.

    Returns
    -------
    Estimate
        ``se`` is the Wald error; an end is infinite where the likelihood never falls off
        enough, and 0 for a standard deviation that may be nothing.

    Raises
    ------
    InputError
        For a weak-prior fit or an unknown name.

    Notes
    -----
    All other parameters are maximised anew at each trial value; the signed root of twice the
    drop is near a straight line, so that few trials are needed.

    Examples
    --------
    >>> from twobowls.statistics.ordinal import fit_ordinal
    >>> ratings = [1, 2, 2, 1, 3, 2, 3, 4, 3, 2, 4, 4]
    >>> fit = fit_ordinal(ratings, {"coffee": ["A"] * 6 + ["B"] * 6}, prior="flat")
    >>> [round(end, 2) for end in likelihood_interval(fit, "coffee=B").interval]
    [0.84, 3.55]
    """
    _check_flat(fit)
    one_of("name", name, fit.names)
    wanted = fit.level if level is None else between("level", level, 0, 1)
    index = fit.names.index(name)
    wald = fit.interval(name, wanted)
    height = sqrt(chi_square_quantile(wanted, 1))
    is_sd = index >= len(fit.coefficients)
    ends = [
        _end(fit, index, wald.se * side, height, 0.0 if is_sd and side < 0 else -inf)
        for side in (-1.0, 1.0)
    ]
    return Estimate(mean=wald.mean, se=wald.se, interval=(ends[0], ends[1]))


def _end(fit: OrdinalFit, index: int, unit: float, height: float, least: float) -> float:
    """Find where the signed root of the drop reaches ``height``, by safeguarded secants."""
    best = float(fit.top.parameters[index])
    farthest = _FARTHEST if least == -inf else (best - least) / abs(unit)
    low, low_root, start = 0.0, 0.0, fit.top.parameters
    high = min(height, farthest)
    high_root, start = _root(fit, index, best + unit * high, start)
    while high_root < height:
        if high >= farthest:
            return least if least == 0.0 else float(np.sign(unit)) * inf
        low, low_root = high, high_root
        high = min(farthest, 1.5 * high)
        high_root, start = _root(fit, index, best + unit * high, start)
    for _ in range(40):
        share = (height - low_root) / (high_root - low_root)
        middle = low + (high - low) * min(max(share, 0.02), 0.98)
        root, start = _root(fit, index, best + unit * middle, start)
        if abs(root - height) < 1e-8 * height or high - low < 1e-10:
            return best + unit * middle
        if root < height:
            low, low_root = middle, root
        else:
            high, high_root = middle, root
    return best + unit * 0.5 * (low + high)


def _root(fit: OrdinalFit, index: int, value: float, start: Array) -> tuple[float, Array]:
    """Return the root of twice the drop with one parameter held, and where the others went."""
    problem = fit.target.problem
    free = np.ones(problem.parameters, dtype=bool)
    free[index] = False
    held = Target(problem, fit.target.penalty, free)
    effects = fit.top.place.plain.modes.effects
    for origin in (start, fit.top.parameters):
        trial = origin.copy()
        trial[index] = value
        if trial[index] < 0.0 and index >= problem.effects:
            trial[index] = 0.0
        there = climb(held, _in_order(fit, trial, index), effects, sharpen=False)
        if there is not None:
            drop = there.place.value - fit.top.place.value
            return sqrt(max(0.0, 2.0 * drop)), there.parameters
    return inf, start


def _in_order(fit: OrdinalFit, trial: Array, index: int) -> Array:
    """Push the other thresholds along when the held one would overtake them."""
    basis = fit.target.problem.design.basis
    first = basis.shape[1]
    if fit.thresholds != "flexible" or index >= first:
        return trial
    trial = trial.copy()
    gaps = np.diff(fit.top.parameters[:first]) * 0.25
    for place in range(index + 1, first):
        trial[place] = max(trial[place], trial[place - 1] + gaps[place - 1])
    for place in range(index - 1, -1, -1):
        trial[place] = min(trial[place], trial[place + 1] - gaps[place])
    return trial


def _check_flat(fit: OrdinalFit) -> None:
    if fit.prior != "flat":
        raise InputError(
            "fit",
            "A likelihood-ratio statement needs a flat-prior fit, and this one has a weak prior",
            'Fit with prior="flat", or use the posterior intervals',
        )


def _check_nested(smaller: OrdinalFit, larger: OrdinalFit) -> None:
    same = (
        smaller.link == larger.link
        and smaller.quadrature == larger.quadrature
        and smaller.categories == larger.categories
        and np.array_equal(_counts(smaller), _counts(larger))
    )
    if not same:
        raise InputError(
            "larger",
            "The two fits are not to the same ratings in the same way",
            "Fit both to the same ratings, with the same link and quadrature",
        )
    small, large = smaller.target.problem.design, larger.target.problem.design
    within = {*small.names[small.basis.shape[1] :]} <= {*large.names} and {*smaller.random_sd} <= {
        *larger.random_sd
    }
    coarser = smaller.thresholds == larger.thresholds or larger.thresholds == "flexible"
    if not (within and coarser and larger.parameters > smaller.parameters):
        raise InputError(
            "larger",
            "It does not have all terms of the smaller fit and at least one more",
            "Give the smaller fit first, and keep its terms in the larger",
        )


def _counts(fit: OrdinalFit) -> Array:
    design = fit.target.problem.design
    given = design.category[design.kind]
    counts = np.bincount(given, design.weights, minlength=len(design.categories))
    return np.asarray(counts, dtype=np.float64)
