"""The people at the sample table and what they would mark: a small, invented simulation.

Everything here is made up: coffees, roasters, places, people and their palates. It exists so
that a newcomer has something to look at; no check of the statistics leans on it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from twobowls.tasting.coffees import Coffee
from twobowls.tasting.records import Feeling

SHELF: tuple[Coffee, ...] = (
    Coffee(
        id="amberline",
        name="Amberline",
        roaster="Pell Lane Coffee",
        origin="Tarrowen highlands",
        process="washed",
        roast_level="light",
        roast_date="2026-11-09",
        price_per_100g=6.4,
        seller_words="apricot, black tea, lively",
        notes="The one everybody asks about.",
    ),
    Coffee(
        id="night-ferry",
        name="Night Ferry",
        roaster="Quillfen Roastery",
        origin="Sur Calado",
        process="natural",
        roast_level="medium",
        roast_date="2026-11-11",
        price_per_100g=5.2,
        seller_words="cocoa, dried plum, heavy",
    ),
    Coffee(
        id="cinder-row",
        name="Cinder Row",
        roaster="Quillfen Roastery",
        origin="Sur Calado and Mbeliro hills",
        process="washed and natural",
        roast_level="dark",
        roast_date="2026-11-12",
        price_per_100g=3.9,
        seller_words="roast, bitter chocolate, smoke",
        notes="House pour at the Low Tide Room.",
    ),
    Coffee(
        id="greywether",
        name="Greywether",
        roaster="Pell Lane Coffee",
        origin="Mbeliro hills",
        process="washed",
        roast_level="light",
        roast_date="2026-11-10",
        price_per_100g=6.9,
        seller_words="lemon peel, jasmine, thin and long",
    ),
    Coffee(
        id="low-orchard",
        name="Low Orchard",
        roaster="Hobbin Yard",
        origin="Sur Calado",
        process="honey",
        roast_level="medium",
        roast_date="2026-11-13",
        price_per_100g=4.8,
        seller_words="toffee, baked apple, round",
    ),
)

# How strong each sensation is in each coffee of the sample tasting, on the 0-100 line, hot.
STRENGTH: Mapping[str, Mapping[str, float]] = {
    "amberline": {
        "aroma": 66, "acidity": 70, "bitterness": 26, "sweetness": 56,
        "body": 38, "aftertaste": 52, "verdict": 58,
    },
    "night-ferry": {
        "aroma": 60, "acidity": 40, "bitterness": 42, "sweetness": 60,
        "body": 66, "aftertaste": 58, "verdict": 61,
    },
    "cinder-row": {
        "aroma": 58, "acidity": 22, "bitterness": 74, "sweetness": 27,
        "body": 71, "aftertaste": 68, "verdict": 67,
    },
}  # fmt: skip

# What a round adds as the bowl cools: acidity and sweetness come forward, bitterness recedes.
COOLING: Mapping[str, Mapping[str, float]] = {
    "hot": {},
    "warm": {"acidity": 3, "sweetness": 4, "bitterness": -2, "aroma": -4},
    "cool": {"acidity": 7, "sweetness": 6, "bitterness": -3, "aroma": -10, "body": -3},
}


@dataclass(frozen=True, slots=True)
class Habit:
    """A word that people reach for with a coffee, how often, and how they feel about it."""

    family: str
    term: str
    chance: float
    feeling: Feeling


HABITS: Mapping[str, tuple[Habit, ...]] = {
    "amberline": (
        Habit("fruity", "peach-or-apricot", 0.55, "liked"),
        Habit("fruity", "", 0.3, "liked"),
        Habit("floral", "black-tea", 0.45, "liked"),
        Habit("sugary", "honey", 0.35, "liked"),
        Habit("vegetal", "", 0.12, "disliked"),
    ),
    "night-ferry": (
        Habit("cocoa", "milk-chocolate", 0.5, "liked"),
        Habit("fruity", "cherry-or-plum", 0.45, "liked"),
        Habit("fermented", "", 0.35, "disliked"),
        Habit("nutty", "hazelnut", 0.25, "neutral"),
    ),
    "cinder-row": (
        Habit("roasted", "smoke", 0.55, "disliked"),
        Habit("roasted", "toast", 0.25, "liked"),
        Habit("cocoa", "dark-chocolate", 0.5, "liked"),
        Habit("spice", "clove", 0.2, "neutral"),
        Habit("papery", "", 0.1, "disliked"),
    ),
}


@dataclass(frozen=True, slots=True)
class Person:
    """One taster: where they sit on the line, how steady they are, and what they like.

    ``likes`` gives, by sensation, the strength liked best (0-100); ``swaps`` marks somebody
    who calls sour bitter and bitter sour; ``noise`` is the standard deviation of a mark.
    """

    nickname: str
    offset: float
    noise: float
    likes: Mapping[str, float]
    swaps: bool = False


PEOPLE: tuple[Person, ...] = (
    Person("Ilka", -4, 7, {"acidity": 68, "bitterness": 22, "sweetness": 62, "body": 40}),
    Person("Bram", 6, 9, {"acidity": 38, "bitterness": 45, "sweetness": 62, "body": 66}),
    Person("Odile", 0, 6, {"acidity": 60, "bitterness": 28, "sweetness": 64, "body": 52}),
    Person("Teo", 3, 11, {"acidity": 30, "bitterness": 62, "sweetness": 44, "body": 72}),
    Person("Marit", -7, 8, {"acidity": 55, "bitterness": 30, "sweetness": 66, "body": 58}, True),
)


def liking_of(person: Person, strengths: Mapping[str, float], sensation: str) -> float:
    """Return how much the person likes a sensation at that strength, before noise (0-100).

    An ideal point: best at the strength they like, less with distance. The verdict and the
    sensations without an ideal of their own follow the mean of those that have one.
    """
    if sensation in person.likes:
        distance = abs(strengths[sensation] - person.likes[sensation])
        return 84.0 - 1.35 * distance
    return float(np.mean([liking_of(person, strengths, each) for each in person.likes]))


def perceived(
    person: Person, coffee: str, round_key: str, lean: Mapping[str, float]
) -> dict[str, float]:
    """Return the strengths that the person perceives in a coffee in a round, before noise."""
    moved = COOLING.get(round_key, {})
    felt = {
        name: value + moved.get(name, 0.0) + person.offset + lean.get(name, 0.0)
        for name, value in STRENGTH[coffee].items()
    }
    if person.swaps:
        felt["acidity"], felt["bitterness"] = felt["bitterness"], felt["acidity"]
    return felt


def mark_values(
    person: Person,
    coffee: str,
    round_key: str,
    sensations: Sequence[str],
    lean: Mapping[str, float],
    rng: np.random.Generator,
) -> dict[str, tuple[float, float]]:
    """Draw (intensity, liking) for each sensation, rounded as a finger would place them."""
    felt = perceived(person, coffee, round_key, lean)
    drawn = {}
    for name in sensations:
        intensity = felt[name] + rng.normal(0.0, person.noise)
        liking = liking_of(person, felt, name) + rng.normal(0.0, person.noise)
        drawn[name] = (
            round(float(np.clip(intensity, 0, 100)), 1),
            round(float(np.clip(liking, 0, 100)), 1),
        )
    return drawn
