"""Draws of who means which word by which: Gibbs sampling for ``confusion``, many chains at once.

Rows are marks of one taster under one word: the sour marks of all tasters, then the bitter ones.
Every array of a chain begins with the axis of the chains.
"""

import numpy as np
from numpy.typing import NDArray

from twobowls.statistics.arrays import FloatArray, IntArray

_LOG_STRETCH_SD = 0.4  # most people use between half and twice the table's range
_LOG_NOISE_SD = 0.35  # how much tasters differ in their own noise
_LEAST_SPREAD = 1.0  # variance; marks finer than one unit of a 0-100 scale are never certain
_PLACES, _REACH = (9, 5), 2.4  # nodes of stretch and noise, to so many standard deviations
_BURN_IN, _SWEEPS = 20, 40


class Sampler:
    """Chains over the two profiles of the table and over what every row follows.

    Parameters
    ----------
    sour, bitter : ndarray, shape (tasters, coffees)
        Marks, NaN for a gap.
    prior : float
        Share of rows expected to follow the other word.
    rng : numpy.random.Generator
        Source of chance.

    Notes
    -----
    A row is ``level + stretch * profile + noise``: the level free, the stretch log-normal around
    1, the standard deviation of the noise log-normal around the table's own; the profile is the
    table's acidity or its bitterness, normal with a variance of its own. In turn are drawn: the
    profiles; then, from all their combinations at once, which profile a row follows, its stretch
    and its noise; then the variances; then, whether all rows and both profiles change sides,
    which the marks cannot tell and only the prior can.

    Examples
    --------
    >>> sour = np.array([[20.0, 40, 60, 80], [25, 45, 55, 75], [80, 50, 35, 20]])
    >>> bitter = np.array([[80.0, 55, 35, 20], [75, 60, 40, 25], [15, 45, 60, 85]])
    >>> sampler = Sampler(sour, bitter, 0.2, np.random.default_rng(1))
    >>> sampler.run()
    >>> sampler.mixed_up.round().tolist()
    [0.0, 0.0, 1.0, 0.0, 0.0, 1.0]
    """

    def __init__(
        self, sour: FloatArray, bitter: FloatArray, prior: float, rng: np.random.Generator
    ) -> None:
        marks = np.vstack([sour, bitter])
        self.rng, self.prior = rng, prior
        self.own: IntArray = np.repeat([0, 1], len(sour))
        self.seen = (~np.isnan(marks)).astype(float)
        self.size = np.maximum(self.seen.sum(axis=1), 1)
        self.df = self.size - 1
        filled = np.where(self.seen > 0, marks, 0.0)
        self.off = (filled - filled.sum(axis=1, keepdims=True) / self.size[:, None]) * self.seen
        self.squares = (self.off**2).sum(axis=1)
        self.usual = max(float(self.squares.sum() / max(self.df.sum(), 1)), _LEAST_SPREAD)
        self._lay_nodes()
        self._start(int(np.clip(512 // len(marks), 12, 32)))

    def _lay_nodes(self) -> None:
        stretch, noise = (np.linspace(-_REACH, _REACH, count) for count in _PLACES)
        self.stretches = np.exp(_LOG_STRETCH_SD * stretch)
        self.noises = np.exp(2 * _LOG_NOISE_SD * noise)
        right = np.arange(2)[:, None] == self.own
        prior = np.log(np.where(right, 1 - self.prior, self.prior))[:, None, None]
        width = 0.5 * self.df * np.log(self.noises)[:, None]
        nodes = -0.5 * (stretch[:, None] ** 2 + noise**2)[..., None]
        known = prior - width + nodes  # profiles, stretches, noises, rows
        self.log_known = known.astype(np.float32)[:, :, :, None]  # six digits are plenty

    def _start(self, chains: int) -> None:
        rows, coffees = self.off.shape
        self.follows: IntArray = self.own ^ (self.rng.uniform(size=(chains, rows)) < self.prior)
        self.stretch, self.noise = np.ones((chains, rows)), np.ones((chains, rows))
        self.variance = np.full(chains, self.usual / 4)
        self.spread = np.full((chains, 2), self.usual)
        self.profiles = np.zeros((chains, 2, coffees))
        self.mixed_up = np.zeros(rows)
        self.likeness = self.turned = 0.0

    def run(self) -> None:
        """Sweep; then ``mixed_up`` holds the chance of every row to follow the other word.

        ``likeness`` is the mean correlation of the two profiles, ``turned`` the chance that more
        than half of the rows follow the other word.
        """
        for sweep in range(_BURN_IN + _SWEEPS):
            self._draw_profiles()
            second = self._draw_rows()
            self._draw_variances()
            self._change_sides()
            if sweep >= _BURN_IN:
                self._count(second)

    def _count(self, second: FloatArray) -> None:
        other = np.where(self.own == 0, second, 1 - second)
        off = self.profiles - self.profiles.mean(axis=2, keepdims=True)
        length = np.maximum(np.sqrt((off**2).sum(axis=2).prod(axis=1)), 1e-12)
        self.mixed_up += other.mean(axis=0) / _SWEEPS
        self.likeness += float((off.prod(axis=1).sum(axis=1) / length).mean()) / _SWEEPS
        many = (self.follows != self.own).mean(axis=1)
        self.turned += float(((many > 0.5) + 0.5 * (many == 0.5)).mean()) / _SWEEPS

    def _draw_profiles(self) -> None:
        """Draw both profiles, given what follows them; rows count by their differences only."""
        chains, coffees = len(self.profiles), self.profiles.shape[2]
        pull = self.stretch / (self.noise * self.variance[:, None])
        follow = np.stack([self.follows == 0, self.follows == 1], axis=1)
        power = follow * (pull * self.stretch)[:, None]
        inner = self.seen[:, :, None] * (
            np.eye(coffees) - self.seen[:, None, :] / self.size[:, None, None]
        )
        whole = (power @ inner.reshape(len(inner), -1)).reshape(chains, 2, coffees, coffees)
        whole = whole + np.eye(coffees) / self.spread[..., None, None]
        total = (follow * pull[:, None]) @ self.off
        back = np.linalg.inv(np.linalg.cholesky(whole))
        drawn = np.einsum("bkij,bkj->bki", back, total) + self.rng.normal(size=total.shape)
        self.profiles = np.einsum("bkji,bkj->bki", back, drawn)

    def log_chances(self) -> tuple[NDArray[np.float32], FloatArray]:
        """Return the log chance of each row with each profile, stretch and noise.

        Shape (profiles, stretches, noises, chains, rows), up to a constant for the row; and the
        sum of squares left, shape (profiles, stretches, chains, rows).
        """
        sides = np.moveaxis(self.profiles, 1, 0)  # profiles, chains, coffees
        both, mean = sides @ self.off.T, sides @ self.seen.T / self.size
        power = np.maximum(sides**2 @ self.seen.T - mean**2 * self.size, 0.0)
        by = self.stretches[:, None, None]
        left = self.squares - 2 * by * both[:, None] + by**2 * power[:, None]
        left = np.maximum(left, 0.0)
        half = (-0.5 / (self.noises[:, None] * self.variance)).astype(np.float32)
        logs = left.astype(np.float32)[:, :, None] * half[..., None]
        logs += self.log_known
        return logs, left

    def _draw_rows(self) -> FloatArray:
        """Draw what every row follows, and how; return the chances of the second profile."""
        logs, left = self.log_chances()
        shape, cells = logs.shape[:3], logs.reshape(-1, *logs.shape[3:])
        sums = np.cumsum(np.exp(cells - cells.max(axis=0)), axis=0)
        whole = sums[-1]
        place = (sums < self.rng.uniform(size=whole.shape) * whole).sum(axis=0)
        self.follows, stretch, noise = np.unravel_index(place, shape)
        self.stretch, self.noise = self.stretches[stretch], self.noises[noise]
        chain, row = np.ogrid[: whole.shape[0], : whole.shape[1]]
        self.left = left[self.follows, stretch, chain, row] / self.noise
        return np.asarray(1 - sums[len(sums) // 2 - 1] / whole, dtype=np.float64)

    def _draw_variances(self) -> None:
        """Draw the variance of the noise and those of the profiles, inverse gamma."""
        chains, _, coffees = self.profiles.shape
        gamma = self.rng.gamma(1 + self.df.sum() / 2, size=chains)
        self.variance = (self.usual / 8 + self.left.sum(axis=1) / 2) / gamma
        self.variance = np.maximum(self.variance, _LEAST_SPREAD)
        gamma = self.rng.gamma(1 + coffees / 2, size=(chains, 2))
        self.spread = (self.usual / 4 + (self.profiles**2).sum(axis=2) / 2) / gamma

    def _change_sides(self) -> None:
        mixed = (self.follows != self.own).sum(axis=1)
        odds = (self.own.size - 2 * mixed) * np.log(self.prior / (1 - self.prior))
        turn = np.log(self.rng.uniform(size=mixed.size)) < odds
        self.follows = np.where(turn[:, None], 1 - self.follows, self.follows)
        self.profiles = np.where(turn[:, None, None], self.profiles[:, ::-1], self.profiles)
        self.spread = np.where(turn[:, None], self.spread[:, ::-1], self.spread)
