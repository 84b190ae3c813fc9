"""Tables that are odd but may be: an answer without a warning, or a sentence that says why not."""

import dataclasses
import math
from collections.abc import Callable, Iterator
from functools import partial

import numpy as np
import pytest

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.ratings import RatingColumns, fit_ratings
from twobowls.statistics.ratings_checks import check_marks
from twobowls.statistics.ratings_joint import joint_means
from twobowls.statistics.ratings_stretch import taster_stretch
from twobowls.statistics.ratings_stretched import fit_ratings_stretched


def fills(t: IntArray, c: IntArray, r: IntArray) -> dict[str, FloatArray]:
    """Marks of tasters, coffees and rounds."""
    rng = np.random.default_rng(1)
    anything = rng.uniform(0, 100, len(t))
    return {
        "any": anything,
        "all in the middle": np.full(len(t), 50.0),
        "all at the top": np.full(len(t), 100.0),
        "either end": 100.0 * (rng.random(len(t)) < 0.5),
        "one taster constant": np.where(t == 0, 50.0, anything),
        "by the coffee alone": 30.0 * c,
        "by the taster alone": 20.0 * t,
        "without remainder": 7.0 * t + 11.0 * c + 3.0 * r,
        "alike but for rounding": 50.0 + 1e-9 * anything,
    }


GRIDS = {  # tasters, coffees, rounds, times
    "one mark": (1, 1, 1, 1),
    "one taster": (1, 3, 2, 1),
    "two coffees": (2, 2, 1, 1),
    "one coffee": (5, 1, 2, 1),
    "a panel": (3, 3, 3, 2),
    "once": (5, 3, 1, 1),
}


def kept(t: IntArray, c: IntArray, r: IntArray) -> dict[str, np.ndarray]:
    """Which marks are there."""
    first = np.arange(len(t)) == 0
    last_round, last_taster = r == r.max(), t == t.max()
    return {
        "all": np.ones(len(t), bool),
        "one mark in the last round": ~last_round | (np.cumsum(last_round) == 1),
        "one mark of the last taster": ~last_taster | (np.cumsum(last_taster) == 1),
        "coffees of one's own": first | (c == t % (c.max() + 1)),
    }


def tables(grid: tuple[int, int, int, int]) -> Iterator[RatingColumns]:
    t, c, r, _ = (each.ravel() for each in np.indices(grid))
    for chosen in kept(t, c, r).values():
        taster, coffee, round_ = t[chosen], c[chosen], r[chosen]
        for y in fills(taster, coffee, round_).values():
            yield RatingColumns(
                y=y,
                taster=taster,
                coffee=coffee,
                round=round_ if grid[2] > 1 else None,
            )


def numbers(found: object) -> Iterator[float]:
    if dataclasses.is_dataclass(found):
        for field in dataclasses.fields(found):
            yield from numbers(getattr(found, field.name))
    elif isinstance(found, dict):
        for value in found.values():
            yield from numbers(value)
    elif isinstance(found, tuple | list):
        for value in found:
            yield from numbers(value)
    elif isinstance(found, float):
        yield found


def answer(call: Callable[[], object]) -> object:
    """Return what a call finds, or its refusal in words."""
    try:
        return call()
    except InputError as error:
        return str(error)


def finite(found: object) -> bool:
    return all(map(math.isfinite, numbers(found)))


@pytest.mark.parametrize("grid", GRIDS)
@pytest.mark.filterwarnings("error")
def test_weak_fits_of_odd_tables_say_finite_numbers(grid: str) -> None:
    for columns in tables(GRIDS[grid]):
        fit = fit_ratings(columns)
        assert finite(fit)
        assert finite(check_marks(columns, fit))
        # both scales marked alike: an ellipse without breadth
        assert finite(joint_means(fit, fit, columns, columns, "table"))
        if fit.tasters > 1 and len(fit.people.coffees) > 1:
            assert finite(taster_stretch(columns, fit))


@pytest.mark.parametrize("grid", ["two coffees", "a panel", "once"])
@pytest.mark.filterwarnings("error")
def test_fits_with_stretch_of_odd_tables_say_finite_numbers(grid: str) -> None:
    for columns in tables(GRIDS[grid]):
        found = answer(partial(fit_ratings_stretched, columns))
        assert finite(found)
        assert not isinstance(found, str) or "show no stretch" in found  # one coffee is left


@pytest.mark.parametrize("grid", GRIDS)
@pytest.mark.filterwarnings("error")
def test_flat_fits_of_odd_tables_say_finite_numbers_or_why_not(grid: str) -> None:
    for columns in tables(GRIDS[grid]):
        found = answer(partial(fit_ratings, columns, prior="flat"))
        assert finite(found)
        assert not isinstance(found, str) or "use the weak prior" in found


@pytest.mark.filterwarnings("error")
def test_thousands_of_tasters_with_one_mark_each_are_fitted() -> None:
    rng = np.random.default_rng(3)
    coffee = rng.integers(0, 4, 3000)
    y = np.clip(50 + 5.0 * coffee + rng.normal(0, 15, 3000), 0, 100)
    fit = fit_ratings(RatingColumns(y=y, taster=np.arange(3000), coffee=coffee))
    assert finite(fit)
    for contrast in fit.people.contrasts:
        gap = 5.0 * (int(contrast.a) - int(contrast.b))
        # two groups of some 750 marks with a deviation of 15
        assert contrast.estimate.se == pytest.approx(15 * (2 / 750) ** 0.5, rel=0.15)
        assert contrast.estimate.mean == pytest.approx(gap, abs=4 * contrast.estimate.se)


def refusal(columns: RatingColumns) -> str:
    with pytest.raises(InputError) as caught:
        fit_ratings(columns, prior="flat")
    return str(caught.value)


def test_a_flat_fit_says_that_variances_cannot_be_told_apart() -> None:
    # each taster has a coffee of their own: tasters, their opinions and coffees are one
    alone = RatingColumns(y=[51, 95, 14, 90], taster=list("aabb"), coffee=list("AABB"))
    assert refusal(alone) == (
        "random: the marks do not tell the variances of the random terms apart, so that nothing "
        "is known of the errors of means. Name fewer random terms, or use the weak prior."
    )


def test_a_flat_fit_says_that_there_is_no_remainder() -> None:
    rows = [(0, 0, 0.0), (0, 0, 0.0), (0, 1, 3.0), (1, 0, 7.0), (1, 0, 7.0)]
    taster, round_, y = zip(*rows, strict=True)
    columns = RatingColumns(y=y, taster=taster, coffee=["A"] * 5, round=round_)
    assert refusal(columns).startswith("marks: the named terms fit them without a remainder")
