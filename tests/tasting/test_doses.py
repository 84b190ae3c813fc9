from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from twobowls.tasting.doses import doses, refill_s
from twobowls.tasting.setup import Setup, Vessel


@pytest.mark.reference
def test_the_trade_ratio_gives_its_dose() -> None:
    """8.25 g for 150 mL, 55 g/L: SCAA cupping protocol 2009 (secondary source)."""
    found = doses(Setup(name="x", coffee_ids=("a", "b"), vessel=Vessel(volume_ml=150)))
    assert found.dose_g == pytest.approx(8.25)


def test_a_table_is_added_up_by_hand() -> None:
    setup = Setup(
        name="x",
        coffee_ids=("a", "b", "c"),
        repeats=("b",),
        vessel=Vessel(volume_ml=200),
        purge_g=4,
        kettle_ml=700,
    )
    found = doses(setup)
    assert [(each.coffee_id, each.bowls) for each in found.coffees] == [
        ("a", 1),
        ("b", 2),
        ("c", 1),
    ]
    assert [each.grind_g for each in found.coffees] == pytest.approx([15.0, 26.0, 15.0])
    assert found.total_water_ml == 800
    assert (found.bowls_per_fill, found.kettle_fills) == (3, 2)
    assert found.total_grind_g == pytest.approx(56)


@given(
    st.integers(2, 14),
    st.floats(50, 400),
    st.floats(30, 100),
    st.floats(0, 20),
    st.floats(400, 3000),
    st.integers(2, 12),
)
def test_doses_add_up(
    coffees: int, volume: float, ratio: float, purge: float, kettle: float, most: int
) -> None:
    setup = Setup(
        name="x",
        coffee_ids=tuple(f"c{i}" for i in range(coffees)),
        repeats=("c0",),
        vessel=Vessel(volume_ml=volume),
        ratio_g_per_l=ratio,
        purge_g=purge,
        kettle_ml=kettle,
        most_per_flight=most,
    )
    found = doses(setup)
    assert found.total_bowls == sum(each.bowls for each in found.coffees)
    assert found.total_water_ml == pytest.approx(found.total_bowls * volume)
    assert found.total_grind_g == pytest.approx(found.total_dose_g + coffees * purge)
    assert found.total_dose_g == pytest.approx(found.total_water_ml * ratio / 1000)
    assert found.kettle_fills * kettle >= found.total_water_ml - 1e-6


def test_a_kettle_that_holds_whole_bowls_is_not_cut_short_by_a_last_digit() -> None:
    """1088.1 mL is 27 bowls of 40.3 mL, though 1088.1 // 40.3 is 26 in binary."""
    setup = Setup(name="x", coffee_ids=("a", "b"), vessel=Vessel(volume_ml=40.3), kettle_ml=1088.1)
    assert doses(setup).bowls_per_fill == 27


def test_a_second_filling_takes_as_long_as_its_water_takes_to_heat() -> None:
    """1 L from 15 to 93 °C is 326.5 kJ; at 1700 W 192 s, and half a minute for the tap."""
    setup = Setup(name="x", coffee_ids=("a", "b"))
    assert refill_s(setup) == pytest.approx(222.06, abs=0.01)
    assert refill_s(replace(setup, kettle_ml=500.0)) == pytest.approx(126.03, abs=0.01)
    # half the power heats twice as long; the tap takes as long as before
    slow = refill_s(replace(setup, kettle_ml=500.0, kettle_w=1000.0))
    assert slow - 30 == pytest.approx(2 * (126.03 - 30), abs=0.02)
