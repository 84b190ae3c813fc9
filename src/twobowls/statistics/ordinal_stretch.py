"""Parameters without bounds, in which a posterior of category ratings is nearly normal.

Thresholds become one threshold and the logs of their gaps; a standard deviation becomes z, a
number that is standard normal before the data. Thresholds and effects are measured against all
that varies in one rating, the tasters' own levels with the noise: what the shares of a category
say is that ratio, whatever the standard deviations are.
"""

from dataclasses import dataclass

import numpy as np

from twobowls.statistics.ordinal_design import Design
from twobowls.statistics.ordinal_inputs import Array
from twobowls.statistics.ordinal_optimise import Place
from twobowls.statistics.ordinal_scales import (
    HEIGHTS,
    deviation,
    deviation_slope,
    find_axis,
    ratio_to_z,
)

_GRID_STEP = float(HEIGHTS[1] - HEIGHTS[0])


@dataclass(frozen=True, slots=True)
class Stretch:
    """Between parameters (gamma, sd) and stretched ones; arrays may have leading axes.

    Attributes
    ----------
    mix : array (q, q)
        Makes the thresholds' parameters of one threshold and the gaps.
    scales : array (R,)
        Of the sds' half-normal priors.
    noise : float
        Standard deviation of the latent noise.
    """

    mix: Array
    scales: Array
    noise: float

    @classmethod
    def of(cls, design: Design, scale: float, noise: float) -> "Stretch":
        """Measure from a threshold in the middle, which the data know best."""
        count, scales = design.basis.shape[1], np.full(len(design.random), scale)
        if count < design.basis.shape[0]:
            return cls(np.eye(count), scales, noise)
        below = np.tril(np.ones((count, count)))[:, 1:]
        return cls(np.hstack([np.ones((count, 1)), below - below[count // 2]]), scales, noise)

    @property
    def gaps(self) -> slice:
        """Where the logs of gaps sit."""
        return slice(1, self.mix.shape[0])

    def _split(self, at: Array) -> int:
        return int(at.shape[-1]) - self.scales.size

    def _total(self, sd: Array) -> Array:
        """Return how much more than the noise one rating varies: (..., 1)."""
        return np.asarray(np.sqrt(1.0 + np.sum((sd / self.noise) ** 2, axis=-1, keepdims=True)))

    def forth(self, at: Array) -> Array:
        """Return the stretched parameters; standard deviations must be above zero."""
        split, count, out = self._split(at), self.mix.shape[0], at.copy()
        out[..., :count] = np.linalg.solve(self.mix, at[..., :count].T).T
        out[..., :split] /= self._total(at[..., split:])
        out[..., self.gaps] = np.log(out[..., self.gaps])
        out[..., split:] = ratio_to_z(at[..., split:] / self.scales)
        return out

    def back(self, at: Array) -> Array:
        """Return the parameters themselves."""
        split, count, out = self._split(at), self.mix.shape[0], at.copy()
        out[..., split:] = deviation(at[..., split:], self.scales)
        out[..., self.gaps] = np.exp(at[..., self.gaps])
        out[..., :count] = out[..., :count] @ self.mix.T
        out[..., :split] *= self._total(out[..., split:])
        return out

    def log_volume(self, at: Array) -> Array:
        """Return the log of how much volume the parameters take, without the sds' own: (...)."""
        split = self._split(at)
        total = self._total(deviation(at[..., split:], self.scales))[..., 0]
        return np.asarray(at[..., self.gaps].sum(axis=-1) + split * np.log(total))

    def slope(self, at: Array) -> Array:
        """Return the derivatives of the parameters in the stretched ones at one point, (p, p)."""
        split, count = self._split(at), self.mix.shape[0]
        there = self.back(at)
        total = float(self._total(there[split:])[0])
        own = np.full(at.size, total)
        own[self.gaps] *= np.exp(at[self.gaps])
        own[split:] = deviation_slope(at[split:], self.scales)
        turn = np.eye(at.size)
        turn[:count, :count] = self.mix
        out = turn * own
        out[:split, split:] = np.outer(there[:split], self._stretching(there[split:], own[split:]))
        return np.asarray(out)

    def _stretching(self, sd: Array, sd_slope: Array) -> Array:
        """Return the derivatives of the total's log in every z."""
        return np.asarray(sd * sd_slope / (self.noise * self._total(sd)) ** 2)

    def place(self, at: Array, found: Place, sd_precision: float) -> Place:
        """Return a place in the stretched parameters; the density changes with them."""
        split = self._split(at)
        z, sd = at[split:], found.at[split:]
        plain = found.gradient.copy()
        plain[split:] -= sd_precision * sd
        gradient = self.slope(at).T @ plain
        gradient[self.gaps] -= 1.0
        grows = self._stretching(sd, deviation_slope(z, self.scales))
        gradient[split:] += z - split * grows
        prior = 0.5 * float(z @ z) - 0.5 * sd_precision * float(sd @ sd)
        value = found.value + prior - float(self.log_volume(at))
        return Place(at, value, gradient, found.plain)

    def start(self, top: Array, sd_curvature: Array) -> tuple[Array, Array]:
        """Return the top, stretched, and how z is spread around there: (p,), (R,).

        A standard deviation of zero has no z: of each, the likelihood is taken as normal in the
        standard deviation, and z where it is most likely then.
        """
        split, at = self._split(top), top.copy()
        spreads = np.ones(self.scales.size)
        for r, scale in enumerate(self.scales.tolist()):
            sd = deviation(HEIGHTS, scale)
            heights = -0.5 * max(float(sd_curvature[r]), 0.0) * (sd - top[split + r]) ** 2
            axis = find_axis(heights, scale)
            spreads[r] = max(axis.below, axis.above)
            if spreads[r] > 2.0 * _GRID_STEP:
                at[split + r] = float(deviation(np.array(axis.mode), scale))
                continue
            # known better than that grid tells
            slope = float(deviation_slope(ratio_to_z(at[[split + r]] / scale), scale)[0])
            spreads[r] = float(sd_curvature[r] * slope**2 + 1.0) ** -0.5
        at[:split] *= self._total(at[split:]) / self._total(top[split:])
        return self.forth(at), spreads
