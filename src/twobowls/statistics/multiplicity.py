"""Many questions at once: adjusted p-values, and how many claims are likely to be false.

Knows nothing of where the p-values or probabilities come from.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from twobowls.errors import InputError
from twobowls.statistics.inputs import between, numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class FalseClaims:
    """How far to trust a list of claims.

    ``expected`` is the number of claims on the list expected to be wrong, ``share`` the same as
    a part of the list (0 for an empty list), ``chance_of_any`` an upper bound on the chance
    that at least one is wrong.
    """

    claims: int
    expected: float
    share: float
    chance_of_any: float


def holm(p_values: ArrayLike) -> NDArray[np.float64]:
    """Adjust p-values so that the chance of any false claim is held (Holm 1979).

    Parameters
    ----------
    p_values : array_like, shape (m,)
        Unadjusted p-values, 0 to 1.

    Returns
    -------
    ndarray, shape (m,)
        Adjusted p-values in the order given: claim those at most alpha.

    Raises
    ------
    InputError
        When a p-value is missing or outside 0 to 1.

    Notes
    -----
    Step-down: with the p-values sorted, the i-th (from 0) is multiplied by m - i, made
    monotone and cut at 1. Valid whatever the dependence between the questions.

    References
    ----------
    Holm 1979, Scandinavian Journal of Statistics 6:65-70.

    Examples
    --------
    >>> holm([0.01, 0.04, 0.03]).round(3).tolist()
    [0.03, 0.06, 0.06]
    """
    p = _checked("p_values", p_values)
    order = np.argsort(p, kind="stable")
    stepped = p[order] * np.arange(p.size, 0, -1)
    return _in_order(np.minimum(np.maximum.accumulate(stepped), 1.0), order)


def benjamini_hochberg(p_values: ArrayLike) -> NDArray[np.float64]:
    """Adjust p-values so that the expected share of false claims is held.

    Parameters
    ----------
    p_values : array_like, shape (m,)
        Unadjusted p-values, 0 to 1.

    Returns
    -------
    ndarray, shape (m,)
        Adjusted p-values in the order given: claim those at most the share one can live with.

    Raises
    ------
    InputError
        When a p-value is missing or outside 0 to 1.

    Notes
    -----
    Step-up: with the p-values sorted, the i-th (from 1) is multiplied by m / i, made monotone
    from the largest down. Holds for independent or positively dependent questions.

    References
    ----------
    Benjamini & Hochberg 1995, Journal of the Royal Statistical Society B 57:289-300.

    Examples
    --------
    >>> benjamini_hochberg([0.01, 0.04, 0.03]).round(3).tolist()
    [0.03, 0.04, 0.04]
    """
    p = _checked("p_values", p_values)
    order = np.argsort(p, kind="stable")
    stepped = p[order] * p.size / np.arange(1, p.size + 1)
    monotone = np.minimum.accumulate(stepped[::-1])[::-1]
    return _in_order(np.minimum(monotone, 1.0), order)


def expected_false_claims(probabilities: ArrayLike, threshold: float = 0.95) -> FalseClaims:
    """Count the claims at least as probable as the threshold, and expect how many are wrong.

    Parameters
    ----------
    probabilities : array_like, shape (m,)
        Posterior probability of the direction of each finding, 0.5 to 1 (0 to 1 is accepted:
        a probability under one half claims the other direction and is turned round).
    threshold : float
        Claims are the findings at or above it, 0.5 to 1.

    Returns
    -------
    FalseClaims

    Raises
    ------
    InputError
        When a probability is missing or out of range, or the threshold is.

    Notes
    -----
    With calibrated probabilities the expected number of wrong claims is the sum of 1 - p over
    the claims, whatever their dependence (linearity of expectation); the chance of any wrong
    claim is at most that sum (Boole). An empty list is fine: nothing is claimed.

    References
    ----------
    Newton, Noueiry, Sarkar & Ahlquist 2004, Biostatistics 5:155-176 (Bayesian false discovery
    rate); from memory.

    Examples
    --------
    >>> claims = expected_false_claims([0.99, 0.97, 0.6])
    >>> claims.claims, round(claims.expected, 2), round(claims.share, 2)
    (2, 0.04, 0.02)
    """
    cut = between("threshold", threshold, 0.5, 1, ends=True)
    p = np.asarray(probabilities, dtype=float)
    p = _checked("probabilities", p) if p.size else p
    turned = np.maximum(p, 1 - p)
    claimed = turned[turned >= cut]
    expected = float((1 - claimed).sum())
    share = expected / claimed.size if claimed.size else 0.0
    return FalseClaims(
        claims=int(claimed.size),
        expected=expected,
        share=share,
        chance_of_any=min(expected, 1.0),
    )


def _checked(field: str, values: ArrayLike) -> NDArray[np.float64]:
    p = numbers(field, values, (None,))
    if ((p < 0) | (p > 1)).any():
        worst = float(p[(p < 0) | (p > 1)][0])
        raise InputError(field, f"{worst:g} is not a probability", "Give numbers from 0 to 1")
    return p


def _in_order(adjusted: NDArray[np.float64], order: NDArray[np.intp]) -> NDArray[np.float64]:
    back = np.empty_like(adjusted)
    back[order] = adjusted
    return back
