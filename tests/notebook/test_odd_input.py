"""Input that looks alike, is too large, or is no list: told apart, or refused in a sentence."""

import datetime
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest
from tests.notebook.calls import marks

import twobowls
from twobowls import InputError

wrongly: Any = twobowls  # calls that no type checker would let pass

TWO = {
    "taster": ["Ana", "Ben", "Ciro"] * 4,
    "coffee": (["Oro"] * 3 + ["Brisa"] * 3) * 2,
    "mark": [20, 25, 31, 50, 42, 55, 22, 29, 36, 48, 52, 53],
}
RATINGS = [1, 2, 2, 3, 3, 4, 1, 1, 2, 4, 3, 3]
RATED = {**TWO, "rating": RATINGS}
PICKED = {"a": ["Oro", "Brisa"], "b": ["Brisa", "Oro"], "answer": ["Oro", "same"]}
RANKED = {"taster": ["Ana", "Ana", "Ben", "Ben"], "coffee": ["x", "y"] * 2, "rank": [1, 2, 1, 2]}


def test_rows_that_only_hash_alike_are_no_copies() -> None:
    frame = {
        "taster": ["Ana", "Ana", "Ben", "Ben", "Ana", "Ana", "Ben"],
        "coffee": ["Oro", "Oro", "Oro", "Oro", "Brisa", "Brisa", "Brisa"],
        "intensity": [-1, -2, -1, -2, 3, 3, 4],
    }
    assert hash(-1) == hash(-2)
    found = twobowls.ratings(frame, scale=(-5, 5), drop_copies=True)
    assert "6 rows of marks" in found.title
    assert any(each.startswith("1 row is the same") for each in found.cautions)


def test_categories_that_differ_in_the_seventh_digit_stay_apart() -> None:
    frame = pd.DataFrame({**RATED, "rating": [1_000_000 + each for each in RATINGS]})
    found = twobowls.categories(frame, category="rating", coffee="coffee", taster="taster")
    assert found.result.categories == ("1000001", "1000002", "1000003", "1000004")
    halves = pd.DataFrame({**RATED, "rating": [each / 2 for each in RATINGS]})
    found = twobowls.categories(halves, category="rating", coffee="coffee", taster="taster")
    assert found.result.categories == ("0.5", "1", "1.5", "2")


def test_crossed_levels_are_not_mixed_up_where_names_have_colons() -> None:
    frame = {
        "taster": ["Ana", "Ana:hot", "Ben"] * 4,
        "coffee": ["hot:Oro", "Oro", "Oro"] * 4,
        "rating": RATINGS,
    }
    found = twobowls.categories(frame, fixed=["coffee"], random=["taster:coffee"])
    assert len(found.result.modes["taster:coffee"]) == 3


def test_days_beside_times_are_rounds_in_the_order_of_their_rows() -> None:
    rounds = [datetime.date(2024, 1, 2), datetime.datetime(2024, 1, 1, 9)] * 6
    frame = {**TWO, "round": rounds}
    assert len(set(twobowls.ratings(frame).to_frame("rounds")["round"])) == 2


def test_counts_at_strengths_of_several_sensations_are_refused() -> None:
    counted = {"strength": [1, 2, 4], "right": [0, 2, 3], "trials": [3, 3, 3]}
    with pytest.raises(InputError, match="sensation: the column 'sensation' holds 2 of them"):
        twobowls.threshold({**counted, "sensation": ["sweet", "sour", "sour"]})
    with pytest.raises(InputError, match="taster: counts are of all tasters"):
        twobowls.threshold(counted, taster="taster")


def test_rows_not_shown_are_in_a_table_that_is_there() -> None:
    found = twobowls.blocks(3, [2] * 40)
    assert '.to_frame("blocks")' in repr(found)
    assert len(found.to_frame("blocks", backend="dict")["flight"]) == 80


def test_a_coffee_that_nobody_chose_is_told() -> None:
    found = twobowls.preference({"answer": ["Oro"] * 5}, for_coffee="oro")
    assert found.cautions[0] == "Nobody chose 'oro'; all chose 'Oro'."


def test_the_risk_that_is_asked_for_decides_the_sentence() -> None:
    frame = {
        "taster": [each for each in "ABCD" for _ in range(3)],
        "coffee": ["Brisa", "Niebla", "Oro"] * 4,
        "rank": [1, 2, 3, 1, 3, 2, 1, 2, 3, 2, 1, 3],
    }
    assert "No common order can be told (p = 0.12)" in repr(twobowls.ranks(frame))
    assert "order the coffees alike (p = 0.12)" in repr(twobowls.ranks(frame, alpha=0.2))


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: wrongly.ratings(marks(), sensations=5), "sensations: 5 is not a list. Write"),
        (lambda: wrongly.ratings(marks(), random=5), "random: 5 is not a list. Write it as"),
        (lambda: wrongly.ratings(marks(), fixed=[]), "fixed: no term compares the coffees. Name"),
        (
            lambda: wrongly.ratings(marks(), prior="flat", fixed=["round"], random=["coffee"]),
            "Name “coffee” under fixed)",
        ),
        (lambda: wrongly.categories(RATED, category="rating", fixed=5), "fixed: 5 is not a list"),
        (lambda: wrongly.categories(RATED, category="rating", order=5), "order: 5 is not a list"),
        (lambda: wrongly.ranks(RANKED, predicted=5), "predicted: 5 is not a list"),
        (lambda: wrongly.serving_orders(3, 4, apart=5), "apart: 5 is not a list. Write [("),
        (lambda: wrongly.serving_orders(3, 4, apart=[5]), "apart: 5 is not a list. Write [("),
        (
            lambda: wrongly.serving_orders(["12", "34"], 4, apart=[("12", "12")]),
            "apart: ('12', '12') is not a pair of two bowls",
        ),
        (lambda: wrongly.blocks(3, [2, 2], anchors="1"), "anchors: '1' is one text"),
        (lambda: wrongly.plan_tasting(2, rounds=5), "rounds: 5 is not a list"),
        (lambda: wrongly.plan_tasting(2, repeats=5), "repeats: 5 is not a list"),
        (lambda: wrongly.power(coffees=2, tasters=3, chance="x"), "chance: 'x' is not a number"),
        (lambda: wrongly.picks(PICKED, first_bowl="yes"), "first_bowl: 'yes' is neither True"),
        (
            lambda: twobowls.picks({"a": ["x"], "b": ["y"], "for_a": [1e18], "for_b": [3]}),
            "for_a: 1e+18 is too many. Give counts of a billion at most",
        ),
        (
            lambda: twobowls.agreement({**TWO, "mark": np.array(TWO["mark"]) * 1e300}),
            "row 0, mark: 2e+301 is too large. Give a number",
        ),
        (
            lambda: twobowls.ratings({**TWO, "coffee": ["Oro", "Bris\udce9"] * 6}),
            "is no text: it was read in the wrong encoding",
        ),
    ],
)
def test_what_is_no_list_or_too_large_is_refused(call: Callable[[], object], message: str) -> None:
    with pytest.raises(InputError) as caught:
        call()
    assert message in str(caught.value)


@pytest.mark.parametrize("word", ["-inf", "Infinity"])
def test_an_infinite_rating_among_texts_is_no_category(word: str) -> None:
    rated = {**TWO, "rating": [*map(str, RATINGS[:-1]), word]}
    message = f"rating: '{word}' is no category. Correct that rating, or leave it out."
    with pytest.raises(InputError, match=message):
        twobowls.categories(rated, category="rating", coffee="coffee", taster="taster")
