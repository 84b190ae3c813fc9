"""Options that cannot be: a message with the field and the cure."""

from collections.abc import Callable
from typing import Any

import pytest
from tests.notebook.bad_frames import every_call, said_of
from tests.notebook.calls import BY_NAME, Call, marks

import twobowls
from twobowls import InputError

wrongly: Any = twobowls  # calls that no type checker would let pass


@every_call
@pytest.mark.parametrize("level", [0, 1, -0.5, float("nan"), "x", None, True])
def test_a_level_out_of_range_is_refused(call: Call, level: object) -> None:
    if call.name in ("ranks", "similarity"):  # they have risks, no level
        return
    assert said_of(call, call.frame, level=level).startswith("level: ")


@pytest.mark.parametrize("scale", [(100, 0), (5, 5), (0,), "0,100", 7, (0, float("inf")), ("a", 1)])
def test_a_scale_that_is_none_is_refused(scale: Any) -> None:
    with pytest.raises(InputError, match=r"is not a scale. Give its two ends, such as \(0, 100\)"):
        twobowls.ratings(marks(), scale=scale)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"order": "none some"}, "order: 'none some' is one text. Give a list"),
        ({"order": ["1", "2"]}, "category: '3' is not in order=. Correct the rating, or add"),
        ({"link": "cauchit"}, "link: 'cauchit' is not known. Choose one of probit, logit"),
        ({"prior": "strong"}, 'prior: "strong" is not known. Choose "weak" or "flat"'),
        ({"fixed": ["cofee"]}, "cofee: the frame has no column 'cofee'. Did you mean 'coffee'?"),
        ({"quadrature": 5, "random": ["taster", "round"]}, "quadrature: 5 nodes need exactly one"),
    ],
)
def test_options_of_categories_that_cannot_be_are_refused(
    options: dict[str, Any], message: str
) -> None:
    assert message in said_of(BY_NAME["categories"], BY_NAME["categories"].frame, **options)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"predicted": ["Oro"]}, "predicted: not every coffee is in it once. Order all of"),
        ({"predicted": ["Oroo"]}, "predicted: there is no coffee 'Oroo'. Did you mean 'Oro'?"),
        ({"alpha": 2}, "alpha: 2 is out of range"),
        ({"rng": "seed"}, "rng: 'seed' is no source of chance. Give a whole number"),
    ],
)
def test_options_of_ranks_that_cannot_be_are_refused(options: dict[str, Any], message: str) -> None:
    assert message in said_of(BY_NAME["ranks"], BY_NAME["ranks"].frame, **options)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: wrongly.discrimination("quartet", correct=1, trials=2), "'quartet' is not known"),
        (lambda: wrongly.discrimination("triangle"), "correct: it is missing. Give correct= and"),
        (lambda: wrongly.discrimination("triangle", correct=3), "trials: it is missing"),
        (lambda: wrongly.discrimination("triangle", correct=9, trials=8), "9 is too many"),
        (
            lambda: wrongly.discrimination("triangle", {"right": [1]}, correct=1),
            "correct: there is a frame as well. Give a frame, or correct=",
        ),
        (lambda: wrongly.preference(for_a=1.5, trials=3), "for_a: 1.5 is not a whole number"),
        (
            lambda: wrongly.preference({"answer": ["Oro", "Brisa"]}, for_coffee="Niebla"),
            "for_coffee: nobody chose 'Niebla'. Use one of: Oro, Brisa",
        ),
        (lambda: wrongly.similarity("triangle", correct=2, trials=9, beta=7), "beta: 7 is out of"),
        (lambda: wrongly.a_not_a(3, 2, 0, 2), "a_called_a: 3 is too many"),
        (lambda: wrongly.serving_orders(0, 4), "bowls: 0 is too few. Give a whole number from 1"),
        (lambda: wrongly.serving_orders("417", 4), "bowls: '417' is one text. Give a list"),
        (lambda: wrongly.serving_orders(["a", "a"], 4), "bowls: 'a' is there twice. Name each"),
        (lambda: wrongly.serving_orders(["a", " "], 4), "bowls: one has no name. Name it"),
        (lambda: wrongly.serving_orders(3, 4.5), "seats: 4.5 is not a whole number"),
        (
            lambda: wrongly.serving_orders(["417", "862"], 2, apart=[("417", "863")]),
            "apart: there is no '863'. Did you mean '862'?",
        ),
        (lambda: wrongly.serving_orders(2, 2, apart=["12"]), "apart: '12' is one text"),
        (lambda: wrongly.blocks(5, [2, 2]), "sizes: 4 places are too few for 5 coffees. Give at"),
        (lambda: wrongly.blocks(5, 3), "sizes: 3 is not a list. Give the size of each flight"),
        (lambda: wrongly.blocks(5, []), "sizes: there is no flight"),
        (lambda: wrongly.blocks(["x", "y"], [2], anchors=["z"]), "anchors: there is no 'z'"),
        (lambda: wrongly.power(coffees=1, tasters=3), "coffees: 1 is too few"),
        (lambda: wrongly.power(coffees=2, tasters=3, difference=-1), "difference: -1 is out of"),
        (lambda: wrongly.power(coffees=2, tasters=3, chance=1.5), "chance: 1.5 is out of range"),
        (lambda: wrongly.power(coffees=2, tasters=3, spread=8), "spread: 8 is no Spread"),
        (lambda: wrongly.plan_tasting(["Oro"], repeats=["Orro"]), "Did you mean 'Oro'?"),
        (lambda: wrongly.plan_tasting(2, rounds=["tepid"]), "rounds: there is no round 'tepid'"),
        (lambda: wrongly.plan_tasting(2, rounds="hot"), "rounds: 'hot' is one text"),
        (lambda: wrongly.plan_tasting(2, seats=0), "seats: 0 is too few"),
        (lambda: wrongly.plan_tasting(2, water_c="warm"), "water_c: 'warm' is not a number"),
        (lambda: wrongly.cooling(water_c=15), "water_c: 15 °C is no warmer than the room"),
        (lambda: wrongly.cooling(volume_ml=5), "volume_ml: 5 is out of range"),
        (lambda: wrongly.cooling(probes=[60]), "probes: [60] are no readings. Give pairs"),
        (lambda: wrongly.cooling(level=90), "level: 90 is out of range"),
    ],
)
def test_what_cannot_be_counted_or_planned_is_refused(
    call: Callable[[], object], message: str
) -> None:
    with pytest.raises(InputError) as caught:
        call()
    assert message in str(caught.value)
