"""Many words at once: what is told of each holds up when all are looked at."""

import numpy as np
import pytest
from scipy.special import gammaln

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.shared_lift import SPREAD_SCALE, SharedLift, shared_lift
from twobowls.statistics.word_lift import lift_mixture, liking_levels

TASTERS, COFFEES = 8, 4
Table = tuple[list[str], list[str], FloatArray, FloatArray]


def table(rng: np.random.Generator, lifts: FloatArray) -> Table:
    """Draw liking that goes up by each word's lift, on a 0-100 line without ends."""
    shape = (TASTERS, COFFEES)
    chance = 1 / (1 + np.exp(1 - rng.normal(size=(COFFEES, lifts.size))))
    said = (rng.uniform(size=(*shape, lifts.size)) < chance).astype(float)
    merit, level = 8 * rng.normal(size=COFFEES), 10 * rng.normal(size=(TASTERS, 1))
    y = 55 + level + merit + said @ lifts + 8 * rng.normal(size=shape)
    who = [f"t{i}" for i in range(TASTERS) for _ in range(COFFEES)]
    what = [f"c{j}" for _ in range(TASTERS) for j in range(COFFEES)]
    return who, what, y.ravel(), said.reshape(-1, lifts.size)


def looked_at(drawn: Table) -> tuple[SharedLift, ...]:
    return shared_lift(*drawn, [str(each) for each in range(drawn[3].shape[1])])


def sure(probability: float | None) -> float:
    return 0.5 if probability is None else max(probability, 1 - probability)


def students_t(z: FloatArray, df: int) -> FloatArray:
    """Return the density as Student's t has it in any handbook."""
    height = np.exp(gammaln((df + 1) / 2) - gammaln(df / 2)) / np.sqrt(df * np.pi)
    return np.asarray(height * (1 + z**2 / df) ** (-(df + 1) / 2))


def test_the_posterior_is_that_of_draws_from_the_prior_weighted_by_the_densities() -> None:
    who, what, y, said = table(np.random.default_rng(11), np.array([12.0, 0.0, -4.0]))
    found = shared_lift(who, what, y, said, ["a", "b", "c"])
    levels, rng = liking_levels(who, what, y), np.random.default_rng(12)
    spread = np.abs(100 * SPREAD_SCALE * rng.normal(size=200_000))
    drawn = spread[:, None] * rng.normal(size=(len(spread), 3))
    weights = np.ones(len(spread))
    for i in range(3):
        mixture = lift_mixture(levels.without_level(said[:, i]), levels)
        assert mixture is not None
        density = np.zeros(len(spread))
        for slope, error, weight in zip(
            mixture.slopes, mixture.errors, mixture.weights, strict=True
        ):
            density += weight * students_t((drawn[:, i] - slope) / error, mixture.df) / error
        weights *= density
    weights /= weights.sum()
    for i, each in enumerate(found):
        assert each.lift is not None
        # some 10,000 draws count, so the mean is known to a few hundredths of the posterior's width
        assert each.lift.estimate == pytest.approx(weights @ drawn[:, i], abs=0.25)
        assert each.probability == pytest.approx(weights @ (drawn[:, i] > 0), abs=0.015)
        inside = (drawn[:, i] > each.lift.low) & (drawn[:, i] < each.lift.high)
        assert weights @ inside == pytest.approx(0.90, abs=0.015)


def test_words_that_go_with_nothing_seldom_look_likely() -> None:
    rng, runs, words = np.random.default_rng(13), 100, 8
    alone = shared = clear = 0
    for _ in range(runs):
        found = looked_at(table(rng, np.zeros(words)))
        alone += sum(sure(each.alone.probability) >= 0.95 for each in found)
        shared += sum(sure(each.probability) >= 0.95 for each in found)
        clear += any(sure(each.probability) >= 0.99 for each in found)
    # by itself one word in ten looks likely; seen so far: one in a hundred among others
    assert alone / (runs * words) > 0.07
    assert shared / (runs * words) < 0.03
    assert clear / runs <= 0.04


def test_intervals_cover_lifts_drawn_from_the_prior() -> None:
    rng, runs, held, of = np.random.default_rng(14), 150, 0, 0
    for _ in range(runs):
        lifts = abs(100 * SPREAD_SCALE * rng.normal()) * rng.normal(size=4)
        for lift, each in zip(lifts, looked_at(table(rng, lifts)), strict=True):
            held, of = held + (each.lift is not None and lift in each.lift), of + 1
    assert held / of == pytest.approx(0.90, abs=0.05)


def test_a_strong_word_stays_clear_among_many() -> None:
    lifts = np.array([25.0, 0.0, 0.0, 0.0, 0.0, 0.0])
    found = looked_at(table(np.random.default_rng(15), lifts))
    assert sure(found[0].probability) > 0.99


def test_more_words_that_go_with_nothing_hold_a_word_down() -> None:
    who, what, y, said = table(np.random.default_rng(16), np.array([8.0, *np.zeros(7)]))
    (first,) = shared_lift(who, what, y, said[:, :1], ["first"])
    beside = shared_lift(who, what, y, said, [str(each) for each in range(8)])[0]
    assert first.lift is not None
    assert beside.lift is not None
    assert first.alone.lift is not None
    assert abs(beside.lift.estimate) < abs(first.lift.estimate) < abs(first.alone.lift.estimate)


def test_a_scale_of_another_width_gives_the_same_in_its_unit() -> None:
    who, what, y, said = table(np.random.default_rng(17), np.array([6.0, 0.0]))
    wide = shared_lift(who, what, y, said, ["a", "b"])
    narrow = shared_lift(who, what, y * 0.08 + 1, said, ["a", "b"], width=8)
    for one, other in zip(wide, narrow, strict=True):
        assert one.lift is not None
        assert other.lift is not None
        assert other.lift.estimate == pytest.approx(0.08 * one.lift.estimate, rel=1e-6)
        assert other.probability == pytest.approx(one.probability, rel=1e-6)


def test_a_word_always_said_has_no_lift_and_takes_none_from_others() -> None:
    who, what, y, said = table(np.random.default_rng(18), np.array([6.0]))
    both = np.hstack([said, np.ones_like(said)])
    one, always = shared_lift(who, what, y, both, ["one", "always"])
    assert (always.lift, always.probability) == (None, None)
    assert one == shared_lift(who, what, y, said, ["one"])[0]
    (none,) = shared_lift(who, what, y, np.ones_like(said), ["always"])
    assert none.lift is None


def test_a_scale_without_width_is_refused() -> None:
    who, what, y, said = table(np.random.default_rng(19), np.zeros(1))
    with pytest.raises(InputError, match=r"^width: "):
        shared_lift(who, what, y, said, ["a"], width=0)
