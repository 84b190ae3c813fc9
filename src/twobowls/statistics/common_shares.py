"""What coffees have in common: shares around which those of every coffee lie.

The hierarchical half of ``word_shares``: counts in, a posterior of the common shares and of the
concentration around them out. Knows no lexicon.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import digamma, gammaln, polygamma

from twobowls.statistics.arrays import FloatArray

_POINTS = 17  # concentrations
_LEAST_WEIGHT = 1e-4  # of the heaviest; what is left out moves no limit by a thousandth
_EVENNESS = (0.25, 0.7, 2.0, 6.0)  # words given to every family: uneven to even common shares


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CommonShares:
    """Common shares at every concentration of a grid, for tables with one concentration.

    ``grid``, shape (points,), are concentrations, each occurring once for every evenness of the
    prior; ``weights``, shape (points,), their posterior weights; ``mean`` and ``variance``, shape
    (tables, families, points), those of each table's common shares at the point.
    """

    grid: FloatArray
    weights: FloatArray
    mean: FloatArray
    variance: FloatArray


def common_shares(tables: FloatArray) -> CommonShares:
    """Return what is known of the shares common to all coffees of a table.

    Parameters
    ----------
    tables : ndarray, shape (tables, coffees, families)
        Counts of words. Each table has common shares of its own; how far coffees lie around them
        is the same for all tables.

    Returns
    -------
    CommonShares

    Notes
    -----
    A coffee's shares are Dirichlet with parameters k m: m the common shares, with prior
    Dirichlet(e), k the concentration, with density proportional to ``F / (F + k)^2`` for F
    families, e the evenness, one of four values equally likely beforehand. In the scale of log m
    the posterior of m at each k and e has its mode where ``m = (e + T) / (F e + sum T)``, T being
    the expected numbers of words that come straight from the common shares (Antoniak's tables).
    It is taken as Dirichlet-like around that mode, each m with the variance that the curvature
    there gives; k and e are weighed by Laplace's integral, corrected by what that integral misses
    in a plain Dirichlet distribution.

    References
    ----------
    Mosimann 1962, Biometrika 49:65-82; Antoniak 1974, Annals of Statistics 2:1152-1174.

    Examples
    --------
    >>> alike, differ = (common_shares(np.array([t])) for t in ([[5, 5], [6, 4]], [[9, 1], [1, 9]]))
    >>> bool(alike.weights @ np.log(alike.grid) > differ.weights @ np.log(differ.grid))
    True
    """
    families = tables.shape[2]
    k = np.exp(np.linspace(np.log(0.02 * families), np.log(500.0 * families), _POINTS))
    grid, even = (each.ravel() for each in np.meshgrid(k, _EVENNESS))
    mean, straight, spread = _mode(tables[..., None], grid, even)
    known = even + straight  # like words seen of the common shares
    size = known.sum(axis=1, keepdims=True)
    rest = spread.sum(axis=1, keepdims=True) - spread
    size = size - (1 - mean) / mean * spread - mean / (1 - mean) * rest
    variance = mean * (1 - mean) / (np.maximum(size, families * even) + 1)
    weights = _weights(tables, grid, even, mean, known, spread)
    kept = weights > _LEAST_WEIGHT * weights.max()
    return CommonShares(
        grid=grid[kept],
        weights=weights[kept] / weights[kept].sum(),
        mean=mean[..., kept],
        variance=variance[..., kept],
    )


def _mode(
    n: FloatArray, grid: FloatArray, even: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the common shares at the mode, and mean and variance of the words straight from them.

    Each is of shape (tables, families, points). Steps of the EM kind, which only climb.
    """
    tables, _, families, _ = n.shape
    mean = np.full((tables, families, grid.size), 1 / families)
    for _ in range(400):
        lent = (grid * mean)[:, None]
        straight = (lent * (digamma(lent + n) - digamma(lent))).sum(axis=1)
        new = (even + straight) / (families * even + straight.sum(axis=1, keepdims=True))
        settled = np.abs(new - mean).max() < 1e-9
        mean = new
        if settled:
            break
    lent = (grid * mean)[:, None]
    bend = polygamma(1, lent + n) - polygamma(1, lent)
    spread = straight + (lent**2 * bend).sum(axis=1)
    return mean, straight, np.maximum(spread, 0.0)


def _weights(
    tables: FloatArray,
    grid: FloatArray,
    even: FloatArray,
    mean: FloatArray,
    known: FloatArray,
    spread: FloatArray,
) -> FloatArray:
    """Return the posterior weights of the concentrations, shape (points,)."""
    families, totals = tables.shape[2], tables.sum(axis=2)[..., None]
    lent = (grid * mean)[:, None]
    own = (gammaln(lent + tables[..., None]) - gammaln(lent)).sum(axis=(1, 2))
    own = own + (gammaln(grid) - gammaln(grid + totals)).sum(axis=1)
    logs = own + even * np.log(mean).sum(axis=1)
    logs = logs + gammaln(families * even) - families * gammaln(even)
    size = known.sum(axis=1)
    plain = _curvature(mean, known, np.zeros_like(spread))
    logs = logs - 0.5 * _log_determinant(_curvature(mean, known, spread))
    missed = gammaln(known).sum(axis=1) - gammaln(size)
    missed = missed - (known * np.log(mean)).sum(axis=1) + 0.5 * _log_determinant(plain)
    prior = np.log(grid) - 2 * np.log(families + grid)  # even steps in log k carry the factor k
    posterior = (logs + missed).sum(axis=0) + prior
    return np.asarray(np.exp(posterior - posterior.max()))


def _curvature(mean: FloatArray, known: FloatArray, spread: FloatArray) -> FloatArray:
    """Return minus the second derivatives in log m, shape (tables, points, families, families)."""
    m, d = np.moveaxis(mean, 1, -1), np.moveaxis(spread, 1, -1)
    size = known.sum(axis=1)[..., None, None]
    eye = np.eye(m.shape[-1])
    plain = size * (m[..., None] * eye - m[..., :, None] * m[..., None, :])
    off = eye - m[..., None, :]  # how log m_f moves with each coordinate
    return np.asarray(plain - np.einsum("...fi,...f,...fj->...ij", off, d, off))


def _log_determinant(curvature: FloatArray) -> FloatArray:
    """Return the log-determinant with the last coordinate fixed: only ratios of m count."""
    return np.asarray(np.linalg.slogdet(curvature[..., :-1, :-1])[1])
