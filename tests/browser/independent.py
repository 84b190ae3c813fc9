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
from scipy.linalg import lapack
from scipy.special import ndtr

Floats = NDArray[np.float64]
Row = dict[str, str]
Pair = tuple[str, str]

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
STEPS, WARM_UP = 96_000, 4_000


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


@dataclass(frozen=True)
class _Fit:
    """What one set of deviations says: how likely they are, and of each pair mean and variance."""

    log_posterior: float
    means: Floats
    variances: Floats


class _Marks:
    """The marks of one sensation on one scale, as one dense Gaussian model of wanted pairs."""

    def __init__(self, rows: list[Row], scale: str, pairs: Sequence[Pair]) -> None:
        self.y = np.array([float(row[scale]) for row in rows])
        self.shapes = np.array([_same(rows, factors) for factors in TERMS])
        self.scales = np.array(list(TERMS.values()))
        self.rounds = len({row["round"] for row in rows})
        self.signs = np.array(
            [[(row["coffee"] == a) - float(row["coffee"] == b) for a, b in pairs] for row in rows]
        )
        self.right = np.column_stack([np.ones(len(rows)), self.y, self.signs])

    def covariance(self, logs: Floats) -> Floats:
        variances = np.exp(2.0 * logs)
        shared = np.tensordot(variances[:-1], self.shapes, axes=1)
        return np.asarray(shared + variances[-1] * np.eye(len(self.y)))

    def fit(self, logs: Floats) -> _Fit:
        """Solve the whole of V x = [1, y, signs], with nothing known of its blocks."""
        factor, _ = lapack.dpotrf(self.covariance(logs), lower=1)
        solved, _ = lapack.dpotrs(factor, self.right, lower=1)
        log_det = 2.0 * float(np.log(np.diagonal(factor)).sum())
        weight = float(solved[:, 0].sum())
        mean = float(solved[:, 1].sum()) / weight
        away = solved[:, 1] - mean * solved[:, 0]
        density = -0.5 * (log_det + np.log(weight) + (self.y - mean) @ away)
        variances = dict(zip(TERMS, np.exp(2.0 * logs[:-1]), strict=True))
        coffee, by_round = variances["coffee",], variances["coffee", "round"] / self.rounds
        link = coffee + by_round  # of a mark with a pair's difference: the covariance but its sign
        explained = link**2 * np.sum(self.signs * solved[:, 2:], axis=0)
        of_the_mean = (link * solved[:, 2:].sum(axis=0)) ** 2 / weight
        return _Fit(
            float(density) + _log_prior(logs, self.scales),
            link * (self.signs.T @ away),
            2.0 * link - explained + of_the_mean,
        )


def differences(
    rows: list[Row], scale: str, pairs: Sequence[Pair], seed: int = 1
) -> dict[Pair, Answer]:
    """Posteriors of coffee ``a`` minus ``b`` for every pair, averaged over rounds."""
    steps = list(_walk(_Marks(rows, scale, pairs), seed))
    means = np.array([step.means for step in steps])
    variances = np.array([step.variances for step in steps])
    return {
        pair: _summary(means[:, place], variances[:, place]) for place, pair in enumerate(pairs)
    }


def _walk(marks: _Marks, seed: int) -> Iterator[_Fit]:
    """Go through the posterior of the deviations; yield what each step says."""
    rng = np.random.default_rng(seed)
    logs = np.log(np.append(marks.scales / 2, RESIDUAL_MEDIAN))
    now = marks.fit(logs)
    for index in range(STEPS):
        chosen = rng.random(len(logs)) < 0.35
        tried = logs + 0.5 * rng.standard_normal(len(logs)) * chosen
        then = marks.fit(tried)
        if np.log(rng.random()) < then.log_posterior - now.log_posterior:
            logs, now = tried, then
        if index >= WARM_UP:
            yield now


def _summary(means: Floats, variances: Floats) -> Answer:
    sds = np.sqrt(np.maximum(variances, 1e-12))
    total = float(np.sqrt(np.mean(sds**2) + np.var(means)))
    return Answer(float(means.mean()), total, float(ndtr(means / sds).mean()))
