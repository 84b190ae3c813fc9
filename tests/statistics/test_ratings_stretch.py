"""Stretch of the scale: found where it is, not invented where it is not."""

from dataclasses import replace

import numpy as np
import pytest
from benchmarks.calibration.joint import LEVELS
from benchmarks.calibration.tasters import Panel, calibrate, from_prior, plain

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.ratings import RatingColumns, fit_ratings
from twobowls.statistics.ratings_stretch import StretchFit, pooled_stretch, taster_stretch


def marks(
    stretch: FloatArray,
    coffees: int = 6,
    repeats: int = 3,
    seed: int = 0,
    own: float = 3.0,
    noise: float = 5.0,
) -> RatingColumns:
    rng = np.random.default_rng(seed)
    level = np.linspace(-18, 18, coffees)
    rows = [(t, c) for t in range(len(stretch)) for c in range(coffees) for _ in range(repeats)]
    shift = rng.normal(0, 6, len(stretch))
    taste = rng.normal(0, own, (len(stretch), coffees))
    y = [
        50 + shift[t] + stretch[t] * level[c] + taste[t, c] + rng.normal(0, noise) for t, c in rows
    ]
    return RatingColumns(
        y=np.clip(y, 0, 100),
        taster=[f"t{t}" for t, _ in rows],
        coffee=[f"c{c}" for _, c in rows],
    )


def found(columns: RatingColumns) -> StretchFit:
    return taster_stretch(columns, fit_ratings(columns))


def test_wide_and_narrow_tasters_are_told_apart() -> None:
    truth = np.array([1.7, 0.4, 1.0, 1.0, 1.2, 0.7])
    fit = found(marks(truth, own=1.0, noise=4.0))
    estimates = np.array([each.stretch.mean for each in fit.tasters])
    assert estimates == pytest.approx(truth / truth.mean(), abs=0.25)
    assert estimates.mean() == pytest.approx(1.0, abs=0.01)
    assert fit.tasters[0].probability > 0.99
    assert fit.tasters[1].probability < 0.01
    assert fit.deviation.interval[0] > 0.15
    assert fit.cautions == ()


def test_equal_tasters_are_left_near_one() -> None:
    fit = found(marks(np.ones(8)))
    for each in fit.tasters:
        assert each.stretch.interval[0] < 1 < each.stretch.interval[1]
    assert fit.deviation.mean < 0.2


@pytest.mark.parametrize(
    "panel", [Panel(5, 8, 2), Panel(4, 10), Panel(4, 5, sensations=3)], ids=str
)
def test_intervals_of_stretches_hold_what_they_promise(panel: Panel) -> None:
    tables = 60 // panel.sensations
    found = calibrate(panel, from_prior, plain, tables, np.random.default_rng(4))
    for level in LEVELS:
        # four standard errors as if all tasters of a table were one and the same: any seed
        # passes, but for one in ten thousand
        bound = 4 * (level * (1 - level) / tables) ** 0.5
        assert found.coverage(level) == pytest.approx(level, abs=bound)
    assert found.uniformity() > 1e-4


def test_several_sensations_together_tell_more_and_cover() -> None:
    rng = np.random.default_rng(6)
    inside, far, near = [], [], []
    for night in range(8):
        truth = 1 + rng.normal(0, 0.3, 6)
        parts = []
        for sensation in range(4):
            columns = marks(truth, coffees=4, seed=10 * night + sensation, own=4.0, noise=6.0)
            parts.append((columns, fit_ratings(columns)))
        fit = pooled_stretch(parts)
        relative = truth / truth.mean()
        alone = taster_stretch(*parts[0])
        far += [
            one.stretch.mean - value for one, value in zip(alone.tasters, relative, strict=True)
        ]
        for value, each in zip(relative, fit.tasters, strict=True):
            near.append(each.stretch.mean - value)
            inside.append(each.stretch.interval[0] <= value <= each.stretch.interval[1])
    assert np.std(near) < 0.8 * np.std(far)
    # 48 intervals at 90 %: two standard errors are nine points
    assert np.mean(inside) >= 0.80


def test_a_taster_may_be_missing_from_a_sensation() -> None:
    truth = np.array([1.6, 0.5, 1.0, 0.9])
    whole, fewer = marks(truth, own=1.0), marks(truth[:3], seed=1, own=1.0)
    fit = pooled_stretch([(each, fit_ratings(each)) for each in (fewer, whole)])
    assert [each.taster for each in fit.tasters] == ["t0", "t1", "t2", "t3"]
    assert fit.tasters[0].stretch.mean > fit.tasters[1].stretch.mean + 0.6


def test_missing_coffees_and_rounds_are_no_hindrance() -> None:
    columns = marks(np.array([1.6, 0.5, 1.0, 0.9]), repeats=2)
    keep = [k for k in range(len(columns.y)) if k % 7 != 3]
    fewer = RatingColumns(
        y=np.asarray(columns.y)[keep],
        taster=[columns.taster[k] for k in keep],
        coffee=[columns.coffee[k] for k in keep],
        round=[("hot", "cool")[k % 2] for k in keep],
    )
    fit = found(fewer)
    assert fit.tasters[0].stretch.mean > fit.tasters[1].stretch.mean + 0.4


def test_few_coffees_bring_a_caution() -> None:
    assert found(marks(np.ones(4), coffees=3)).cautions == (
        "With 3 coffees, stretch and a taste of one's own look much alike.",
    )


def test_what_cannot_show_stretch_is_refused() -> None:
    one = RatingColumns(y=[50, 60], taster=["a", "a"], coffee=["A", "B"])
    with pytest.raises(InputError) as caught:
        taster_stretch(one, fit_ratings(one))
    assert str(caught.value) == (
        "marks: 1 taster and 2 coffees show no stretch. Give two tasters and two coffees at least."
    )
    columns = marks(np.ones(3))
    with pytest.raises(InputError) as caught:
        taster_stretch(columns, fit_ratings(columns, prior="flat"))
    assert str(caught.value) == (
        "fit: it does not tell how much coffees vary. Fit the marks with the weak prior."
    )
    with pytest.raises(InputError) as caught:
        pooled_stretch([])
    assert str(caught.value) == ("parts: there is none. Give the marks of one sensation at least.")


def test_a_careless_taster_is_said_to_stretch_less_surely() -> None:
    columns = marks(np.array([1.0, 1.3, 0.8, 1.0, 1.2]))
    y = np.array(columns.y)
    mine = np.asarray(columns.taster) == "t0"
    y[mine] = np.random.default_rng(3).uniform(0, 100, int(mine.sum()))
    columns = RatingColumns(y=y, taster=columns.taster, coffee=columns.coffee)
    fit = fit_ratings(columns)
    assert set(fit.weights) == {"t0"}
    own, full = (
        taster_stretch(columns, each).tasters[0].stretch for each in (fit, replace(fit, weights={}))
    )
    assert own.se > 1.3 * full.se
