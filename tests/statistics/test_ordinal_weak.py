"""The weak prior of the category model: against brute force, and honest on small tables."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import gamma, ndtr
from tests.statistics.ordinal_values import wine

from twobowls.statistics.ordinal import OrdinalFit, OrdinalPrior, fit_ordinal
from twobowls.statistics.ordinal_bell import Fitter
from twobowls.statistics.ordinal_design import Design, build_design
from twobowls.statistics.ordinal_inputs import Codes, read_factors, read_ratings
from twobowls.statistics.ordinal_likelihood import pose
from twobowls.statistics.ordinal_link import LINKS
from twobowls.statistics.ordinal_means import category_contrasts
from twobowls.statistics.ordinal_optimise import Target, Top, climb
from twobowls.statistics.ordinal_prior import penalise
from twobowls.statistics.ordinal_scales import candidates, deviation, find_axis, lay_points
from twobowls.statistics.ordinal_stretch import Stretch
from twobowls.statistics.spread_prior import spread

Array = NDArray[np.float64]
PRIOR = OrdinalPrior()


def exact_difference(first: list[int], second: list[int]) -> tuple[float, float, float]:
    """Mean, sd and chance of being positive of what the second coffee has more, by a grid.

    Three categories and no tasters: two thresholds, a difference, and its spread.
    """
    low = np.linspace(-6.0, 6.0, 73)
    line = np.linspace(-1.0, 1.0, 120)
    apart, step = 14.0 * np.sinh(6.0 * line) / np.sinh(6.0), np.cosh(6.0 * line)  # fine near zero
    spread = np.geomspace(1e-4, 9.0, 600)[:, None]
    # the normal's 1 / spread goes against the grid's own width, a constant share of the spread
    normal = np.exp(-0.25 * (apart / spread) ** 2 - 0.5 * (spread / PRIOR.effect_sd) ** 2)
    normal *= spread ** (-1.0 / 3.0)
    one, two, d = np.meshgrid(low, low, apart, indexing="ij")
    middle = d * len(second) / (len(first) + len(second))

    def log_shares(shift: Array) -> list[Array]:
        below, above = ndtr(one - shift), ndtr(two - shift)
        with np.errstate(divide="ignore"):
            return [np.log(each.clip(0.0)) for each in (below, above - below, 1.0 - above)]

    logs = -0.5 * ((one - middle) ** 2 + (two - middle) ** 2) / PRIOR.threshold_sd**2
    logs += np.log(normal.sum(axis=0)) + np.mean(log_shares(middle), axis=0)
    for ratings, shares in ((first, log_shares(0.0 * d)), (second, log_shares(d))):
        logs += sum(shares[each - 1] for each in ratings)
    weights = np.where(one < two, np.exp(logs - logs[one < two].max()), 0.0).sum(axis=(0, 1))
    weights *= step
    weights /= weights.sum()
    mean = float(weights @ apart)
    return mean, float(np.sqrt(weights @ (apart - mean) ** 2)), float(weights[apart > 0].sum())


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ([1, 2, 1, 2, 3], [2, 3, 3, 2, 3]),
        ([1, 2, 3], [2, 2, 3, 1]),
        ([1, 1, 2, 1, 1, 2, 1, 1], [2, 3, 3, 2, 3, 3, 3, 2]),
        ([2, 1], [3]),
    ],
)
def test_small_tables_agree_with_brute_force(first: list[int], second: list[int]) -> None:
    coffee = ["A"] * len(first) + ["B"] * len(second)
    fit = fit_ordinal([*first, *second], {"coffee": coffee}, categories=["1", "2", "3"])
    mean, sd, chance = exact_difference(first, second)
    ours = fit.interval("coffee=B")
    # four standard errors of 1,000 independent draws would be 0.13 and 9 %; even points do better
    assert ours.mean == pytest.approx(mean, abs=0.04 * sd)
    assert ours.se == pytest.approx(sd, rel=0.04)
    above = fit.posterior.chance_above(np.eye(len(fit.names))[fit.names.index("coffee=B")])
    assert above == pytest.approx(chance, abs=0.01)


@pytest.mark.parametrize(
    ("ratings", "coffee", "random", "kinds", "expected"),
    [
        (
            [1, 2, 2, 1, 3, 2, 3, 4, 3, 2, 4, 4],
            [0] * 6 + [1] * 6,
            [[0, 1, 2] * 4],
            4,
            {"coffee=1": (2.5584, 0.9944, 0.9970), "sd random 0": (1.1279, 0.5255, 1.0)},
        ),
        (
            [1, 2, 1, 2, 3, 4, 5, 5, 4, 5],
            [0] * 5 + [1] * 5,
            [[0] * 10],
            5,
            {"coffee=1": (3.2428, 1.1297, 0.9988), "sd random 0": (0.6499, 0.5179, 1.0)},
        ),
        (
            [1, 3, 3, 5, 2, 2, 4, 4, 1, 4, 1, 3, 3, 5, 4, 5, 2, 2, 5, 3, 1, 2, 3, 5],
            [0, 1, 2, 3] * 6,
            [[each // 4 for each in range(24)], list(range(24))],
            5,
            {
                "coffee=1": (1.5128, 0.9551, 0.9588),
                "coffee=2": (1.7470, 1.0120, 0.9712),
                "coffee=3": (2.7057, 1.2663, 0.9894),
                "sd random 0": (0.6128, 0.4160, 1.0),
                "sd random 1": (0.9016, 0.5613, 1.0),
            },
        ),
    ],
)
def test_posteriors_agree_with_chains(
    ratings: list[int],
    coffee: list[int],
    random: list[list[int]],
    kinds: int,
    expected: dict[str, tuple[float, float, float]],
) -> None:
    # python -m benchmarks.ordinal_chains, 28 November 2026: 200 Hamiltonian chains of 600 places,
    # means known to 0.007. Ours are worth some 1,000 draws: 0.03 sd, 2 % and 0.003 once each.
    fit = fit_ordinal(
        ratings,
        {"coffee": coffee},
        {f"random {r}": codes for r, codes in enumerate(random)},
        categories=[str(k + 1) for k in range(kinds)],
    )
    for name, (mean, sd, chance) in expected.items():
        ours = fit.interval(name)
        assert ours.mean == pytest.approx(mean, abs=0.08 * sd)
        assert ours.se == pytest.approx(sd, rel=0.06)
        if name.startswith("coffee"):
            above = fit.posterior.chance_above(np.eye(len(fit.names))[fit.names.index(name)])
            assert above == pytest.approx(chance, abs=0.01)


def test_the_prior_of_a_spread_is_a_standard_normal_in_z() -> None:
    z = np.linspace(-1.5, 3.0, 13)
    np.testing.assert_allclose(below_spread(z), ndtr(z), atol=1e-6)


def below_spread(z: Array) -> list[float]:
    """Prior probabilities below `spread`, by integrating its density."""
    whole = 2.0 ** (1 / 3 - 1) * gamma(1 / 3)
    ends = spread(z, 1.0)
    return [
        quad(lambda s: s ** (-1 / 3) * np.exp(-0.5 * s * s), 0.0, end)[0] / whole for end in ends
    ]


def test_the_half_normal_prior_is_a_standard_normal_in_z() -> None:
    z = np.linspace(-3.0, 3.0, 13)
    sd = deviation(z, 2.0)
    np.testing.assert_allclose(2.0 * ndtr(sd / 2.0) - 1.0, ndtr(z), atol=1e-12)


@pytest.mark.parametrize("dimensions", [1, 2, 3, 5])
def test_points_sum_a_density_whose_mode_and_widths_are_known(dimensions: int) -> None:
    # a likelihood that knows the spread to be near 1 at a prior scale of 2
    axis = find_axis(-0.5 * ((candidates(2.0) - 1.0) / 0.4) ** 2, 2.0)
    z, logs = lay_points([axis] * dimensions)
    spreads = spread(z, 2.0)
    heights = logs - 0.5 * (z**2).sum(axis=1) - 0.5 * (((spreads - 1.0) / 0.4) ** 2).sum(axis=1)
    weights = np.exp(heights - heights.max())
    mean = weights @ spreads / weights.sum()
    fine = np.linspace(0.0, 6.0, 6001)[1:]
    exact = np.exp(-0.5 * ((fine - 1.0) / 0.4) ** 2 - 0.5 * (fine / 2.0) ** 2) * fine ** (-1 / 3)
    # they say where bells are fitted; weights that are exact come later
    np.testing.assert_allclose(mean, fine @ exact / exact.sum(), rtol=0.06)


def false_claims(known: float) -> float:
    """Share of clear claims about two equal coffees whose difference is known to ``known``."""
    z = np.linspace(-8.0, 6.0, 1401)
    variance = 2.0 * spread(z, PRIOR.effect_sd) ** 2

    def chance(seen: float) -> float:
        total = variance + known**2
        logs = -0.5 * z**2 - 0.5 * np.log(total) - 0.5 * seen**2 / total
        weights = np.exp(logs - logs.max())
        kept = variance / total
        return float(weights @ ndtr(np.sqrt(kept) * seen / known) / weights.sum())

    seen = brentq(lambda each: chance(each) - 0.99, 0.0, 10.0 * known)
    return float(2.0 * ndtr(-seen / known))


@pytest.mark.parametrize("known", [1.0, 0.3, 0.1, 0.03, 0.01])
def test_the_prior_keeps_false_claims_below_their_bound(known: float) -> None:
    # the bound is that of a density of power -1/3 at every scale: no more can be known
    def side(seen: float) -> float:
        return float(quad(lambda d: d ** (-1 / 3) * np.exp(-0.5 * (d - seen) ** 2), 0, 12)[0])

    def chance(seen: float) -> float:
        return side(seen) / (side(seen) + side(-seen))

    bound = 2.0 * ndtr(-brentq(lambda each: chance(each) - 0.99, 1.0, 5.0))
    assert bound == pytest.approx(0.0077, abs=5e-5)
    assert false_claims(known) < bound


def design(thresholds: str, ratings: list[int]) -> Design:
    """Two coffees, three tasters, five categories."""
    columns = {"coffee": ["A", "B"] * (len(ratings) // 2)}
    tasters = {"taster": ["Ines", "Tomas", "Wen"] * (len(ratings) // 3)}
    return build_design(
        read_ratings(ratings, ["1", "2", "3", "4", "5"]),
        read_factors("fixed", columns, len(ratings)),
        {},
        read_factors("random", tasters, len(ratings)),
        thresholds,  # type: ignore[arg-type]
    )


RATINGS = [1, 2, 3, 4, 5, 5]


@pytest.mark.parametrize("thresholds", ["flexible", "equidistant"])
def test_stretched_parameters_come_back_and_have_the_slope_they_say(thresholds: str) -> None:
    stretch = Stretch.of(design(thresholds, RATINGS), 1.0, 1.0)
    thresholds_at = [-1.0, -0.2, 0.4, 2.0] if thresholds == "flexible" else [-1.0, 0.6]
    at = np.array([*thresholds_at, 0.7, 0.5])
    there = stretch.forth(at)
    np.testing.assert_allclose(stretch.back(there), at, atol=1e-12)
    slope = stretch.slope(there)
    for column, side in enumerate(1e-6 * np.eye(at.size)):
        change = (stretch.back(there + side) - stretch.back(there - side)) / 2e-6
        np.testing.assert_allclose(slope[:, column], change, atol=1e-8)


def wide_target(ratings: list[int]) -> tuple[Target, Fitter, Top]:
    made = design("flexible", ratings)
    problem = pose(made, LINKS["probit"], 1)
    target = Target(problem, penalise(made, LINKS["probit"], PRIOR), np.ones(6, dtype=bool))
    start = np.array([-1.0, 0.0, 1.0, 2.0, 0.3, 0.5])
    top = climb(target, start, np.zeros(problem.layout.size))
    assert top is not None
    return target, Fitter(target, Stretch.of(made, PRIOR.random_sd, 1.0)), top


def test_a_stretched_look_has_the_slope_it_says() -> None:
    _, fitter, top = wide_target([1, 2, 2, 3, 3, 4, 2, 3, 4, 5, 5, 1] * 2)
    effects = top.place.plain.modes.effects
    at = fitter.stretch.forth(top.parameters) + 0.1
    here = fitter.look(at, effects)
    assert here is not None
    for column, side in enumerate(1e-5 * np.eye(6)):
        ahead, behind = fitter.look(at + side, effects), fitter.look(at - side, effects)
        assert ahead is not None
        assert behind is not None
        slope = (ahead.value - behind.value) / 2e-5
        assert here.gradient[column] == pytest.approx(slope, abs=2e-3)


def test_a_bell_bounds_the_integral_from_below_and_beats_the_first_guess() -> None:
    _, fitter, top = wide_target([1, 2, 2, 3, 3, 4, 2, 3, 4, 5, 5, 1])
    plain = fitter.plain(top)
    assert plain is not None
    bell = fitter.fit(plain, top.place.plain.modes.effects)
    assert bell is not None
    # importance sampling from a wider copy of the bell: the integral itself
    rng = np.random.default_rng(3)
    root = np.linalg.cholesky(1.5 * np.linalg.inv(bell.curvature))
    z = rng.normal(size=(3000, 6))
    logs = []
    for each in z:
        place = fitter.look(bell.at + root @ each, top.place.plain.modes.effects)
        logs.append(-np.inf if place is None else 0.5 * float(each @ each) - place.value)
    weights = np.exp(np.array(logs) - max(logs))
    exact = float(np.log(weights.mean()) + max(logs) + np.log(np.diag(root)).sum())
    error = weights.std() / weights.mean() / np.sqrt(weights.size)
    assert error < 0.05
    assert exact - 0.4 < bell.log_integral < exact + 4 * error
    draws = np.array([bell.at + root @ each for each in z])
    mean = weights @ draws / weights.sum()
    sd = np.sqrt(weights @ (draws - mean) ** 2 / weights.sum())
    assert np.abs((bell.at - mean) / sd).max() < 0.2
    assert np.abs((plain.at - mean) / sd).max() > np.abs((bell.at - mean) / sd).max()


def table(rng: np.random.Generator, coffees: int, spread: float) -> tuple[Array, list[Codes]]:
    """Five tasters rate each coffee once in five categories, all drawn from the prior."""
    truth = rng.normal(0.0, spread, coffees)
    while True:
        cuts = np.sort(rng.normal(0.0, PRIOR.threshold_sd, 4))
        shares = np.diff(np.concatenate([[0.0], ndtr(cuts), [1.0]]))
        if np.log(rng.random()) < np.mean(np.log(shares * 5)):
            break
    taster, coffee = (each.ravel() for each in np.indices((5, coffees)))
    lean = rng.normal(0.0, abs(rng.normal(0.0, PRIOR.random_sd)), 5)
    latent = truth[coffee] + lean[taster] + rng.normal(size=coffee.size)
    return truth, [np.digitize(latent, cuts + truth.mean()) + 1, coffee, taster]


def fit_table(columns: list[Codes]) -> OrdinalFit:
    rating, coffee, taster = columns
    names = [str(each) for each in range(1, 6)]
    return fit_ordinal(rating, {"coffee": coffee}, {"taster": taster}, categories=names)


def test_intervals_cover_when_the_truth_is_drawn_from_the_prior() -> None:
    # Any seed will do: four standard errors, of tables whose contrasts are held all or none at
    # worst. benchmarks/ordinal.md has the long version.
    rng = np.random.default_rng(2026)
    held: dict[float, list[float]] = {0.5: [], 0.9: []}
    for _ in range(30):
        truth, columns = table(rng, 3, float(spread(np.array(rng.normal()), PRIOR.effect_sd)))
        fit = fit_table(columns)
        for level, shares in held.items():
            inside = []
            for each in category_contrasts(fit, "coffee", level):
                low, high = each.estimate.interval
                inside.append(low <= truth[int(each.a)] - truth[int(each.b)] <= high)
            shares.append(float(np.mean(inside)))
    for level, shares in held.items():
        error = np.sqrt(level * (1.0 - level) / len(shares))
        assert np.mean(shares) == pytest.approx(level, abs=4.0 * error)


def test_coffees_that_are_all_alike_are_seldom_set_apart() -> None:
    # 20 tables of 10 contrasts; a share of one in a hundred, and four standard errors of
    # tables whose contrasts all go together
    rng = np.random.default_rng(2026)
    clear = []
    for _ in range(20):
        _, columns = table(rng, 5, 0.0)
        chances = [each.probability for each in category_contrasts(fit_table(columns), "coffee")]
        clear.append(np.mean([max(each, 1.0 - each) >= 0.99 for each in chances]))
    assert np.mean(clear) <= 0.01 + 4.0 * np.sqrt(0.01 * 0.99 / 20)


def test_alike_coffees_are_drawn_together_and_different_ones_left_apart() -> None:
    rng = np.random.default_rng(8)
    taster, coffee = (each.ravel() for each in np.indices((20, 6)))
    noise = rng.normal(size=coffee.size)
    cuts = [-1.0, 0.0, 1.0]
    same = np.digitize(noise, cuts) + 1
    apart = np.digitize(noise + 0.8 * (coffee - 2.5), cuts) + 1
    for rating, share in ((same, (0.0, 0.8)), (apart, (0.9, 1.1))):
        weak = fit_ordinal(rating, {"coffee": coffee}, {"taster": taster})
        flat = fit_ordinal(rating, {"coffee": coffee}, {"taster": taster}, prior="flat")
        ours, theirs = (
            np.var([0.0, *(fit.coefficients[f"coffee={each}"] for each in range(1, 6))])
            for fit in (weak, flat)
        )
        assert share[0] <= float(np.sqrt(ours / theirs)) <= share[1]
        assert set(weak.spreads) == {"coffee"}
    assert weak.spreads["coffee"].mean > 1.0


def test_a_flat_fit_has_no_spreads() -> None:
    data = wine()
    assert fit_ordinal(data["rating"], {"temp": data["temp"]}, prior="flat").spreads == {}


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize(
    ("ratings", "coffees", "repeats", "kinds"),
    [
        # the first guess of a bell reaches beyond all numbers here
        ([8, 8, 1, 1, 3, 1, 4, 4, 5, 4] + [9] * 10, 5, 2, 9),
        ([2, 2, 4, 3, 2, 5, 4, 3, 4, 2, 3, 5, 4, 2, 3, 4, 2, 2], 3, 3, 8),
        ([3, 4, 4, 4, 3, 4, 4, 4, 4, 4], 5, 1, 4),
    ],
)
def test_two_tasters_are_fitted_without_a_warning(
    ratings: list[int], coffees: int, repeats: int, kinds: int
) -> None:
    coffee = [each // repeats for each in range(coffees * repeats)] * 2
    taster = [each // (coffees * repeats) for each in range(2 * coffees * repeats)]
    random = {"taster": taster}
    if repeats > 1:
        random["taster:coffee"] = [coffees * t + c for t, c in zip(taster, coffee, strict=True)]
    names = [str(k + 1) for k in range(kinds)]
    fit = fit_ordinal(ratings, {"coffee": coffee}, random, categories=names)
    assert all(np.isfinite(fit.interval(name).interval).all() for name in fit.names)
