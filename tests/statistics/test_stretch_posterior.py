"""The posterior of stretches: against normal densities, and a plain chain over all there is."""

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.stretch_posterior import (
    DEVIATION_SCALE,
    NOISE_LOG_SD,
    StretchParts,
    _Chains,
    across,
    deviations,
    draw_stretches,
)

ERROR, COFFEE = 30.0, 150.0  # variances of a taster's mean, and of coffees


def marks(tasters: int, coffees: int, seed: int) -> FloatArray:
    rng = np.random.default_rng(seed)
    stretch, coffee = rng.normal(1.0, 0.5, tasters), rng.normal(0.0, 12.0, coffees)
    y = rng.normal(50.0, 10.0, (tasters, 1)) + stretch[:, None] * coffee
    return np.asarray(y + rng.normal(0.0, 5.5, y.shape))


def parts_of(sensations: list[FloatArray]) -> StretchParts:
    tasters, coffees = sensations[0].shape
    own = across(np.full((tasters, coffees), 1.0 / ERROR))
    pull = np.array([np.einsum("icd,id->ic", own, y) for y in sensations])
    return StretchParts(
        weight=np.array([own] * len(sensations)),
        pull=pull,
        precision=np.full((len(sensations), coffees), 1.0 / COFFEE),
        quadratic=float((pull * np.array(sensations)).sum()),
        rank=len(sensations) * tasters * (coffees - 1),
    )


def test_deviation_and_noise_are_as_likely_as_the_normal_density_says() -> None:
    # given the coffees, differences of one taster's marks are normal, with the stretch's variance
    y, other = marks(4, 3, 1), marks(4, 3, 2)
    chains = _Chains(parts_of([y, other]), np.random.default_rng(3))
    coffee = np.random.default_rng(4).normal(0, 12, (2, 3))
    apart = np.array([[1.0, -1, 0], [0, 1, -1]])
    stretched = np.concatenate([apart @ each for each in coffee])
    slips = np.kron(np.eye(2), ERROR * apart @ apart.T)
    rows = np.concatenate([y @ apart.T, other @ apart.T], axis=1)
    z = np.array([[-1.0, 0.5], [0.3, -1.2], [1.5, 2.0], [0.0, 0.0]])
    expected = []
    for (inner, outer), deviation in zip(z, deviations(z[:, 0]), strict=True):
        covariance = np.exp(NOISE_LOG_SD * outer) * slips
        covariance += deviation**2 * np.outer(stretched, stretched)
        likely = multivariate_normal(stretched, covariance).logpdf(rows).sum()
        expected.append(likely - 0.5 * (inner**2 + outer**2))
    power = np.einsum("pc,ptcd,pd->t", coffee, chains.parts.weight, coffee)
    along = np.einsum("pc,ptc->t", coffee, chains.parts.pull)
    found = chains._height(z, np.tile(power, (4, 1)), np.tile(along, (4, 1)))
    assert found - found[-1] == pytest.approx(np.array(expected) - expected[-1], abs=1e-8)


def test_deviations_are_half_normal_beforehand() -> None:
    z = np.linspace(-2, 3, 6)  # far below, deviations as good as none are held at a thousandth
    half = 2.0 * norm(scale=DEVIATION_SCALE).cdf(deviations(z)) - 1.0
    assert half == pytest.approx(norm.cdf(z), rel=1e-9)


def plain_chain(y: FloatArray, sweeps: int, rng: np.random.Generator) -> FloatArray:
    """Draw one by one, levels too, with grids for deviation and noise: (draws, T + 2).

    Stretches over their mean, the deviation, the noise.
    """
    chains, (tasters, coffees) = 60, y.shape
    stretch, coffee = np.ones((chains, tasters)), np.tile(y.mean(axis=0) - y.mean(), (chains, 1))
    deviation, noise = np.full(chains, 0.3), np.ones(chains)
    deviation_grid, noise_grid = np.linspace(0.003, 2.4, 600), np.exp(np.linspace(-3, 3, 600))
    kept = []
    for sweep in range(sweeps):
        error = noise * ERROR
        level = (y - stretch[:, :, None] * coffee[:, None]).mean(axis=2)
        level += rng.standard_normal(level.shape) * np.sqrt(error / coffees)[:, None]
        off = y - level[:, :, None]
        precision = (stretch**2).sum(axis=1) / error + 1.0 / COFFEE
        coffee = (off * stretch[:, :, None]).sum(axis=1) / (error * precision)[:, None]
        coffee += rng.standard_normal(coffee.shape) / np.sqrt(precision)[:, None]
        own = (coffee**2).sum(axis=1) / error + deviation**-2.0
        pull = (off * coffee[:, None]).sum(axis=2) / error[:, None] + deviation[:, None] ** -2.0
        stretch = pull / own[:, None]
        stretch += rng.standard_normal(stretch.shape) / np.sqrt(own)[:, None]
        spread = ((stretch - 1.0) ** 2).sum(axis=1)[:, None]
        logs = -tasters * np.log(deviation_grid) - 0.5 * spread / deviation_grid**2
        logs -= 0.5 * (deviation_grid / DEVIATION_SCALE) ** 2
        deviation = _from_grid(deviation_grid, logs, rng)
        left = ((off - stretch[:, :, None] * coffee[:, None]) ** 2).sum(axis=(1, 2))[:, None]
        logs = -0.5 * left / (ERROR * noise_grid) - 0.5 * y.size * np.log(noise_grid)
        logs -= 0.5 * (np.log(noise_grid) / NOISE_LOG_SD) ** 2
        noise = _from_grid(noise_grid, logs, rng)
        if sweep >= sweeps // 5:
            relative = stretch / stretch.mean(axis=1, keepdims=True)
            kept.append(np.column_stack([relative, deviation, noise]))
    return np.concatenate(kept)


def _from_grid(grid: FloatArray, logs: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Draw from log densities (chains, grid), up to constants, over an even grid or its log."""
    sums = np.cumsum(np.exp(logs - logs.max(axis=1, keepdims=True)), axis=1)
    place = (sums < rng.uniform(size=(len(logs), 1)) * sums[:, -1:]).sum(axis=1)
    return np.asarray(grid[place])


def test_draws_are_those_of_a_plain_chain_over_everything() -> None:
    y = marks(5, 5, 6)
    theirs = plain_chain(y, 1500, np.random.default_rng(1))
    runs = [draw_stretches(parts_of([y]), np.random.default_rng(seed)) for seed in range(6)]
    ours = np.concatenate(
        [
            np.column_stack(
                [each.stretch / each.stretch.mean(axis=1)[:, None], each.deviation, each.noise]
            )
            for each in runs
        ]
    )
    sd = theirs.std(axis=0)
    # Draws of a chain go together: a thousand independent ones at least on either side, so that a
    # standard error is at most 0.045 of a standard deviation for means, and twice that for outer
    # quantiles; four of these.
    assert np.all(np.abs(ours.mean(axis=0) - theirs.mean(axis=0)) < 0.18 * sd)
    for share in (0.05, 0.5, 0.95):
        apart = np.quantile(ours, share, axis=0) - np.quantile(theirs, share, axis=0)
        assert np.all(np.abs(apart) < 0.36 * sd)
