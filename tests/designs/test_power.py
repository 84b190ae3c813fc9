import numpy as np
import pytest

from twobowls.debrief import evidence
from twobowls.designs.power import CLEAR, LIKELY, Spread, power, smallest_difference
from twobowls.errors import InputError

QUIET = Spread(taster=10, disagreement=5, drift=0, bowl=0, residual=6)


def rng() -> np.random.Generator:
    return np.random.default_rng(20)


def test_the_words_are_those_of_the_debrief() -> None:
    assert (LIKELY, CLEAR) == (evidence.LIKELY, evidence.CLEAR)


def test_power_grows_with_the_difference() -> None:
    small, middle, large = (
        power(2, 6, 1, difference, QUIET, rng=rng(), runs=20).likely for difference in (2, 8, 25)
    )
    assert small < middle < large
    assert large > 0.95


def test_power_grows_with_the_panel_and_the_rounds() -> None:
    few = power(2, 3, 1, 8, QUIET, rng=rng(), runs=25).likely
    many = power(2, 15, 1, 8, QUIET, rng=rng(), runs=25).likely
    again = power(2, 3, 3, 8, QUIET, rng=rng(), runs=25).likely
    assert many > few + 0.2
    assert again >= few - 0.05


@pytest.mark.parametrize(("difference", "cost"), [(5.0, 0.4), (12.0, 0.02)])
def test_the_price_of_honesty_against_the_normal_formula(difference: float, cost: float) -> None:
    """With all deviations known, 1 - Phi(1.645 - d/se); shrinkage and doubt may only cost."""
    found = power(2, 20, 1, difference, QUIET, rng=rng(), runs=50)
    known = 1 - _phi(1.645 - difference / np.sqrt(2 * (5**2 + 6**2) / 20))
    assert known - cost <= found.likely <= known + 2 * found.error + 0.01


def _phi(z: float) -> float:
    from math import erf

    return 0.5 * (1 + erf(z / 2**0.5))


def test_without_a_difference_claims_are_rare() -> None:
    """At most 5 in 100 to each side when the truth is that nothing differs."""
    found = power(3, 8, 1, 0, QUIET, rng=rng(), runs=80)
    assert found.likely + found.wrong < 0.12
    assert found.clear < 0.03


def test_one_taster_with_two_bowls_shows_little() -> None:
    assert power(2, 1, 1, 10, rng=rng(), runs=30).clear < 0.2


def test_the_smallest_difference_is_found_with_the_chance_asked_for() -> None:
    found = smallest_difference(2, 8, 1, QUIET, rng=rng(), runs=30)
    assert found is not None
    assert 0.8 <= found.likely <= 0.95
    fresh = power(2, 8, 1, found.difference, QUIET, rng=np.random.default_rng(5), runs=50)
    assert fresh.likely == pytest.approx(0.8, abs=0.2)


def test_more_tasters_see_smaller_differences() -> None:
    few = smallest_difference(2, 3, 1, QUIET, rng=rng(), runs=15)
    many = smallest_difference(2, 16, 1, QUIET, rng=rng(), runs=15)
    assert few is not None
    assert many is not None
    assert many.difference < few.difference


def test_a_hopeless_table_has_no_smallest_difference() -> None:
    loud = Spread(taster=30, disagreement=40, drift=0, bowl=0, residual=40)
    assert smallest_difference(2, 1, 1, loud, rng=rng(), runs=10, chance=0.95) is None


def test_the_same_chance_gives_the_same_power() -> None:
    one = power(2, 4, 2, 10, rng=rng(), runs=10, bowls=2)
    assert one == power(2, 4, 2, 10, rng=rng(), runs=10, bowls=2)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((1, 4, 1, 5.0), "coffees: 1 is too few. Give at least 2."),
        ((2, 0, 1, 5.0), "tasters: 0 is too few. Give at least 1."),
        ((2, 4, 0, 5.0), "rounds: 0 is too few. Give at least 1."),
        ((2, 4, 1, -3.0), "difference: -3 is out of range. Give 0 to 100 points."),
        ((2, 4, 1, float("nan")), "difference: nan is out of range. Give 0 to 100"),
    ],
)
def test_tables_that_cannot_be_are_refused(
    arguments: tuple[int, int, int, float], message: str
) -> None:
    with pytest.raises(InputError) as refused:
        power(*arguments, rng=rng(), runs=2)
    assert str(refused.value).startswith(message)


def test_odd_settings_are_refused() -> None:
    with pytest.raises(InputError, match=r"residual: -1 is no standard deviation on a line of 100"):
        power(2, 2, 1, 5, Spread(residual=-1), rng=rng(), runs=2)
    with pytest.raises(InputError, match=r"runs: 0 is too few\. Simulate at least one table"):
        power(2, 2, 1, 5, rng=rng(), runs=0)
    with pytest.raises(InputError, match=r"chance: 2 is out of range\. Give a share from 0\.1"):
        smallest_difference(2, 2, 1, rng=rng(), chance=2)
