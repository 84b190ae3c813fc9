from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from twobowls.tasting.cooling import cooling_model
from twobowls.tasting.planning import make_plan
from twobowls.tasting.setup import ALL_ROUNDS, HOT, Round, Setup
from twobowls.tasting.timeline import Step, bowl_clock, round_times, timeline

SETUP = Setup(name="x", coffee_ids=("a", "b", "c"), rounds=ALL_ROUNDS)
COOLING = cooling_model(SETUP.vessel, SETUP.water_c, SETUP.room_c)
READ = COOLING.with_probes([(600.0, float(COOLING.temperature(600.0)))])


def steps_of(setup: Setup) -> tuple[Step, ...]:
    return timeline(setup, make_plan(setup, np.random.default_rng(4)), COOLING)


@given(st.integers(2, 12), st.integers(2, 8), st.integers(10, 30))
@settings(max_examples=30, deadline=None)
def test_steps_are_in_order_and_every_bowl_has_its_own_clock(
    coffees: int, most: int, gap: int
) -> None:
    setup = replace(
        SETUP,
        coffee_ids=tuple(f"c{i}" for i in range(coffees)),
        most_per_flight=most,
        pour_gap_s=float(gap),
    )
    plan = make_plan(setup, np.random.default_rng(0))
    steps = timeline(setup, plan, COOLING)
    assert all(one.at_s <= two.at_s for one, two in pairwise(steps))
    clock = bowl_clock(setup, COOLING)
    for bowl in plan.bowls:
        own = {step.action: step.at_s for step in steps if step.bowl == bowl.code}
        assert own["break"] - own["pour"] == pytest.approx(240.0)
        assert own["skim"] - own["pour"] == pytest.approx(clock.skim_s)


@given(st.integers(2, 12), st.integers(10, 30))
@settings(max_examples=30, deadline=None)
def test_one_pair_of_hands_is_enough(coffees: int, gap: int) -> None:
    """Pouring ends before the first break, breaking before the first skim."""
    setup = replace(
        SETUP,
        coffee_ids=tuple(f"c{i}" for i in range(coffees)),
        most_per_flight=12,
        pour_gap_s=float(min(gap, 230 // (coffees - 1))),
    )
    steps = steps_of(setup)
    hands = [step.at_s for step in steps if step.action in {"pour", "break", "skim"}]
    assert all(two - one >= 10 for one, two in pairwise(hands))


def test_nobody_sips_before_the_last_bowl_is_cool_enough() -> None:
    steps = steps_of(SETUP)
    poured = [step.at_s for step in steps if step.action == "pour"]
    hot = next(step for step in steps if step.text.startswith("Call Hot"))
    assert COOLING.temperature(hot.at_s - max(poured)) <= SETUP.first_sip_c + 0.1
    assert hot.text == (
        "Call Hot: the last bowl is likely at about 52 °C, and 60 °C if it cools slowly. Small "
        "sips."
    )


def test_after_a_reading_the_call_tells_the_temperature() -> None:
    plan = make_plan(SETUP, np.random.default_rng(4))
    steps = timeline(SETUP, plan, READ)
    hot = next(step for step in steps if step.text.startswith("Call Hot"))
    assert hot.text == "Call Hot: the last bowl is at about 60 °C. Small sips."


def test_rounds_follow_the_cooling() -> None:
    clock = bowl_clock(SETUP, READ)
    assert list(clock.rounds) == ["dry", "wet", "hot", "warm", "cool"]
    assert clock.rounds["dry"] is None
    assert clock.rounds["wet"] == clock.break_s == 240.0
    assert clock.rounds["hot"] == clock.first_sip_s
    for each in SETUP.rounds[2:]:
        ready = clock.rounds[each.key] or 0.0
        assert READ.temperature(ready) == pytest.approx(each.target_c, abs=0.1)


def test_a_probe_moves_the_clock() -> None:
    quick = COOLING.with_probes([(600, 55.0)])
    assert bowl_clock(SETUP, quick).first_sip_s < bowl_clock(SETUP, COOLING).first_sip_s - 120


def test_a_round_without_a_temperature_follows_the_one_before() -> None:
    setup = replace(SETUP, rounds=(HOT, Round(key="end", name="End", kind="taste")))
    clock = bowl_clock(setup, COOLING)
    assert clock.rounds["end"] == clock.rounds["hot"]


def test_a_bowl_that_cools_at_once_is_skimmed_first() -> None:
    cold = cooling_model(SETUP.vessel, 81.0, 5.0)
    clock = bowl_clock(replace(SETUP, first_sip_c=70.0), cold)
    assert clock.first_sip_s == clock.skim_s + 30


def test_steps_before_the_pour_come_before_it() -> None:
    actions = [step.action for step in steps_of(SETUP)]
    assert actions[:4] == ["grind", "boil", "smell", "pour"]
    assert [step.at_s < 0 for step in steps_of(SETUP)][:4] == [True, True, True, False]


def test_the_wet_aroma_is_called_before_the_first_break() -> None:
    steps = steps_of(SETUP)
    texts = [step.text.split()[0] + " " + step.text.split()[1] for step in steps]
    assert texts.index("Call Wet") < texts.index("Break the")


def test_flights_follow_each_other_after_a_rest() -> None:
    setup = replace(SETUP, coffee_ids=tuple("abcdef"), most_per_flight=4)
    steps = steps_of(setup)
    rest = next(index for index, step in enumerate(steps) if step.action == "rest")
    assert all(step.action != "round" or "Cool" in step.text for step in steps[rest - 1 : rest])
    assert steps[rest + 1].text.startswith("Grind and weigh 3 bowls for flight 2")
    assert steps[rest + 1].at_s - steps[rest].at_s == 300


def test_a_hot_first_sip_is_called_with_a_warning() -> None:
    hot = replace(HOT, target_c=68.0)
    steps = steps_of(replace(SETUP, rounds=(hot,), first_sip_c=68.0))
    assert steps[-1].text == (
        "Call Hot: the last bowl may still be at 68 °C, hot enough to scald. Small sips, from a "
        "spoon."
    )


def test_time_for_a_bowl_is_told_and_tight_rounds_are_named() -> None:
    assert [each.round for each in round_times(SETUP, COOLING)] == ["hot", "warm", "cool"]
    close = replace(
        SETUP,
        coffee_ids=tuple(f"c{i}" for i in range(12)),
        most_per_flight=12,
        rounds=(HOT, replace(HOT, key="next", name="Next", target_c=57.0)),
    )
    first, last = round_times(close, COOLING)
    assert first.text.endswith("leave out a round, or put fewer bowls in a flight.")
    assert first.per_bowl_s == pytest.approx(first.seconds / 12)
    assert last.text == "Next: about 8:00 min for 12 bowls, 40 s each."


def test_the_first_sip_waits_for_the_late_end_until_a_thermometer_was_read() -> None:
    interval = COOLING.seconds_to_interval(SETUP.first_sip_c)
    assert interval is not None
    assert bowl_clock(SETUP, COOLING).first_sip_s == pytest.approx(interval[1])
    read = COOLING.with_probes([(600.0, float(COOLING.temperature(600.0)))])
    expected = read.seconds_to(SETUP.first_sip_c)
    assert expected is not None
    assert bowl_clock(SETUP, read).first_sip_s == pytest.approx(expected)
    assert expected < interval[1]


def test_no_step_calls_a_bowl_safe_and_every_tasted_round_asks_for_small_sips() -> None:
    steps = steps_of(SETUP)
    assert not any("safe" in step.text for step in steps)
    tasted = [step.text for step in steps if step.action == "round" and "smell" not in step.text]
    assert len(tasted) == 3
    assert all(text.lower().count("small sips") == 1 for text in tasted)


def test_a_flight_that_empties_the_kettle_needs_a_second_one() -> None:
    setup = replace(SETUP, coffee_ids=tuple("abcdef"), kettle_ml=1000.0)
    boil = next(step.text for step in steps_of(setup) if step.action == "boil")
    assert (
        "One filling is 5 bowls, and another takes about 3:42 min with 2000 W: have a second kettle"
        in boil
    )
    assert "for 1 more bowl," in boil
    enough = next(step.text for step in steps_of(SETUP) if step.action == "boil")
    assert "second kettle" not in enough


def test_the_pour_that_finds_the_kettle_empty_says_to_take_the_next_one() -> None:
    setup = replace(SETUP, coffee_ids=tuple("abcdef"), kettle_ml=400.0, kettle_w=1000.0)
    steps = timeline(setup, make_plan(setup, np.random.default_rng(4)), COOLING)
    pours = [step.text for step in steps if step.action == "pour"]
    assert [text.startswith("The kettle is empty: take the next") for text in pours] == [
        False, False, True, False, True, False,
    ]  # fmt: skip
    boil = next(step.text for step in steps if step.action == "boil")
    assert "with 1000 W" in boil
