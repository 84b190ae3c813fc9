"""From the form of a new tasting to a setup, with every error beside its field."""

from dataclasses import replace

import numpy as np

from twobowls.errors import InputError
from twobowls.tasting.asking import CHOICES, proposed, proposed_walk, with_choice
from twobowls.tasting.coffees import Coffee
from twobowls.tasting.cooling import cooling_model
from twobowls.tasting.setup import ALL_ROUNDS, Round, Setup, Vessel, Walk
from twobowls.tasting.setup_check import LIMITS, MOST_PER_FLIGHT, MOST_SEATS, check_setup
from twobowls.web.forms import Form
from twobowls.web.wording import plain_number

MOST_LOTS = 6
WALKS: tuple[Walk, ...] = ("sensations", "bowls")
# Value of the form: label, hint.
ASKING = {
    "fits": (
        "What fits the bowls",
        "As much as the bowls' warmth, 150 taps and 200 mg of caffeine allow.",
    ),
    "verdict": ("Two minutes a round", "The verdict alone."),
    "short": ("Short", "Acidity, sweetness, body and verdict."),
    "classic": ("Classic", "The aroma early, the taste when warm, the verdict always."),
    "all": ("Everything", "All sensations in every tasted round."),
    "own": ("My own choice", "Tick below what each round asks."),
}
WALKING = {
    "proposed": ("As the plan proposes", "By bowl where a round would take over 24 sips."),
    "sensations": ("Sensation by sensation", "All bowls on one pad: compares best."),
    "bowls": ("Bowl by bowl", "All pads of one bowl: fewer sips."),
}
# Field of the form: label, hint. The ranges are the domain's.
NUMBERS = {
    "volume_ml": ("Water in a bowl", "Up to where you fill it."),
    "rim_mm": ("Width of the rim", "From edge to edge; a wide bowl cools faster."),
    "ratio_g_per_l": ("Coffee to water", "55 g/L is a common ratio for tasting."),
    "water_c": ("Water in the kettle", "As you pour it."),
    "room_c": ("Room", "For the cooling clock."),
    "kettle_ml": ("The kettle holds", "One filling."),
    "kettle_w": ("Power of the kettle", "Printed on its foot; for how long a refill takes."),
    "purge_g": ("Purge of the grinder", "Ground and thrown away before each coffee."),
    "pour_gap_s": ("From one pour to the next", "Each bowl has its own clock."),
    "first_sip_c": (
        "First sip at",
        "60 °C is a careful start; a spill still burns within seconds, children sooner. Trade "
        "practice begins near 71 °C, above the 65 °C that health agencies warn of.",
    ),
}
RANGES = {limit.field: limit for limit in LIMITS}


def default_values(name: str) -> dict[str, str]:
    """Return what the form shows before anybody has typed."""
    setup = Setup(name=name, coffee_ids=())
    return values_of(setup) | {"lots": "1"}


def values_of(setup: Setup) -> dict[str, str]:
    """Return the texts of a form that would give this setup (but for ticks)."""
    numbers = {name: RANGES[name].value(setup) for name in NUMBERS}
    targets = {f"target_{each.key}": each.target_c or 0.0 for each in ALL_ROUNDS if each.target_c}
    chosen = {f"target_{each.key}": each.target_c for each in setup.rounds if each.target_c}
    return {
        "name": setup.name,
        "seats": str(setup.seats),
        "most_per_flight": str(setup.most_per_flight),
        "lots": "0",
        **{name: plain_number(value) for name, value in {**numbers, **targets, **chosen}.items()},
    }


def typed_values(form: Form) -> dict[str, str]:
    """Return what was typed, to show it again."""
    return {name: form.text(name) for name in default_values("")}


def read_setup(form: Form, shelf: tuple[Coffee, ...], rng: np.random.Generator) -> Setup | None:
    """Return the setup, or None when ``form.errors`` says what is wrong.

    The coffees that are repeated by lot are drawn here, among those not ticked for it.
    """
    known = {coffee.id for coffee in shelf}
    coffees = tuple(each for each in form.all("coffee") if each in known)
    if len(coffees) < 2:
        count = "no coffee is" if not coffees else "one coffee is"
        form.refuse(
            "coffee_ids", f"To compare, choose at least two coffees; {count} chosen so far."
        )
    twice = tuple(each for each in form.all("twice") if each in coffees)
    lots = form.whole("lots", 0, MOST_LOTS)
    free = [each for each in coffees if each not in twice]
    if coffees and lots > len(free):
        most = f"at most {len(free)} here" if free else "none here"
        form.refuse("lots", f"{lots} is more than the coffees left to draw from: {most}.")
    numbers = {
        name: form.number(name, RANGES[name].low, RANGES[name].high, RANGES[name].unit)
        for name in NUMBERS
    }
    setup = Setup(
        name=form.text("name"),
        coffee_ids=coffees,
        seats=form.whole("seats", 1, MOST_SEATS),
        most_per_flight=form.whole("most_per_flight", 2, MOST_PER_FLIGHT),
        rounds=_rounds(form),
        vessel=Vessel(volume_ml=numbers.pop("volume_ml"), rim_mm=numbers.pop("rim_mm")),
        host_tastes=form.ticked("host_tastes"),
        names_in_files=form.ticked("names_in_files"),
        repeats=twice,
        asked=(),  # for now: what fits depends on the rest
        walk="sensations",
        **numbers,
    )
    if form.errors:
        return None
    drawn = rng.choice(free, size=lots, replace=False).tolist() if lots else []
    checked = _checked(form, replace(setup, repeats=(*twice, *drawn)))
    return None if checked is None else _checked(form, _asking(form, checked))


def _asking(form: Form, setup: Setup) -> Setup:
    """Return the setup with what it asks; a form without the question asks everything."""
    typed = form.text("asking") or "all"
    if typed == "own":
        asked = tuple(tuple(form.all(f"asked_{each.key}")) for each in setup.rounds)
        setup = replace(setup, asked=asked if any(asked) else ())
        if not any(asked):
            form.refuse("asked", "Nothing is ticked. Tick what each round asks.")
            return setup
        if not all(asked):
            return setup  # refused with the name of the round
        setup = replace(setup, walk=proposed_walk(setup))
    else:
        model = cooling_model(setup.vessel, setup.water_c, setup.room_c)
        ready = next((each for each in CHOICES if each == typed), None)
        setup = with_choice(setup, ready or proposed(setup, model))
    walk = next((each for each in WALKS if each == form.text("walk")), setup.walk)
    return replace(setup, walk=walk)


def _checked(form: Form, setup: Setup) -> Setup | None:
    try:
        check_setup(setup)
    except InputError as error:
        form.refuse_error(error)
    return None if form.errors else setup


def _rounds(form: Form) -> tuple[Round, ...]:
    chosen = form.all("round")
    rounds = []
    for each in ALL_ROUNDS:
        if each.key not in chosen:
            continue
        if each.target_c is not None:
            target = form.number(f"target_{each.key}", 10, 71, "°C")
            each = replace(each, target_c=target)
        rounds.append(each)
    if not any(each.kind == "taste" for each in rounds):
        form.refuse("rounds", "No round is tasted. Choose at least one of Hot, Warm and Cool.")
    return tuple(rounds)
