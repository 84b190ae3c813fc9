"""The category likelihood's own promises: derivatives, shapes, tails."""

from collections.abc import Callable, Iterable
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import expit, ndtr

from twobowls.errors import InputError
from twobowls.statistics.ordinal_blocks import Layout, assemble, lay_out
from twobowls.statistics.ordinal_design import build_design
from twobowls.statistics.ordinal_inputs import read_factors, read_numbers, read_ratings
from twobowls.statistics.ordinal_likelihood import Problem, drift, joint_curvature, marginal, pose
from twobowls.statistics.ordinal_link import FAR, LINKS, bends, curves, log_shares, slopes
from twobowls.statistics.ordinal_optimise import Place, Target, climb
from twobowls.statistics.ordinal_prior import OrdinalPrior, penalise

Array = NDArray[np.float64]
UPPER = np.array([0.3, 1.2, FAR, -2.0, 5.0, -6.0])
LOWER = np.array([-0.5, 0.4, 0.1, -FAR, 4.0, -7.0])
SIDE = 1e-5


def differences(function: Callable[[Array], Array], at: Array, side: float = SIDE) -> Array:
    """Central differences of a function of k numbers: (..., k)."""
    steps = side * np.eye(at.size)
    return np.stack([(function(at + e) - function(at - e)) / (2 * side) for e in steps], axis=-1)


@pytest.mark.parametrize("name", ["probit", "logit"])
def test_each_derivative_is_the_slope_of_the_one_before(name: str) -> None:
    link = LINKS[name]

    def at(du: float, dl: float) -> Array:
        first = slopes(link, UPPER + du, LOWER + dl)
        second = curves(link, first)
        return np.array([first.value, first.a, first.b, second.eta])

    by_upper = (at(SIDE, 0) - at(-SIDE, 0)) / (2 * SIDE)
    by_lower = (at(0, SIDE) - at(0, -SIDE)) / (2 * SIDE)
    first = slopes(link, UPPER, LOWER)
    second, third = curves(link, first), bends(link, first)
    near, far = UPPER < FAR, LOWER > -FAR  # an edge at infinity has no slope to compare
    for ours, theirs in zip((first.a, second.aa, second.ab, third.a), by_upper, strict=True):
        ours = -ours if ours is second.ab else ours
        np.testing.assert_allclose(ours[near], theirs[near], rtol=1e-5, atol=1e-8)
    for ours, theirs in zip((-first.b, second.ab, -second.bb, third.b), by_lower, strict=True):
        np.testing.assert_allclose(ours[far], theirs[far], rtol=1e-5, atol=1e-8)


@pytest.mark.parametrize("name", ["probit", "logit"])
def test_shares_are_the_integral_of_the_density_wherever_the_edges_lie(name: str) -> None:
    link = LINKS[name]
    nodes, weights = np.polynomial.legendre.leggauss(20)
    for low in (-36.0, -12.0, -3.0, -0.3, 0.0, 0.2, 4.0, 30.0):
        for width in (1e-4, 9e-4, 1.2e-3, 0.05, 0.7, 3.0, 40.0):
            high = low + width
            ends = np.linspace(low, high, 401)
            half = 0.5 * np.diff(ends)[:, None]
            x = ends[:-1, None] + half * (nodes + 1.0)
            logs = link.log_density(x)
            whole = np.log(np.sum(np.exp(logs - logs.max()) * half * weights)) + logs.max()
            ours = float(log_shares(link, np.array([high]), np.array([low]))[0])
            # a difference of logs of up to 650 loses up to ten of sixteen digits here
            assert ours == pytest.approx(whole, abs=1e-9)


@pytest.mark.parametrize(("name", "cdf"), [("probit", ndtr), ("logit", expit)])
def test_a_category_has_the_probability_between_its_edges(name: str, cdf: np.ufunc) -> None:
    value = slopes(LINKS[name], UPPER, LOWER).value
    np.testing.assert_allclose(np.exp(value), cdf(UPPER) - cdf(LOWER), rtol=1e-9)


def test_tails_are_mirror_images_and_stay_finite() -> None:
    link = LINKS["probit"]
    high = slopes(link, np.array([31.0]), np.array([30.0]))
    low = slopes(link, np.array([-30.0]), np.array([-31.0]))
    assert high.value[0] == low.value[0]
    # log(1 - Phi(30)) from the tail expansion -x^2/2 - log(x sqrt(2 pi)) - 1/x^2
    assert high.value[0] == pytest.approx(
        -450 - np.log(30 * np.sqrt(2 * np.pi)) - 1 / 900, abs=1e-5
    )


def problem(link: str, factors: str, nodes: int = 1, thresholds: str = "flexible") -> Problem:
    rng = np.random.default_rng(11)
    taster = np.repeat(np.arange(6), 8)
    coffee = np.tile(np.repeat(np.arange(4), 2), 6)
    bowl = np.tile(np.arange(8), 6)
    level = 0.7 * rng.normal(size=6)[taster] + 0.4 * coffee + rng.normal(size=48)
    ratings = read_ratings(np.digitize(level, [-0.5, 0.4, 1.2, 2.0]) + 1, None)
    columns: dict[str, Iterable[object]] = {
        "t": taster,
        "tc": [f"{t}:{c}" for t, c in zip(taster, coffee, strict=True)],
    }
    columns["b"] = bowl
    random = {name: columns[name] for name in factors.split()}
    design = build_design(
        ratings,
        read_factors("fixed", {"coffee": coffee}, 48),
        read_numbers({"age": rng.normal(size=48)}, 48),
        read_factors("random", random, 48),
        thresholds,  # type: ignore[arg-type]
    )
    return pose(design, LINKS[link], nodes)


def parameters(posed: Problem) -> Array:
    middle = [-0.6, 0.5, 1.3, 2.2] if posed.design.basis.shape[1] == 4 else [-0.6, 0.9]
    sds = [0.6, 0.4, 0.3][: len(posed.design.random)]
    return np.array([*middle, 0.3, 0.5, 1.1, -0.2, *sds])


CASES = [("t", 1), ("t", 2), ("t", 7), ("t tc", 1), ("t b", 1), ("b t tc", 1), ("", 1)]


@pytest.mark.parametrize("link", ["probit", "logit"])
@pytest.mark.parametrize("thresholds", ["flexible", "equidistant"])
@pytest.mark.parametrize(("factors", "nodes"), CASES)
def test_the_gradient_is_the_slope_of_the_marginal_likelihood(
    link: str, thresholds: str, factors: str, nodes: int
) -> None:
    posed = problem(link, factors, nodes, thresholds)
    at, split = parameters(posed), posed.effects
    start = np.zeros(posed.layout.size)

    def value(point: Array) -> Array:
        found = marginal(posed, point[:split], point[split:], start, 1e-12)
        assert found is not None
        return np.array(found.value)

    found = marginal(posed, at[:split], at[split:], start, 1e-12)
    assert found is not None
    np.testing.assert_allclose(found.gradient, differences(value, at), atol=2e-8)


@pytest.mark.parametrize("factors", ["t", "t tc", "t b", "b t tc"])
def test_the_modes_move_as_the_implicit_function_says(factors: str) -> None:
    posed = problem("probit", factors)
    at, split = parameters(posed), posed.effects

    def effects(point: Array) -> Array:
        start = np.zeros(posed.layout.size)
        found = marginal(posed, point[:split], point[split:], start, 1e-12)
        assert found is not None
        return found.modes.effects

    found = marginal(posed, at[:split], at[split:], np.zeros(posed.layout.size), 1e-12)
    assert found is not None
    np.testing.assert_allclose(drift(posed, found.modes), differences(effects, at), atol=1e-8)


def test_without_random_effects_the_curvature_is_exact() -> None:
    posed = problem("logit", "")
    at = parameters(posed)

    def gradient(point: Array) -> Array:
        found = marginal(posed, point, np.zeros(0), np.zeros(0))
        assert found is not None
        return found.gradient

    found = marginal(posed, at, np.zeros(0), np.zeros(0))
    assert found is not None
    exact = joint_curvature(posed, found.modes)
    np.testing.assert_allclose(exact, differences(gradient, at), atol=1e-7)


@pytest.mark.parametrize(("factors", "nodes"), [("t", 1), ("t", 7), ("b t tc", 1)])
@pytest.mark.parametrize("prior", [None, OrdinalPrior()])
def test_the_curvature_is_the_slope_of_the_gradient(
    factors: str, nodes: int, prior: OrdinalPrior | None
) -> None:
    posed = problem("probit", factors, nodes)
    free = np.ones(posed.parameters, dtype=bool)
    target = Target(posed, penalise(posed.design, posed.link, prior), free)
    start = np.zeros(posed.layout.size)

    def gradient(point: Array) -> Array:
        found = target.look(point, start, 1e-12)
        assert found is not None
        return found.gradient

    place = target.look(parameters(posed), start, 1e-12)
    assert place is not None
    exact = differences(gradient, parameters(posed))
    scale = np.sqrt(np.outer(np.diag(exact), np.diag(exact)))
    np.testing.assert_allclose(target.curvature(place) / scale, exact / scale, atol=3e-5)


def test_the_likelihood_is_even_in_every_standard_deviation() -> None:
    posed = problem("probit", "t b")
    at, split = parameters(posed), posed.effects
    start = np.zeros(posed.layout.size)
    one = marginal(posed, at[:split], at[split:], start, 1e-12)
    other = marginal(posed, at[:split], at[split:] * [-1, 1], start, 1e-12)
    assert one is not None
    assert other is not None
    assert one.value == pytest.approx(other.value, abs=1e-12)


def test_thresholds_out_of_order_have_no_likelihood() -> None:
    posed = problem("probit", "t")
    at = parameters(posed)
    at[0] = 0.5
    assert marginal(posed, at[:-1], at[-1:], np.zeros(posed.layout.size)) is None


@pytest.mark.parametrize("prior", [None, OrdinalPrior()])
def test_the_penalty_has_the_slope_and_curvature_it_says(prior: OrdinalPrior | None) -> None:
    posed = problem("probit", "t b")
    penalty = penalise(posed.design, posed.link, prior)
    at, split = parameters(posed), posed.effects

    def value(point: Array) -> Array:
        return np.array(penalty.of(point[:split], point[split:])[0])

    def slope(gamma: Array) -> Array:
        return penalty.of(gamma, at[split:])[1][:split]

    gradient = penalty.of(at[:split], at[split:])[1]
    np.testing.assert_allclose(gradient, differences(value, at), atol=1e-8)
    curvature = differences(slope, at[:split])
    np.testing.assert_allclose(penalty.curvature(at[:split]), curvature, atol=1e-8)


def test_the_prior_of_effects_treats_all_levels_alike() -> None:
    posed = problem("probit", "")
    penalty = penalise(posed.design, posed.link, OrdinalPrior(effect_sd=1.5))
    covariance = np.linalg.inv(penalty.precision)[4:7, 4:7]
    # differences from a reference of four exchangeable levels: twice the variance, half shared
    np.testing.assert_allclose(covariance, 1.5**2 * (np.eye(3) + 1), rtol=1e-12)


def test_the_climb_ends_where_the_gradient_is_zero() -> None:
    posed = problem("logit", "b t tc")
    free = np.ones(posed.parameters, dtype=bool)
    target = Target(posed, penalise(posed.design, posed.link, None), free)
    top = climb(target, parameters(posed), np.zeros(posed.layout.size))
    assert top is not None
    assert top.settled
    assert np.abs(top.place.gradient).max() < 1e-6


def dense(layout: Layout, rows: Array, scale: Array) -> Array:
    design = np.zeros((rows.size, layout.size))
    for at, sd in zip(layout.at, scale, strict=True):
        design[np.arange(rows.size), at] += sd
    return np.eye(layout.size) + design.T @ (rows[:, None] * design)


@pytest.mark.parametrize("factors", ["t", "t tc", "t b", "b t tc"])
def test_blocks_and_border_agree_with_the_dense_matrix(factors: str) -> None:
    layout = problem("probit", factors).layout
    rng = np.random.default_rng(2)
    rows, scale = rng.uniform(size=layout.at[0].size), rng.uniform(0.5, 2, len(layout.at))
    full = dense(layout, rows, scale)
    inverse = np.linalg.inv(full)
    factored = assemble(layout, rows, scale)
    right = rng.normal(size=(layout.size, 3))
    assert factored.log_det == pytest.approx(np.linalg.slogdet(full)[1])
    np.testing.assert_allclose(factored.solve(right), inverse @ right, atol=1e-12)
    np.testing.assert_allclose(factored.solve(right[:, 0]), inverse @ right[:, 0], atol=1e-12)
    np.testing.assert_allclose(factored.inverse().diagonal(), np.diag(inverse), atol=1e-12)
    for r, at_r in enumerate(layout.at):
        for s, at_s in enumerate(layout.at):
            ours = factored.inverse().between(r, s)
            np.testing.assert_allclose(ours, inverse[at_r, at_s], atol=1e-12)


def test_nested_factors_stay_in_their_tasters_block() -> None:
    tasters = np.repeat(np.arange(50), 4)
    cells = np.arange(200)
    layout = lay_out([tasters, cells, np.tile(np.arange(4), 50)], [50, 200, 4])
    assert (layout.blocks, layout.width, layout.border) == (50, 5, 4)


def test_factors_that_cross_everywhere_are_refused() -> None:
    rng = np.random.default_rng(0)
    levels = [rng.permutation(20_000) for _ in range(2)]
    levels = [np.concatenate([each, rng.permutation(20_000)]) for each in levels]
    with pytest.raises(InputError, match="random: These factors cross in too many places"):
        lay_out(levels, [20_000, 20_000])


class Rough:
    """A valley whose floor lies so high that no step's gain shows; its gradient is a little off."""

    free = np.ones(2, dtype=bool)
    problem = SimpleNamespace(layout=SimpleNamespace(size=1))

    def __init__(self) -> None:
        self.looks = 0

    def look(self, at: Array, effects: Array) -> Place:
        self.looks += 1
        modes: Any = SimpleNamespace(modes=SimpleNamespace(effects=effects))
        return Place(at, 1e6 + 0.5 * float(at @ at), at + 1e-4, modes)

    def first_curvature(self, place: Place) -> Array:
        return np.eye(place.at.size)


def test_a_climb_ends_where_rounding_hides_the_slope() -> None:
    target: Any = Rough()
    top = climb(target, np.zeros(2), np.zeros(1), sharpen=False)
    assert top is not None
    np.testing.assert_allclose(top.parameters, 0.0, atol=1e-4)
    assert target.looks < 50  # one at a time, towards nowhere, there were hundreds
