"""A second, slow way to the debrief's figures, which shares no line of code with the first.

The tool sums over deviations with lattice points and exact block algebra. Here they are walked
through by random-walk Metropolis, and each step works with the full covariance matrix of the
marks. Only the model is the same: mark = mean + coffee + taster + ... + residual, half-normal
priors on the deviations (scales below, on the 0-100 line), log-normal on the residual.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Floats = NDArray[np.float64]
Row = dict[str, str]
Fit = tuple[float, Floats, float, Floats]

# factors of each term, and the scale of the half-normal prior of its deviation
TERMS: dict[tuple[str, ...], float] = {
    ("coffee",): 20.0,
    ("seat",): 20.0,
    ("seat", "coffee"): 15.0,
    ("bowl",): 5.0,
    ("round",): 10.0,
    ("coffee", "round"): 7.0,
    ("seat", "round"): 7.0,
    ("position",): 5.0,
}
RESIDUAL_MEDIAN, RESIDUAL_LOG_SD = 10.0, 0.6
# With 24,000 steps standard errors came out 2 to 4 % short: the walk seldom visited the tails.
STEPS, WARM_UP = 64_000, 4_000


@dataclass(frozen=True)
class Answer:
    """Posterior of a difference between two coffees, for people like these."""

    difference: float
    se: float
    probability: float


def _same(rows: list[Row], factors: tuple[str, ...]) -> Floats:
    labels = np.array(["\0".join(row[name] for name in factors) for row in rows])
    return np.asarray(labels[:, None] == labels[None, :], dtype=float)


def _log_prior(logs: Floats, scales: Floats) -> float:
    """Density of the log deviations: half-normal or log-normal, with the Jacobian."""
    sds = np.exp(logs[:-1])
    half_normal = float(np.sum(-0.5 * (sds / scales) ** 2 + logs[:-1]))
    z = (logs[-1] - np.log(RESIDUAL_MEDIAN)) / RESIDUAL_LOG_SD
    return half_normal - 0.5 * float(z) ** 2


class _Marks:
    """The marks of one sensation on one scale, as one dense Gaussian model."""

    def __init__(self, rows: list[Row], scale: str) -> None:
        self.y = np.array([float(row[scale]) for row in rows])
        self.ones = np.ones(len(rows))
        self.shapes = np.array([_same(rows, factors) for factors in TERMS])
        self.scales = np.array(list(TERMS.values()))

    def covariance(self, logs: Floats) -> Floats:
        variances = np.exp(2.0 * logs)
        shared = np.tensordot(variances[:-1], self.shapes, axes=1)
        return np.asarray(shared + variances[-1] * np.eye(len(self.y)))

    def fit(self, logs: Floats) -> Fit:
        """Log posterior (up to a constant), V⁻¹(y - mean), 1/(1ᵀV⁻¹1) and V⁻¹."""
        inverse = np.asarray(np.linalg.inv(self.covariance(logs)), dtype=np.float64)
        _, log_det = np.linalg.slogdet(inverse)
        weight = self.ones @ inverse @ self.ones
        away = self.y - (self.ones @ inverse @ self.y) / weight
        density = 0.5 * (log_det - np.log(weight) - away @ inverse @ away)
        log_posterior = float(density) + _log_prior(logs, self.scales)
        return log_posterior, inverse @ away, 1.0 / float(weight), inverse


def _contrast(rows: list[Row], a: str, b: str) -> dict[tuple[str, ...], Floats]:
    """Covariance of the wanted difference's parts with each mark, per unit of variance."""
    sign = np.array([(row["coffee"] == a) - float(row["coffee"] == b) for row in rows])
    rounds = len({row["round"] for row in rows})
    return {("coffee",): sign, ("coffee", "round"): sign / rounds}


Pair = tuple[str, str]


def differences(
    rows: list[Row], scale: str, pairs: Sequence[Pair], seed: int = 1
) -> dict[Pair, Answer]:
    """Posteriors of coffee ``a`` minus ``b`` for every pair, averaged over rounds."""
    marks = _Marks(rows, scale)
    parts = {pair: _contrast(rows, *pair) for pair in pairs}
    rounds = len({row["round"] for row in rows})
    found: dict[Pair, list[tuple[float, float]]] = {pair: [] for pair in pairs}
    for variances, (_, solved, mean_variance, inverse) in _walk(marks, seed):
        before = 2.0 * variances["coffee",] + 2.0 / rounds * variances["coffee", "round"]
        for pair, signs in parts.items():
            link = sum(variances[factors] * sign for factors, sign in signs.items())
            seen = inverse @ link
            left = before - link @ seen + (marks.ones @ seen) ** 2 * mean_variance
            found[pair].append((float(link @ solved), float(left)))
    return {pair: _summary(*np.array(steps).T) for pair, steps in found.items()}


def _walk(marks: _Marks, seed: int) -> Iterator[tuple[dict[tuple[str, ...], float], Fit]]:
    """Go through the posterior of the deviations; yield the variances at each step, and the fit."""
    rng = np.random.default_rng(seed)
    logs = np.log(np.append(marks.scales / 2, RESIDUAL_MEDIAN))
    now = marks.fit(logs)
    for index in range(STEPS):
        chosen = rng.random(len(logs)) < 0.35
        tried = logs + 0.5 * rng.standard_normal(len(logs)) * chosen
        then = marks.fit(tried)
        if np.log(rng.random()) < then[0] - now[0]:
            logs, now = tried, then
        if index >= WARM_UP:
            yield dict(zip(TERMS, np.exp(2.0 * logs[:-1]), strict=True)), now


def _summary(means: Floats, variances: Floats) -> Answer:
    sds = np.sqrt(np.maximum(variances, 1e-12))
    total = float(np.sqrt(np.mean(sds**2) + np.var(means)))
    return Answer(float(means.mean()), total, float(ndtr(means / sds).mean()))
