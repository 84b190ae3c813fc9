"""Sour or bitter: whose bitterness follows the table's acidity, and the reverse.

Two tables of the same tasters and coffees, one a sensation, on one scale. To be told kindly and
privately: mixing up the two words is common and says nothing about the tongue.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import expit, logit, logsumexp

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.inputs import between

# Meiselman & Dzendolet 1967 (seen in a secondary page): 17 of 80 people mixed up the two.
USUAL_SHARE = 0.2

_ROUNDS = 5  # times the tasters are weighed anew; the probabilities have settled by then
_LOG_STRETCH_SD = 0.4  # most people use between half and twice the table's range
_LOG_NOISE_SD = 0.35  # how much tasters differ in their own noise
_STRETCHES = (0.3, 3.0)  # slopes tried where only the noise is wanted
_LEAST_NOISE = 1.0  # variance; marks finer than one unit of a 0-100 scale are never certain


@dataclass(frozen=True, slots=True, kw_only=True)
class Confusion:
    """The chance that a taster's two words are mixed up.

    ``bitterness_follows_acidity`` is the posterior probability that the bitterness marks follow
    the table's acidity rather than its bitterness; ``acidity_follows_bitterness`` the reverse.
    None where the taster shares fewer than three coffees with the others.
    """

    taster: int
    coffees: int
    bitterness_follows_acidity: float | None
    acidity_follows_bitterness: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Confusions:
    """All tasters; ``likeness`` correlates the table's acidity and bitterness (-1 to 1).

    Near 1 the two can hardly be told apart by anybody's marks, and every probability stays near
    the ``prior``.
    """

    tasters: tuple[Confusion, ...]
    likeness: float
    prior: float
    cautions: tuple[str, ...] = ()


def confusion(
    acidity: ArrayLike, bitterness: ArrayLike, *, prior: float = USUAL_SHARE
) -> Confusions:
    """Return the chance, for each taster, that acidity and bitterness are mixed up.

    Parameters
    ----------
    acidity, bitterness : array_like, shape (tasters, coffees)
        Mean intensity marks of each taster and coffee on one scale (see ``coffee_table``), NaN
        where not marked.
    prior : float
        The share of people expected to mix up the two, between 0 and 1.

    Returns
    -------
    Confusions

    Raises
    ------
    InputError
        When the tables do not match, a mark is infinite, there are fewer than three tasters, or
        the prior is out of range.

    Notes
    -----
    For a taster's bitterness marks two stories compete: they are a stretch of what the others
    say of bitterness, plus noise, or of what the others say of acidity. The stretch is
    log-normal around 1, the noise log-normal around the table's own, the level free; all three
    are integrated out, and so is the uncertainty of the others' means. The others' marks count
    for the one word or the other by the chance that they mix them up themselves, weighed anew
    in five rounds. Whether the whole table means the one by the other, only the prior can
    tell; that chance is mixed in.

    References
    ----------
    Meiselman & Dzendolet 1967, Perception & Psychophysics 2:496-498 (share of confusions).

    Examples
    --------
    >>> acid = [[20, 40, 60, 80], [25, 45, 55, 75], [22, 38, 66, 80], [80, 50, 35, 20]]
    >>> bitter = [[80, 55, 35, 20], [75, 60, 40, 25], [82, 58, 30, 22], [15, 45, 60, 85]]
    >>> result = confusion(acid, bitter)
    >>> [round(t.bitterness_follows_acidity, 2) for t in result.tasters]
    [0.06, 0.06, 0.06, 0.94]
    """
    sour, bitter = _tables(acidity, bitterness)
    share = between("prior", prior, 0, 1)
    mixed = np.full((2, len(sour)), share)  # sour marks that follow bitterness, and the reverse
    for _ in range(_ROUNDS):
        words = _Words(sour, bitter, mixed)
        told = [[words.mixed_up(kind, i, share) for i in range(len(sour))] for kind in (0, 1)]
        mixed = np.array([[share if p is None else p for p in row] for row in told])
    flipped = _chance_of_flip(mixed, share)
    return Confusions(
        tasters=tuple(
            Confusion(
                taster=i,
                coffees=int((~np.isnan(sour[i]) & ~np.isnan(bitter[i])).sum()),
                bitterness_follows_acidity=_turned(told[1][i], flipped),
                acidity_follows_bitterness=_turned(told[0][i], flipped),
            )
            for i in range(len(sour))
        ),
        likeness=words.likeness(),
        prior=share,
        cautions=_cautions(sour, words.likeness(), flipped),
    )


def _tables(acidity: ArrayLike, bitterness: ArrayLike) -> tuple[FloatArray, FloatArray]:
    try:
        sour, bitter = np.asarray(acidity, dtype=float), np.asarray(bitterness, dtype=float)
    except (TypeError, ValueError):
        raise InputError(
            "acidity", "not every entry is a number", "Give numbers, NaN for a gap, in equal rows"
        ) from None
    if sour.ndim != 2 or sour.shape != bitter.shape:
        raise InputError(
            "bitterness", "the two tables do not match", "Give the same tasters and coffees"
        )
    if np.isinf(sour).any() or np.isinf(bitter).any():
        raise InputError("acidity", "a mark is infinite", "Give marks on the scale, or NaN")
    if len(sour) < 3:
        raise InputError(
            "acidity", f"{len(sour)} tasters are too few", "Give three tasters or more"
        )
    return sour, bitter


class _Words:
    """What the table means by its two words, every taster's marks split between them.

    ``mixed[0]`` are the chances that a taster's sour marks follow bitterness, ``mixed[1]`` the
    reverse. Rows are the sour marks of all tasters, then the bitter marks.
    """

    def __init__(self, sour: FloatArray, bitter: FloatArray, mixed: FloatArray) -> None:
        self.tasters = len(sour)
        self.marks = np.vstack([sour, bitter])
        self.seen = (~np.isnan(self.marks)).astype(float)
        size = np.maximum(self.seen.sum(axis=1, keepdims=True), 1)
        filled = np.where(self.seen > 0, self.marks, 0.0)
        self.off = (filled - filled.sum(axis=1, keepdims=True) / size) * self.seen
        inner = np.eye(sour.shape[1]) - self.seen[:, None, :] / size[:, :, None]
        self.parts = self.seen[:, :, None] * inner
        straight = np.concatenate([1 - mixed[0], mixed[1]])
        self.weights = np.stack([straight, 1 - straight])  # for acidity, for bitterness
        self.whole = np.einsum("wk,kcd->wcd", self.weights, self.parts)
        self.total = self.weights @ self.off
        self.counts = self.weights @ self.seen
        self.profiles = [_solved(self.whole[word], self.total[word]) for word in (0, 1)]
        self.noise = [self._noise(kind) for kind in (0, 1)]

    def _without(self, word: int, mine: IntArray) -> FloatArray:
        """Return how the others see the coffees under a word, around 0."""
        weights = self.weights[word, mine]
        whole = self.whole[word] - np.tensordot(weights, self.parts[mine], axes=1)
        return _solved(whole, self.total[word] - weights @ self.off[mine])

    def _rows(self, kind: int) -> slice:
        return slice(kind * self.tasters, (kind + 1) * self.tasters)

    def _noise(self, kind: int) -> float:
        """Return the variance of marks around whichever word they follow better."""
        rows = self._rows(kind)
        here, off = self.seen[rows], self.off[rows]
        size = np.maximum(here.sum(axis=1, keepdims=True), 1)
        left = []
        for word in (0, 1):
            x = here * self.profiles[word]
            x = (x - x.sum(axis=1, keepdims=True) / size) * here
            power = np.maximum((x * x).sum(axis=1), 1e-12)
            slope = np.clip((x * off).sum(axis=1) / power, *_STRETCHES)
            left.append(((off - slope[:, None] * x) ** 2).sum(axis=1))
        df = float(np.maximum(size - 2, 0).sum()) - (here.shape[1] - 1)
        total = float(np.minimum(*left).sum())
        return max(total / df if df > 0 else total, _LEAST_NOISE)

    def mixed_up(self, kind: int, taster: int, prior: float) -> float | None:
        """Return the posterior chance that a taster's marks of one word follow the other."""
        mine = np.array([taster, self.tasters + taster])
        others = self.seen.sum(axis=0) - self.seen[mine].sum(axis=0)
        here = (self.seen[mine[kind]] > 0) & (others > 0)
        if here.sum() < 3:
            return None
        counts = self.counts - self.weights[:, mine] @ self.seen[mine]
        counts = np.maximum(counts, 1e-3)  # next to nobody: all blur
        own = self.marks[mine[kind], here]
        evidence = [
            _evidence(
                own,
                self._without(word, mine)[here],
                self.noise[word] * float((1 / counts[word, here]).mean()),
                self.noise[kind],
            )
            for word in (0, 1)
        ]
        return float(expit(logit(prior) + evidence[1 - kind] - evidence[kind]))

    def likeness(self) -> float:
        """Return the correlation of the table's acidity and bitterness."""
        one, other = (profile - profile.mean() for profile in self.profiles)
        size = float(np.sqrt((one @ one) * (other @ other)))
        return float(one @ other) / size if size > 1e-9 else 1.0


def _solved(whole: FloatArray, total: FloatArray) -> FloatArray:
    return np.asarray(np.linalg.pinv(whole, rcond=1e-10, hermitian=True) @ total)


def _chance_of_flip(mixed: FloatArray, prior: float) -> float:
    """Return the chance that the table at large means the one by the other.

    Exchanging the two words for everybody leaves the marks as they are, so only the prior
    speaks: how many tasters would then have to mix them up.
    """
    tasters, share = mixed.shape[1], float(mixed.mean())
    return float(expit(tasters * (2 * share - 1) * -logit(prior)))


def _turned(chance: float | None, flipped: float) -> float | None:
    return None if chance is None else chance * (1 - flipped) + (1 - chance) * flipped


def _evidence(marks: FloatArray, others: FloatArray, blur: float, noise: float) -> float:
    """Return the log-likelihood of marks that follow the others, the unknowns integrated out.

    ``blur`` is the variance of the others' mean that is their noise, ``noise`` the variance of
    a taster's marks around the table. Marks only count by their differences (free level).
    """
    y, x = marks - marks.mean(), others - others.mean()
    spread = float(x @ x) / (x.size - 1)
    kept = max(0.0, 1 - blur / spread) if spread > 1e-12 else 0.0
    slopes, slope_weights = _normal_nodes(61)
    noises, noise_weights = _normal_nodes(15)
    stretch = np.exp(_LOG_STRETCH_SD * slopes)[:, None]
    variance = (noise * np.exp(2 * _LOG_NOISE_SD * noises))[None, :]
    variance = variance + stretch**2 * kept * blur
    slope = kept * stretch
    left = y @ y - 2 * slope * (x @ y) + slope**2 * (x @ x)
    logs = -0.5 * (y.size - 1) * np.log(variance) - 0.5 * left / variance
    return float(logsumexp(logs, b=slope_weights[:, None] * noise_weights[None, :]))


@lru_cache(maxsize=2)
def _normal_nodes(count: int) -> tuple[FloatArray, FloatArray]:
    """Even steps under the normal density: exact for smooth integrands, and for narrow peaks."""
    nodes = np.linspace(-4.2, 4.2, count)
    weights = np.exp(-0.5 * nodes**2)
    return nodes, weights / weights.sum()


def _cautions(sour: FloatArray, likeness: float, flipped: float) -> tuple[str, ...]:
    texts = []
    if sour.shape[1] < 5:
        texts.append(f"Only {sour.shape[1]} coffees: take every probability as a hint.")
    if likeness > 0.7:
        texts.append(
            "The table finds the sour coffees the bitter ones too: the words cannot be told apart."
        )
    if flipped > 0.1:
        texts.append("Nearly as many mix up the words as not: who does cannot be told.")
    return tuple(texts)
