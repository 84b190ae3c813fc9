"""The posterior of tasters' stretches at fixed variances: its top, and the curvature there.

Levels and coffees are integrated out in closed form; what is left are T stretches. Knows
precisions and sums, no marks.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from twobowls.statistics.arrays import FloatArray

ROUNDS = 40
HALVINGS = 8
_MOST_NUMBERS = 4_000_000  # in one array


@dataclass(frozen=True, slots=True)
class StretchParts:
    """P sensations of T tasters, levels integrated out.

    ``weight`` (P, T, C, C) is each taster's precision across coffees, ``pull`` (P, T, C) that
    times the means, ``precision`` (P, C) the coffees' prior one (coffees that a part lacks have
    1 and no marks), ``quadratic`` the marks' own sum of squares in the same precisions,
    ``rank`` how many differences there are.
    """

    weight: FloatArray
    pull: FloatArray
    precision: FloatArray
    quadratic: float
    rank: int


@dataclass(frozen=True, slots=True)
class StretchModes:
    """Joint modes at K grid points: log evidence, stretches (K, T) and covariances (K, T, T)."""

    evidence: FloatArray
    stretch: FloatArray
    covariance: FloatArray


def stretch_modes(parts: StretchParts, deviation: FloatArray, noise: FloatArray) -> StretchModes:
    """Find the tops at K pairs of a deviation (K,) of stretches and a factor (K,) of the noise.

    Examples
    --------
    >>> own = across(np.full((2, 3), 0.5))
    >>> means = np.array([[30.0, 50, 70], [40, 50, 60]])
    >>> parts = StretchParts(
    ...     weight=own[None],
    ...     pull=np.einsum("icd,id->ic", own, means)[None],
    ...     precision=np.full((1, 3), 0.01),
    ...     quadratic=500.0,
    ...     rank=4,
    ... )
    >>> found = stretch_modes(parts, np.array([0.5]), np.array([1.0]))
    >>> one, two = found.stretch[0]
    >>> round(float(one / two), 1)
    2.0
    """
    size = max(1, _MOST_NUMBERS // parts.weight.size)
    starts = range(0, len(noise), size)
    return _joined([_modes(parts, deviation[k : k + size], noise[k : k + size]) for k in starts])


def across(weights: FloatArray) -> FloatArray:
    """Return the precision matrices of (T, C) independent numbers once their level is free.

    Examples
    --------
    >>> across(np.array([[1.0, 1.0]]))[0].tolist()
    [[0.5, -0.5], [-0.5, 0.5]]
    """
    total = weights.sum(axis=1)[:, None, None]
    diagonal = weights[:, :, None] * np.eye(weights.shape[1])
    return np.asarray(diagonal - weights[:, :, None] * weights[:, None, :] / total)


@dataclass(frozen=True, slots=True)
class _Slopes:
    """Log posterior of the stretches (K,), its slopes (K, T) and minus its curvature (K, T, T)."""

    value: FloatArray
    slopes: FloatArray
    curvature: FloatArray


def _look(
    parts: StretchParts, deviation: FloatArray, noise: FloatArray, stretch: FloatArray
) -> _Slopes:
    """Look at K stretches (K, T), the coffees integrated out.

    With W_i the precision of taster i and A = 1/v + sum of s_i^2 W_i that of the coffees, their
    mean is c = A^-1 sum of s_i W_i y_i.
    """
    points, tasters = stretch.shape
    count, _, coffees, _ = parts.weight.shape
    weight, pull = parts.weight.reshape(count, tasters, -1), parts.pull
    scaled = 1.0 / noise[:, None]
    system = np.matmul((stretch**2 * scaled)[None], weight).reshape(count, points, coffees, coffees)
    place = np.arange(coffees)
    system[..., place, place] += parts.precision[:, None]
    drawn = np.matmul((stretch * scaled)[None], pull)
    inverse = np.linalg.inv(system)
    mean = np.einsum("pkcd,pkd->pkc", inverse, drawn)
    felt = np.einsum("ptcd,pkd->pktc", parts.weight, mean)
    along = np.einsum("pkc,ptc->kt", mean, pull)
    square = np.einsum("pkc,pktc->kt", mean, felt)
    flat = inverse.reshape(count, points, -1)
    trace = np.matmul(flat, weight.mT).sum(axis=0)
    loss = (square + trace) * scaled
    slopes = along * scaled - stretch * loss
    bend = (pull[:, None] - 2.0 * stretch[:, :, None] * felt) * scaled[..., None]
    first = ((bend @ inverse) @ bend.mT).sum(axis=0)
    spread = inverse[:, :, None] @ parts.weight[:, None]
    mixed = spread.reshape(count, points, tasters, -1)
    turned = spread.mT.reshape(count, points, tasters, -1)
    second = (mixed @ turned.mT).sum(axis=0) * scaled[..., None] ** 2
    second = 2.0 * stretch[:, :, None] * stretch[:, None] * second
    ridge = 1.0 / deviation[:, None] ** 2
    own = np.arange(tasters)
    curvature = -first - second
    curvature[:, own, own] += loss + ridge
    value = 0.5 * np.einsum("pkc,pkc->k", mean, drawn)
    value -= 0.5 * np.linalg.slogdet(system)[1].sum(axis=0)
    value -= 0.5 * (ridge * (stretch - 1.0) ** 2).sum(axis=1)
    return _Slopes(value, slopes - ridge * (stretch - 1.0), curvature)


def _modes(parts: StretchParts, deviation: FloatArray, noise: FloatArray) -> StretchModes:
    """Find the top over the stretches at all grid points, and the curvature there."""
    tasters = parts.weight.shape[1]
    stretch = np.ones((len(noise), tasters))
    at = _look(parts, deviation, noise, stretch)
    for _ in range(ROUNDS):
        step = _step(at, deviation)
        new = _look(parts, deviation, noise, stretch + step)
        worse = new.value < at.value - 1e-9
        for _ in range(HALVINGS):
            if not worse.any():
                break
            step[worse] *= 0.5
            new = _look(parts, deviation, noise, stretch + step)
            worse = new.value < at.value - 1e-9
        stretch, at = stretch + step, new
        if float(np.abs(step).max()) < 1e-6:
            break
    values, vectors = np.linalg.eigh(at.curvature)
    values = np.maximum(values, 0.05 / deviation[:, None] ** 2)
    evidence = at.value - 0.5 * parts.quadratic / noise - 0.5 * parts.rank * np.log(noise)
    evidence -= tasters * np.log(deviation) + 0.5 * np.log(values).sum(axis=1)
    return StretchModes(evidence, stretch, (vectors / values[:, None]) @ vectors.mT)


def _step(at: _Slopes, deviation: FloatArray) -> FloatArray:
    """Newton steps with the curvature made positive; no stretch moves more than a half."""
    values, vectors = np.linalg.eigh(at.curvature)
    strong = np.maximum(np.abs(values), 0.2 / deviation[:, None] ** 2)
    along = (vectors.mT @ at.slopes[..., None])[..., 0]
    step = (vectors @ (along / strong)[..., None])[..., 0]
    longest = np.maximum(np.abs(step).max(axis=1), 1e-300)[:, None]
    return np.asarray(step * np.minimum(1.0, 0.5 / longest))


def _joined(modes: Sequence[StretchModes]) -> StretchModes:
    return StretchModes(
        np.concatenate([each.evidence for each in modes]),
        np.concatenate([each.stretch for each in modes]),
        np.concatenate([each.covariance for each in modes]),
    )


def relative_stretch(modes: StretchModes) -> tuple[FloatArray, FloatArray]:
    """Stretches over the table's mean and their sds (K, T), by the delta method."""
    count = modes.stretch.shape[1]
    average = modes.stretch.mean(axis=1)[:, None]
    relative = modes.stretch / average
    slopes = (np.eye(count) - relative[:, :, None] / count) / average[:, :, None]
    variance = ((slopes @ modes.covariance) * slopes).sum(axis=2)
    return relative, np.sqrt(np.maximum(variance, 1e-12))
