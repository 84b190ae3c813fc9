"""The posterior of category fits beside chains that know nothing of the fit's own methods.

Hamiltonian chains, side by side, walk over everything that is unknown: thresholds, coffees, their
spread, every taster's level and tastes, and how far those differ. Nothing is approximated but by
their number. Source: Neal (2011), Handbook of Markov Chain Monte Carlo, chapter 5 (from memory).
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import gammainc, gammaln, log_ndtr, ndtr, ndtri

from twobowls.statistics.ordinal import OrdinalPrior, fit_ordinal
from twobowls.statistics.spread_prior import SHAPE, spread

CHAINS, WARM, KEPT, LEAPS = 200, 300, 600, 8
FAR = 1e9


@dataclass(frozen=True)
class Table:
    """Ratings 1 to K, the coffee of each, and one column of codes a random factor."""

    ratings: tuple[int, ...]
    coffee: tuple[int, ...]
    random: tuple[tuple[int, ...], ...]
    categories: int


TABLES = {
    "three tasters, twice": Table(
        (1, 2, 2, 1, 3, 2, 3, 4, 3, 2, 4, 4), (0,) * 6 + (1,) * 6, ((0, 1, 2) * 4,), 4
    ),
    "apart, one taster": Table(
        (1, 2, 1, 2, 3, 4, 5, 5, 4, 5), (0,) * 5 + (1,) * 5, ((0,) * 10,), 5
    ),
    "three ratings": Table((2, 1, 3), (0, 0, 1), ((0, 0, 0),), 3),
    "tastes of their own": Table(
        (1, 3, 3, 5, 2, 2, 4, 4, 1, 4, 1, 3, 3, 5, 4, 5, 2, 2, 5, 3, 1, 2, 3, 5),
        (0, 1, 2, 3) * 6,
        (tuple(np.repeat(range(6), 4).tolist()), tuple(range(24))),
        5,
    ),
}


class Chains:
    """Minus the energy of many places at once, and its slope."""

    def __init__(self, table: Table) -> None:
        self.prior, self.kinds = OrdinalPrior(), table.categories
        self.rating = np.array(table.ratings) - 1
        self.coffee = np.eye(max(table.coffee) + 1)[list(table.coffee)]
        self.coffee = self.coffee - self.coffee.mean(axis=0)
        self.random = [np.eye(max(codes) + 1)[list(codes)] for codes in table.random]
        ends = np.cumsum([
            table.categories - 1, self.coffee.shape[1], 1, len(self.random),
            *(each.shape[1] for each in self.random),
        ])  # fmt: skip
        cuts, coffees, spreads, sds, *levels = (
            slice(int(end - size), int(end))
            for end, size in zip(ends, np.diff(ends, prepend=0), strict=True)
        )
        self.cuts, self.coffees, self.spread, self.sds, self.levels = (
            cuts, coffees, spreads, sds, levels,
        )  # fmt: skip
        self.size = int(ends[-1])

    def thresholds(self, at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the thresholds above the middle of the data, and their gaps."""
        own = at[:, self.cuts]
        gaps = np.exp(own[:, 1:])
        return np.hstack([own[:, :1], own[:, :1] + np.cumsum(gaps, axis=1)]), gaps

    def spreads(self, at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the coffees' spread (N, 1) and its slope in z."""
        z = at[:, self.spread]
        unit = spread(z, 1.0)
        half = 0.5 * unit**2
        log_density = (SHAPE - 1.0) * np.log(half) - half - gammaln(SHAPE)
        slope = np.exp(-0.5 * z**2 - 0.5 * np.log(2.0 * np.pi) - log_density) / unit
        return self.prior.effect_sd * unit, self.prior.effect_sd * slope

    def deviations(self, at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the random factors' half-normal deviations (N, R) and their slopes in z."""
        z = at[:, self.sds]
        unit = -ndtri(0.5 * ndtr(-z))
        return self.prior.random_sd * unit, self.prior.random_sd * 0.5 * np.exp(
            0.5 * (unit**2 - z**2)
        )

    def look(self, at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the log density (N,) and its slope (N, size)."""
        cuts, gaps = self.thresholds(at)
        wide, wide_slope = self.spreads(at)
        sds, sd_slopes = self.deviations(at)
        shift = wide * (at[:, self.coffees] @ self.coffee.T)
        for r, columns in enumerate(self.random):
            shift = shift + sds[:, [r]] * (at[:, self.levels[r]] @ columns.T)
        far = np.full((at.shape[0], 1), FAR)
        edges = np.hstack([-far, cuts, far])
        value, up, low = log_shares(
            edges[:, self.rating + 1] - shift, edges[:, self.rating] - shift
        )
        pseudo, pseudo_up, pseudo_low = log_shares(edges[:, 1:], edges[:, :-1])
        weight = self.prior.pseudo_ratings / self.kinds
        rows = np.eye(self.kinds + 1)
        by_edge = up @ rows[self.rating + 1] - low @ rows[self.rating]
        by_edge[:, 1:] += weight * pseudo_up
        by_edge[:, :-1] -= weight * pseudo_low
        by_cut = by_edge[:, 1:-1] - cuts / self.prior.threshold_sd**2
        slope = -at.copy()
        slope[:, self.cuts] = np.cumsum(by_cut[:, ::-1], axis=1)[:, ::-1]
        slope[:, self.cuts][:, 1:] *= gaps
        slope[:, self.cuts][:, 1:] += 1.0
        by_coffee = (low - up) @ self.coffee
        slope[:, self.coffees] += wide * by_coffee
        slope[:, self.spread] += wide_slope * (by_coffee * at[:, self.coffees]).sum(1)[:, None]
        for r, columns in enumerate(self.random):
            by_level, own = (low - up) @ columns, self.levels[r]
            slope[:, own] += sds[:, [r]] * by_level
            slope[:, self.sds.start + r] += sd_slopes[:, r] * (by_level * at[:, own]).sum(axis=1)
        squares = (at[:, self.cuts.stop :] ** 2).sum(axis=1)
        squares = squares + (cuts**2).sum(axis=1) / self.prior.threshold_sd**2
        logs = value.sum(axis=1) + weight * pseudo.sum(axis=1) + np.log(gaps).sum(axis=1)
        return logs - 0.5 * squares, slope


def log_shares(upper: np.ndarray, lower: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return log Phi(upper) - Phi(lower), and the densities there over that difference."""
    mirror = upper + lower > 0.0
    high = log_ndtr(np.where(mirror, -lower, upper))
    below = log_ndtr(np.where(mirror, -upper, lower))
    value = high + np.log(-np.expm1(below - high))
    log_normal = -0.5 * np.log(2.0 * np.pi) - value
    return value, np.exp(log_normal - 0.5 * upper**2), np.exp(log_normal - 0.5 * lower**2)


def walk(chains: Chains, rng: np.random.Generator) -> np.ndarray:
    """Return places (KEPT, CHAINS, size) after warming up."""
    at = rng.normal(0.0, 0.3, (CHAINS, chains.size))
    at[:, 0] -= 1.0
    (height, slope), step, scale = chains.look(at), 0.1, np.ones(chains.size)
    kept = []
    for turn in range(WARM + KEPT):
        push = start = rng.normal(size=at.shape)
        there, there_slope, reach = at, slope, step * rng.uniform(0.7, 1.3, (CHAINS, 1)) * scale
        for _ in range(rng.integers(LEAPS // 2, LEAPS + LEAPS // 2 + 1)):
            push = push + 0.5 * reach * there_slope
            there = there + reach * push
            there_height, there_slope = chains.look(there)
            push = push + 0.5 * reach * there_slope
        gain = there_height - height + 0.5 * (start**2 - push**2).sum(axis=1)
        taken = np.log(rng.random(CHAINS)) < np.where(np.isfinite(gain), gain, -np.inf)
        at = np.where(taken[:, None], there, at)
        height, slope = (
            np.where(taken, there_height, height),
            np.where(taken[:, None], there_slope, slope),
        )
        if turn >= WARM:
            kept.append(at)
            continue
        step *= np.exp(0.1 * (taken.mean() - 0.8))
        if turn > 50 and turn % 20 == 0:
            scale = np.sqrt(at.var(axis=0) + 1e-3)
            scale = scale / np.exp(np.log(scale).mean())
    return np.array(kept)


def told(chains: Chains, places: np.ndarray) -> np.ndarray:
    """Return coffees less the first, then the random factors' deviations: (draws, numbers)."""
    flat = places.reshape(-1, chains.size)
    own = chains.spreads(flat)[0] * flat[:, chains.coffees]
    return np.hstack([own[:, 1:] - own[:, :1], chains.deviations(flat)[0]])


def main() -> None:
    for name, table in TABLES.items():
        chains = Chains(table)
        with np.errstate(all="ignore"):
            places = walk(chains, np.random.default_rng(0))
        draws = told(chains, places)
        means = draws.reshape(*places.shape[:2], -1).mean(axis=0)
        errors = means.std(axis=0, ddof=1) / np.sqrt(CHAINS)
        random = {f"random {r}": codes for r, codes in enumerate(table.random)}
        categories = [str(k + 1) for k in range(table.categories)]
        fit = fit_ordinal(table.ratings, {"coffee": table.coffee}, random, categories=categories)
        print(f"\n{name}: mean (standard error), sd and chance of being above zero; ours")
        for column, what in enumerate(fit.names[table.categories - 1 :]):
            own, ours = draws[:, column], fit.interval(what)
            above = fit.posterior.chance_above(np.eye(len(fit.names))[fit.names.index(what)])
            print(
                f"  {what:12} {own.mean():.4f} ({errors[column]:.4f}) {own.std():.4f} "
                f"{(own > 0).mean():.4f}; {ours.mean:.4f} {ours.se:.4f} {above:.4f}"
            )


if __name__ == "__main__":
    assert abs(gammainc(SHAPE, 0.5 * spread(np.array(0.0), 1.0) ** 2) - 0.5) < 1e-9
    main()
