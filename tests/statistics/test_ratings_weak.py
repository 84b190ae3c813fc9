"""The weak prior: against brute force, in hard small cases, and as a mixture."""

from typing import Any

import numpy as np
import pytest
from scipy.special import ndtr

from twobowls.statistics import ratings_integral
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.normal_points import GENERATORS, normal_points
from twobowls.statistics.ratings import RatingColumns, fit_ratings
from twobowls.statistics.ratings_care import CARELESS, FACTOR
from twobowls.statistics.ratings_mixtures import mixture_mean_sd, mixture_quantiles, node_quantiles
from twobowls.statistics.ratings_priors import DeviationPrior, prior_scale
from twobowls.statistics.ratings_results import RatingFit


def small_table(seed: int = 3) -> RatingColumns:
    rng = np.random.default_rng(seed)
    cells = [(t, c, k) for t in range(3) for c in range(3) for k in range(2)]
    own = rng.normal(0, 8, (3, 3))
    y = [50 + 9 * (c - 1) + 6 * (t - 1) + own[t, c] + rng.normal(0, 7) for t, c, _ in cells]
    return RatingColumns(
        y=np.array(y), taster=[f"t{t}" for t, _, _ in cells], coffee=[f"c{c}" for _, c, _ in cells]
    )


def brute_force(columns: RatingColumns, draws: int) -> dict[str, Any]:
    """Posterior by weighting draws from the prior, each with dense normal algebra.

    Every draw is weighted in every state of who of the three tasters is careless.
    """
    from scipy.stats import qmc

    y = np.asarray(columns.y)
    n = len(y)
    T = np.array([[float(a == b) for b in sorted(set(columns.taster))] for a in columns.taster])
    C = np.array([[float(a == b) for b in sorted(set(columns.coffee))] for a in columns.coffee])
    TC = np.einsum("nt,nc->ntc", T, C).reshape(n, -1)
    states = np.array(list(np.ndindex(2, 2, 2)))
    uniform = np.tile(qmc.Sobol(4, seed=11).random(draws), (len(states), 1))
    careless = np.repeat(states, draws, axis=0)
    # prior by its definition: half-normal deviations of 20, 20 and 15 points, log-normal residual
    from scipy.stats import halfnorm, norm

    sc, st, sx = (halfnorm.ppf(uniform[:, k], scale=s) for k, s in enumerate((20, 20, 15)))
    se = 10 * np.exp(0.6 * norm.ppf(uniform[:, 3]))
    parts = [(sc, C), (st, T), (sx, TC)]
    slips = (se[:, None] * np.where(careless == 1, FACTOR, 1.0) @ T.T) ** 2
    V = sum(s[:, None, None] ** 2 * (Z @ Z.T) for s, Z in parts) + slips[:, :, None] * np.eye(n)
    inverse = np.linalg.inv(V)
    ones = np.ones(n)
    information = np.einsum("kij->k", inverse)
    mu = np.einsum("kij,j->k", inverse, y) / information
    residual = y - mu[:, None]
    quadratic = np.einsum("ki,kij,kj->k", residual, inverse, residual)
    log_weight = -0.5 * (np.linalg.slogdet(V)[1] + np.log(information) + quadratic)
    log_weight += careless.sum(axis=1) * np.log(CARELESS / (1.0 - CARELESS))
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    pull = np.einsum("kij,kj->ki", inverse, residual)
    effect = sc[:, None] ** 2 * (pull @ C)
    own = (sx[:, None] ** 2 * (pull @ TC)).reshape(-1, 3, 3).mean(axis=1)
    # covariance of contrasts c0 - c1 given the deviations, intercept flat
    P = (
        inverse
        - np.einsum("ki,kj->kij", inverse @ ones, inverse @ ones) / information[:, None, None]
    )
    lean = C[:, 0] - C[:, 1]
    people = 2 * sc**2 - sc**4 * np.einsum("i,kij,j->k", lean, P, lean)
    pair = np.zeros((3, 3))
    pair[:, 0], pair[:, 1] = 1 / 3, -1 / 3
    reach = sc[:, None] ** 2 * lean + sx[:, None] ** 2 * (TC @ pair.ravel())
    table = 2 * sc**2 + sx**2 * 2 / 3 - np.einsum("ki,kij,kj->k", reach, P, reach)
    out: dict[str, Any] = {}
    for name, mean, variance in (
        ("people", effect[:, 0] - effect[:, 1], people),
        ("table", effect[:, 0] - effect[:, 1] + own[:, 0] - own[:, 1], table),
    ):
        centre = weight @ mean
        spread = np.sqrt(weight @ (variance + (mean - centre) ** 2))
        out[name] = (centre, spread, weight @ ndtr(mean / np.sqrt(variance)))
    out["residual"] = weight @ se**2
    out["share"] = weight @ ndtr((effect[:, 0] - effect[:, 1]) / np.sqrt(people + 2 * sx**2))
    out["level"] = weight @ (mu + effect[:, 0])
    return out


def test_posterior_equals_brute_force() -> None:
    columns = small_table()
    expected = brute_force(columns, 2**13)
    fit = fit_ratings(columns)
    for population in ("people", "table"):
        contrast = getattr(fit, population).contrasts[0]
        mean, sd, probability = expected[population]
        assert contrast.estimate.mean == pytest.approx(mean, abs=0.02 * sd)
        assert contrast.estimate.se == pytest.approx(sd, rel=0.02)
        assert contrast.probability == pytest.approx(probability, abs=0.005)
    assert fit.variance["residual"] == pytest.approx(expected["residual"], rel=0.02)
    assert fit.share_above["c0", "c1"] == pytest.approx(expected["share"], abs=0.005)
    assert fit.people.coffees[0].estimate.mean == pytest.approx(expected["level"], abs=0.1)


def one_taster_two_bowls() -> RatingFit:
    return fit_ratings(RatingColumns(y=[70, 40], taster=["Ada"] * 2, coffee=["A", "B"]))


def test_one_taster_and_two_bowls_say_how_little_is_known() -> None:
    fit = one_taster_two_bowls()
    contrast = fit.people.contrasts[0]
    assert 0.5 < contrast.probability < 0.95
    low, high = contrast.estimate.interval
    assert low < 0 < high
    assert high - low > 40
    # the table is this one taster: less is unknown there
    assert fit.table.contrasts[0].estimate.se < contrast.estimate.se
    assert fit.cautions[0] == (
        "One taster only: what other people would say is mostly a guess from the prior."
    )


def test_one_mark_is_answered_by_the_prior() -> None:
    fit = fit_ratings(RatingColumns(y=[80.0], taster=["Ada"], coffee=["A"]))
    estimate = fit.people.coffees[0].estimate
    assert estimate.mean == pytest.approx(80, abs=1e-6)
    assert estimate.se > 20
    assert fit.people.contrasts == ()
    assert "One mark only: nearly everything here is the prior." in fit.cautions


def test_equal_marks_give_no_difference_and_a_caution() -> None:
    fit = fit_ratings(RatingColumns(y=[50.0] * 8, taster=list("aabbccdd"), coffee=["A", "B"] * 4))
    contrast = fit.people.contrasts[0]
    assert contrast.estimate.mean == pytest.approx(0, abs=1e-9)
    assert contrast.probability == pytest.approx(0.5)
    assert contrast.estimate.se > 0.5
    assert "All marks are the same: the intervals rest on the prior." in fit.cautions


def rounds_table(seed: int, tasters: int = 6, coffees: int = 4, rounds: int = 3) -> RatingColumns:
    rng = np.random.default_rng(seed)
    cells = [
        (t, b, r, p)
        for t in range(tasters)
        for r in range(rounds)
        for p, b in enumerate(rng.permutation(coffees + 1))
    ]
    coffee = rng.normal(0, 12, coffees)
    y = [50 + coffee[b % coffees] + 4 * r + rng.normal(0, 8) for _, b, r, _ in cells]
    return RatingColumns(
        y=np.clip(y, 0, 100),
        taster=[f"t{t}" for t, _, _, _ in cells],
        coffee=[f"c{b % coffees}" for _, b, _, _ in cells],
        round=[f"r{r}" for _, _, r, _ in cells],
        position=[p + 1 for _, _, _, p in cells],
        bowl=[f"{b:03d}" for _, b, _, _ in cells],
    )


def test_all_terms_are_there_by_default_and_rounds_average_to_coffees() -> None:
    fit = fit_ratings(rounds_table(1))
    assert set(fit.variance) == {
        "taster", "coffee", "taster:coffee", "bowl", "round", "coffee:round", "taster:round",
        "position", "residual",
    }  # fmt: skip
    for coffee in fit.people.coffees:
        mine = [r.estimate.mean for r in fit.people.rounds if r.coffee == coffee.level]
        assert len(mine) == 3
        assert np.mean(mine) == pytest.approx(coffee.estimate.mean, abs=1e-9)
    for name, (low, high) in fit.variance_interval.items():
        assert 0 <= low < fit.variance[name] < high
    covariance = np.array(fit.covariance)
    assert np.sqrt(np.diag(covariance)) == pytest.approx(
        [coffee.estimate.se for coffee in fit.people.coffees], rel=1e-9
    )


def test_named_terms_take_the_place_of_their_kind() -> None:
    fit = fit_ratings(rounds_table(1), random=("taster",), fixed=("coffee",))
    assert fit.random == ("coffee", "taster")
    assert set(fit.variance) == {"coffee", "taster", "residual"}
    assert fit.share_above == {}


def test_order_of_rows_and_names_do_not_matter() -> None:
    columns = rounds_table(2)
    order = np.random.default_rng(0).permutation(len(columns.y))
    shuffled = RatingColumns(
        y=np.asarray(columns.y)[order],
        **{name: [labels[i] for i in order] for name, labels in columns.factors().items()},
    )
    first, second = fit_ratings(columns), fit_ratings(shuffled)
    for a, b in zip(first.people.contrasts, second.people.contrasts, strict=True):
        assert a.estimate.mean == pytest.approx(b.estimate.mean, rel=1e-6)
        assert a.probability == pytest.approx(b.probability, abs=1e-7)


def test_another_scale_is_the_same_fit_stretched() -> None:
    columns = rounds_table(3)
    nine = RatingColumns(y=1 + 8 * np.asarray(columns.y) / 100, **columns.factors())
    wide, narrow = fit_ratings(columns), fit_ratings(nine, scale=(1, 9))
    for a, b in zip(wide.people.coffees, narrow.people.coffees, strict=True):
        assert 1 + 8 * a.estimate.mean / 100 == pytest.approx(b.estimate.mean, rel=1e-5)
        assert 8 * a.estimate.se / 100 == pytest.approx(b.estimate.se, rel=1e-5)


def test_hidden_repeats_narrow_what_bowls_leave_open() -> None:
    rng = np.random.default_rng(5)
    coffee = ["A", "B", "C"]
    rows = [(t, c, k) for t in range(10) for c in range(3) for k in range(2)]
    mean = [40, 50, 60]
    y = [mean[c] + rng.normal(0, 5) for _, c, _ in rows]
    base = {"taster": [f"t{t}" for t, _, _ in rows], "coffee": [coffee[c] for _, c, _ in rows]}
    twin = RatingColumns(y=y, **base, bowl=[f"{c}{k}" for _, c, k in rows])
    single = RatingColumns(y=y, **base, bowl=[f"{c}" for _, c, _ in rows])
    with_repeats, without = fit_ratings(twin), fit_ratings(single)
    assert with_repeats.variance["bowl"] < without.variance["bowl"]
    assert with_repeats.people.contrasts[0].estimate.se < without.people.contrasts[0].estimate.se


def test_more_points_change_little(monkeypatch: pytest.MonkeyPatch) -> None:
    # over several tables: one alone may be lucky
    from twobowls.statistics import ratings_integral

    def told(seed: int) -> FloatArray:
        contrasts = fit_ratings(rounds_table(seed)).people.contrasts
        return np.array([(c.estimate.mean, c.estimate.se, c.probability) for c in contrasts])

    seeds = range(4, 9)
    usual = np.concatenate([told(seed) for seed in seeds])
    monkeypatch.setattr(ratings_integral, "PLAN", (1021, 2039, 2039))
    monkeypatch.setattr(ratings_integral, "ENOUGH", 4000.0)
    monkeypatch.setattr(ratings_integral, "PRIOR_HALF", 2039)
    many = np.concatenate([told(seed) for seed in seeds])
    errors = np.abs(usual - many)
    errors[:, :2] /= many[:, 1:2]
    mean, se, probability = np.sqrt((errors**2).mean(axis=0))
    assert mean < 0.02
    assert se < 0.03
    assert probability < 0.005
    assert errors[:, 1].max() < 0.10


def test_prior_of_every_deviation_is_half_normal() -> None:
    prior = DeviationPrior.for_terms(("coffee",), 100.0)
    z = np.array([[0.0, 0.0], [1.6448536269514722, 1.0], [-6.0, 0.0]])
    found = prior.deviations(z).values
    # quantiles of the half-normal: median 0.6745 and 95 % 1.9600 times the scale
    # the residual: log-normal, and besides what reading a line to a tenth adds, 0.03
    assert found[0] == pytest.approx([20 * 0.6744897502, np.hypot(10.0, 0.03)], rel=1e-8)
    assert found[1] == pytest.approx(
        [20 * 1.9599639845, np.hypot(10 * np.exp(0.6), 0.03)], rel=1e-8
    )
    assert 0 < found[2, 0] < 1e-6
    step = 1e-6
    up, down = prior.deviations(z + step).values, prior.deviations(z - step).values
    assert prior.deviations(z[:2]).slopes == pytest.approx(((up - down) / 2 / step)[:2], rel=1e-6)
    assert prior_scale("round:taster") == 0.07


def test_lattice_is_built_component_by_component() -> None:
    # the construction in the module's note, for the smallest size
    size, product = 127, np.ones(127)
    vector: list[int] = []
    steps = np.arange(size)

    def kernel(x: FloatArray) -> FloatArray:
        return np.asarray(2 * np.pi**2 * (x * x - x + 1 / 6))

    for j in range(14):
        weight = 0.5 / (j + 1)
        open_ = [c for c in range(1, size // 2 + 1) if c not in vector]
        errors = [(product * (1 + weight * kernel((steps * c % size) / size))).sum() for c in open_]
        best = 1 if j == 0 else open_[int(np.argmin(errors))]
        vector.append(best)
        product = product * (1 + weight * kernel((steps * best % size) / size))
    assert tuple(vector) == GENERATORS[127]


@pytest.mark.parametrize("size", [127, 509])
@pytest.mark.parametrize("dimensions", [1, 5, 10])
def test_points_have_the_moments_of_the_normal(size: int, dimensions: int) -> None:
    points = normal_points(size, dimensions)
    assert points.mean(axis=0) == pytest.approx(np.zeros(dimensions), abs=1e-12)
    assert points.T @ points / (2 * size) == pytest.approx(np.eye(dimensions), abs=1e-9)


def test_mixture_quantile_of_far_apart_parts() -> None:
    weights = np.array([0.5, 0.5])
    means, sds = np.array([[-10.0], [10.0]]), np.array([[1.0], [2.0]])
    # below zero there is only the first part: its 80 % point is the mixture's 40 % point
    assert mixture_quantiles(weights, means, sds, 0.4)[0] == pytest.approx(-10 + 0.8416212336)
    assert mixture_quantiles(weights, means, sds, 0.95)[0] == pytest.approx(10 + 2 * 1.2815515655)
    mean, sd = mixture_mean_sd(weights, means, sds)
    assert (mean[0], sd[0]) == (0.0, pytest.approx(np.sqrt(102.5)))


def test_quantiles_of_even_points() -> None:
    values = np.arange(1.0, 102.0)[:, None]
    weights = np.full(101, 1 / 101)
    assert node_quantiles(weights, values, 0.5)[0] == pytest.approx(51.0)


def test_points_of_the_prior_are_left_out_only_where_they_weigh_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    rng = np.random.default_rng(8)
    t, c, r = (each.ravel() for each in np.indices((1500, 4, 2)))
    y = 50 + rng.normal(0, 10, 4)[c] + rng.normal(0, 8, 1500)[t] + rng.normal(0, 4, 2)[r]
    y += rng.normal(0, 5, (1500, 4))[t, c] + rng.normal(0, 3, (1500, 2))[t, r]
    y = np.clip(y + rng.normal(0, 8, len(t)), 0, 100)
    columns = RatingColumns(y=y, taster=t, coffee=c, round=r)
    asked: list[bool] = []
    real = ratings_integral.prior_reaches

    def watched(curvature: FloatArray) -> bool:
        asked.append(real(curvature))
        return asked[-1]

    monkeypatch.setattr(ratings_integral, "prior_reaches", watched)
    short = fit_ratings(columns)
    assert asked == [False]  # else this test says nothing
    monkeypatch.setattr(ratings_integral, "prior_reaches", lambda _: True)
    whole = fit_ratings(columns)
    # the prior's density is left out of the mixture that weights are over, too: a millionth there
    for ours, theirs in zip(short.people.contrasts, whole.people.contrasts, strict=True):
        assert ours.estimate.mean == pytest.approx(theirs.estimate.mean, rel=1e-6)
        assert ours.estimate.se == pytest.approx(theirs.estimate.se, rel=1e-6)
