from dataclasses import replace

import pytest

from twobowls.errors import InputError
from twobowls.tasting.asking import (
    CHOICES,
    asked_for,
    asked_in,
    effort,
    fits,
    proposed,
    proposed_walk,
    with_choice,
)
from twobowls.tasting.cooling import cooling_model
from twobowls.tasting.setup import ALL_ROUNDS, HOT, Setup
from twobowls.tasting.setup_check import check_setup

SETUP = Setup(name="x", coffee_ids=("a", "b"), rounds=ALL_ROUNDS)
COOLING = cooling_model(SETUP.vessel, SETUP.water_c, SETUP.room_c)
SEVEN = ["aroma", "acidity", "bitterness", "sweetness", "body", "aftertaste", "verdict"]


def table(bowls: int) -> Setup:
    return Setup(name="x", coffee_ids=tuple("abcdefghij"[:bowls]))


def test_a_tasting_from_before_the_choice_was_stored_asks_what_it_asked() -> None:
    asked = {key: [each.key for each in pads] for key, pads in asked_in(SETUP).items()}
    assert asked == {
        "dry": ["aroma"],
        "wet": ["aroma"],
        "hot": SEVEN,
        "warm": SEVEN,
        "cool": SEVEN,
    }


def test_classic_has_aroma_early_taste_when_warm_and_the_verdict_always() -> None:
    dry, _wet, hot, warm, cool = asked_for("classic", ALL_ROUNDS)
    assert (dry, hot, cool) == (("aroma",), ("aroma", "verdict"), ("verdict",))
    assert set(warm) == set(SEVEN) - {"aroma"}
    assert asked_for("classic", (HOT,)) == (tuple(SEVEN),)


def test_a_fuller_choice_costs_more_taps() -> None:
    taps = [effort(with_choice(table(5), choice)).taps for choice in ("verdict", "short", "all")]
    assert taps == sorted(set(taps))


def test_six_bowls_on_seven_pads_are_at_most_56_taps() -> None:
    assert effort(replace(table(6), rounds=(HOT,))).taps == 6 * 7 + 7 + 6


def test_bowl_by_bowl_takes_fewer_sips_and_less_caffeine() -> None:
    by_pad, by_bowl = effort(table(4)), effort(replace(table(4), walk="bowls"))
    assert (by_pad.sips, by_bowl.sips) == (4 * 6 * 3, 4 * 3 * 3)
    assert by_bowl.caffeine_mg == pytest.approx(by_pad.caffeine_mg / 2)
    # 5 mL of 55 g/L at 1.2 %: 3.3 mg a sip
    assert by_pad.caffeine_mg == pytest.approx(72 * 3.3)


def test_the_proposal_shrinks_with_the_bowls_and_fits() -> None:
    found = [proposed(table(bowls), COOLING) for bowls in (2, 6, 10)]
    places = [CHOICES.index(each) for each in found]
    assert found[0] == "all"
    assert places == sorted(places, reverse=True)
    assert places[1] < places[0]
    assert fits(with_choice(table(6), found[1]), COOLING)
    assert not fits(with_choice(table(6), "all"), COOLING)


def test_many_sips_are_walked_bowl_by_bowl() -> None:
    assert [proposed_walk(table(bowls)) for bowls in (4, 5)] == ["sensations", "bowls"]


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        ((("verdict",), ("verdict",)), r"2 choices for 1 round"),
        (((),), r"Hot asks nothing"),
        ((("crunch",),), r"Hot cannot ask for 'crunch'\. Choose from aroma, acidity"),
        ((("body", "body"),), r"Hot asks the same twice"),
    ],
)
def test_a_choice_that_cannot_be_asked_is_refused(
    asked: tuple[tuple[str, ...], ...], message: str
) -> None:
    with pytest.raises(InputError, match=message):
        check_setup(replace(SETUP, rounds=(HOT,), asked=asked))
