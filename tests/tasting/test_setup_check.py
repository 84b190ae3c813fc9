from dataclasses import replace
from typing import Any

import pytest

from twobowls.errors import InputError
from twobowls.tasting.setup import ALL_ROUNDS, COOL, DRY_AROMA, HOT, WARM, Round, Setup, Vessel
from twobowls.tasting.setup_check import check_setup

GOOD = Setup(name="Sunday", coffee_ids=("a", "b", "c"))


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"rounds": ALL_ROUNDS},
        {"repeats": ("a", "a", "b")},
        {"seats": 300, "most_per_flight": 2},
        {"rounds": (Round(key="sip", name="Sip", kind="taste"),)},
        {"first_sip_c": 71.0, "rounds": (replace(HOT, target_c=71.0),)},
        {"coffee_ids": tuple(f"c{i}" for i in range(40))},
    ],
)
def test_good_setups_pass(changes: dict[str, Any]) -> None:
    check_setup(replace(GOOD, **changes))


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"name": " "}, "name: the tasting has no name. Give it one, such as Sunday table."),
        ({"name": "x" * 81}, "name: 81 characters are too many. Use at most 80."),
        (
            {"coffee_ids": ()},
            "coffee_ids: no coffee is too few to compare. Choose at least two.",
        ),
        (
            {"coffee_ids": ("a",)},
            "coffee_ids: 1 coffee is too few to compare. Choose at least two.",
        ),
        (
            {"coffee_ids": ("a", "b", "a")},
            "coffee_ids: a is chosen twice. Choose it once and name it as a hidden repeat.",
        ),
        (
            {"coffee_ids": tuple(f"c{i}" for i in range(41))},
            "coffee_ids: 41 coffees are more than one table can taste. Choose at most 40, or hold "
            "two tastings.",
        ),
        (
            {"repeats": ("z",)},
            "repeats: z is not one of the coffees of this tasting. Repeat a coffee that is on the "
            "table.",
        ),
        (
            {"repeats": ("a",) * 60},
            "repeats: the table would need more than 60 bowls. Use fewer coffees or repeats, or "
            "more bowls to a flight.",
        ),
        ({"seats": 0}, "seats: 0 is too few. Give a whole number of people from 1 to 300."),
        ({"seats": 301}, "seats: 301 is too many. Give a whole number of people from 1 to 300."),
        (
            {"seats": 2.5},
            "seats: 2.5 is not a whole number. Give a whole number of people from 1 to 300.",
        ),
        (
            {"most_per_flight": 1},
            "most_per_flight: 1 is too few. Give a whole number of bowls from 2 to 12; beyond that "
            "palates tire.",
        ),
        (
            {"vessel": Vessel(volume_ml=20)},
            "volume_ml: 20 mL is out of range. Give 40 to 500 mL (a bowl of coffee).",
        ),
        (
            {"vessel": Vessel(rim_mm=8.2)},
            "rim_mm: 8.2 mm is out of range. Give 40 to 160 mm (a bowl's width).",
        ),
        (
            {"vessel": Vessel(volume_ml=500, rim_mm=40)},
            "rim_mm: 500 mL under a rim of 40 mm would stand 398 mm deep, which is no bowl. "
            "Measure the rim from edge to edge in mm, and the water in mL.",
        ),
        (
            {"ratio_g_per_l": 8.25},
            "ratio_g_per_l: 8.25 g/L is out of range. Give 30 to 100 g/L (from thin to very "
            "strong).",
        ),
        (
            {"ratio_g_per_l": float("nan")},
            "ratio_g_per_l: nan is not a number. Give it in g/L.",
        ),
        (
            {"water_c": 200},
            "water_c: 200 °C is out of range. Give 80 to 100 °C (water that brews coffee).",
        ),
        (
            {"room_c": 70},
            "room_c: 70 °C is out of range. Give 5 to 40 °C (a room people sit in).",
        ),
        (
            {"kettle_ml": 1.7},
            "kettle_ml: 1.7 mL is out of range. Give 200 to 10000 mL (one filling of the kettle).",
        ),
        (
            {"kettle_ml": 250, "vessel": Vessel(volume_ml=260, rim_mm=88)},
            "kettle_ml: 250 mL does not fill one bowl of 260 mL. Give what the kettle holds; a "
            "bowl is poured from one filling.",
        ),
        (
            {"purge_g": -1},
            "purge_g: -1 g is out of range. Give 0 to 50 g (what cleans the grinder between "
            "coffees).",
        ),
        (
            {"pour_gap_s": 5},
            "pour_gap_s: 5 s is out of range. Give 10 to 120 s (a pour takes about ten seconds).",
        ),
        (
            {"pour_gap_s": 60, "coffee_ids": tuple("abcdef")},
            "pour_gap_s: 6 bowls 60 s apart take 300 s to pour, but the crust of the first is "
            "broken at 240 s. Pour at most 46 s apart, or put fewer bowls in a flight.",
        ),
        (
            {"first_sip_c": 80},
            "first_sip_c: 80 °C is out of range. Give 45 to 71 °C (71 °C can scald at once).",
        ),
        (
            {"rounds": (DRY_AROMA,)},
            "rounds: no round is tasted. Choose at least one of them.",
        ),
        ({"rounds": (HOT, HOT)}, "rounds: hot is there twice. Name each round once."),
        (
            {"rounds": (replace(HOT, name=" "),)},
            "rounds: a round has no name. Give every round a name.",
        ),
        (
            {"rounds": (HOT, DRY_AROMA)},
            "rounds: an aroma round follows a tasted one. Put the aroma rounds first.",
        ),
        (
            {"rounds": (WARM, HOT, COOL)},
            "rounds: Hot at 60 °C comes before the bowl is at 50 °C. Rounds follow each other as "
            "the bowl cools, none above the first sip.",
        ),
        (
            {"first_sip_c": 55},
            "rounds: Hot at 60 °C comes before the bowl is at 55 °C. Rounds follow each other as "
            "the bowl cools, none above the first sip.",
        ),
        (
            {"room_c": 38},
            "rounds: Cool at 40 °C is not reached in a room of 38 °C. Give at least 41 °C.",
        ),
    ],
)
def test_what_no_table_could_follow_is_refused(changes: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError) as refused:
        check_setup(replace(GOOD, **changes))
    assert str(refused.value) == message
