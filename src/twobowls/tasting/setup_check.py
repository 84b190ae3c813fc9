"""What a setup may hold: every limit in one place, each with its reason.

Does not plan; only says, field by field, what cannot be and what to do instead.
"""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from math import isfinite, pi

from twobowls.counting import count_of
from twobowls.errors import InputError
from twobowls.tasting.flights import flight_bowls
from twobowls.tasting.sensations import sensations_in
from twobowls.tasting.setup import Round, Setup
from twobowls.tasting.typed_text import unseen_problem

MOST_COFFEES = 40
MOST_BOWLS = 60
MOST_SEATS = 300
MOST_PER_FLIGHT = 12
BREAK_S = 240.0  # the crust is broken at 4:00 of a bowl's own clock
SAFE_FIRST_SIP_C = 62.0  # above it a sip can scald within seconds


@dataclass(frozen=True, slots=True)
class Limit:
    """The range of a number, its unit, and why it is so."""

    field: str
    low: float
    high: float
    unit: str
    why: str
    value: Callable[[Setup], float]


LIMITS = (
    Limit("volume_ml", 40, 500, "mL", "a bowl of coffee", lambda s: s.vessel.volume_ml),
    Limit("rim_mm", 40, 160, "mm", "a bowl's width", lambda s: s.vessel.rim_mm),
    Limit("ratio_g_per_l", 30, 100, "g/L", "from thin to very strong", lambda s: s.ratio_g_per_l),
    Limit("water_c", 80, 100, "°C", "water that brews coffee", lambda s: s.water_c),
    Limit("room_c", 5, 40, "°C", "a room people sit in", lambda s: s.room_c),
    Limit("kettle_ml", 200, 10_000, "mL", "one filling of the kettle", lambda s: s.kettle_ml),
    Limit("kettle_w", 300, 4000, "W", "from a travel kettle to a strong one", lambda s: s.kettle_w),
    Limit("purge_g", 0, 50, "g", "what cleans the grinder between coffees", lambda s: s.purge_g),
    Limit("pour_gap_s", 10, 120, "s", "a pour takes about ten seconds", lambda s: s.pour_gap_s),
    Limit("first_sip_c", 45, 71, "°C", "71 °C can scald at once", lambda s: s.first_sip_c),
)


def check_setup(setup: Setup) -> None:
    """Refuse a setup that no table could follow.

    Parameters
    ----------
    setup : Setup
        What the host chose.

    Raises
    ------
    InputError
        For the first field that cannot be used, with what to do about it.

    Examples
    --------
    >>> check_setup(Setup(name="Sunday", coffee_ids=("a", "b")))
    >>> check_setup(Setup(name="Sunday", coffee_ids=("a",)))
    Traceback (most recent call last):
        ...
    twobowls.errors.InputError: coffee_ids: 1 coffee is too few to compare. Choose at least two.
    """
    check_name(setup.name)
    _check_coffees(setup)
    _check_counts(setup)
    for limit in LIMITS:
        _check_limit(setup, limit)
    _check_depth(setup)
    _check_kettle(setup)
    _check_rounds(setup)
    _check_asked(setup)
    _check_pour(setup)


def check_name(name: str) -> None:
    """Refuse a name of a tasting that cannot be used.

    Parameters
    ----------
    name : str
        What the host typed.

    Raises
    ------
    InputError
        It is empty or too long, or holds a character that cannot be seen.

    Examples
    --------
    >>> check_name("Sunday table")
    >>> check_name(" ")
    Traceback (most recent call last):
        ...
    twobowls.errors.InputError: name: the tasting has no name. Give it one, such as Sunday table.
    """
    if not name.strip():
        raise InputError("name", "the tasting has no name", "Give it one, such as Sunday table")
    if len(name) > 80:
        raise InputError("name", f"{len(name)} characters are too many", "Use at most 80")
    unseen = unseen_problem("name", name)
    if unseen is not None:
        raise unseen


def _check_coffees(setup: Setup) -> None:
    coffees = setup.coffee_ids
    if len(coffees) < 2:
        count = "no coffee" if not coffees else "1 coffee"
        raise InputError("coffee_ids", f"{count} is too few to compare", "Choose at least two")
    if len(coffees) > MOST_COFFEES:
        raise InputError(
            "coffee_ids",
            f"{len(coffees)} coffees are more than one table can taste",
            f"Choose at most {MOST_COFFEES}, or hold two tastings",
        )
    twice = [coffee for coffee, times in Counter(coffees).items() if times > 1]
    if twice:
        raise InputError(
            "coffee_ids",
            f"{twice[0]} is chosen twice",
            "Choose it once and name it as a hidden repeat",
        )
    for coffee in setup.repeats:
        if coffee not in coffees:
            raise InputError(
                "repeats",
                f"{coffee} is not one of the coffees of this tasting",
                "Repeat a coffee that is on the table",
            )


def _check_counts(setup: Setup) -> None:
    _check_whole("seats", setup.seats, 1, MOST_SEATS, "Give a whole number of people from 1 to 300")
    _check_whole(
        "most_per_flight",
        setup.most_per_flight,
        2,
        MOST_PER_FLIGHT,
        "Give a whole number of bowls from 2 to 12; beyond that palates tire",
    )
    asked = len(setup.coffee_ids) + len(setup.repeats)
    if asked > MOST_BOWLS or sum(map(len, flight_bowls(setup))) > MOST_BOWLS:
        raise InputError(
            "repeats",
            f"the table would need more than {MOST_BOWLS} bowls",
            "Use fewer coffees or repeats, or more bowls to a flight",
        )


def _check_whole(field: str, value: int, low: int, high: int, cure: str) -> None:
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        problem = "is not a whole number"
        if isinstance(value, int) and not isinstance(value, bool):
            problem = "is too few" if value < low else "is too many"
        raise InputError(field, f"{value} {problem}", cure)


def _check_limit(setup: Setup, limit: Limit) -> None:
    value = limit.value(setup)
    if not isfinite(value):
        raise InputError(limit.field, f"{value} is not a number", f"Give it in {limit.unit}")
    if not limit.low <= value <= limit.high:
        raise InputError(
            limit.field,
            f"{value:g} {limit.unit} is out of range",
            f"Give {limit.low:g} to {limit.high:g} {limit.unit} ({limit.why})",
        )


def _check_depth(setup: Setup) -> None:
    radius_cm = setup.vessel.rim_mm / 20
    depth_mm = 10 * setup.vessel.volume_ml / (pi * radius_cm**2)
    if not 12 <= depth_mm <= 150:
        raise InputError(
            "rim_mm",
            f"{setup.vessel.volume_ml:g} mL under a rim of {setup.vessel.rim_mm:g} mm would stand "
            f"{depth_mm:.0f} mm deep, which is no bowl",
            "Measure the rim from edge to edge in mm, and the water in mL",
        )


def _check_kettle(setup: Setup) -> None:
    if setup.kettle_ml < setup.vessel.volume_ml:
        raise InputError(
            "kettle_ml",
            f"{setup.kettle_ml:g} mL does not fill one bowl of {setup.vessel.volume_ml:g} mL",
            "Give what the kettle holds; a bowl is poured from one filling",
        )


def _check_rounds(setup: Setup) -> None:
    keys = [each.key for each in setup.rounds]
    tasted = [each for each in setup.rounds if each.kind == "taste"]
    if not tasted:
        raise InputError("rounds", "no round is tasted", "Choose at least one of them")
    if len(set(keys)) < len(keys):
        twice = Counter(keys).most_common(1)[0][0]
        raise InputError("rounds", f"{twice} is there twice", "Name each round once")
    if any(not each.key.strip() or not each.name.strip() for each in setup.rounds):
        raise InputError("rounds", "a round has no name", "Give every round a name")
    first_tasted = next(i for i, each in enumerate(setup.rounds) if each.kind == "taste")
    if any(each.kind == "aroma" for each in setup.rounds[first_tasted:]):
        raise InputError(
            "rounds", "an aroma round follows a tasted one", "Put the aroma rounds first"
        )
    _check_targets(setup, [each for each in tasted if each.target_c is not None])


def _check_targets(setup: Setup, rounds: list[Round]) -> None:
    warmest = setup.first_sip_c
    for each in rounds:
        target = each.target_c or 0.0
        if not setup.room_c + 3 <= target:
            raise InputError(
                "rounds",
                f"{each.name} at {target:g} °C is not reached in a room of {setup.room_c:g} °C",
                f"Give at least {setup.room_c + 3:g} °C",
            )
        if not target <= warmest:
            raise InputError(
                "rounds",
                f"{each.name} at {target:g} °C comes before the bowl is at {warmest:g} °C",
                "Rounds follow each other as the bowl cools, none above the first sip",
            )
        warmest = target


def _check_asked(setup: Setup) -> None:
    if not setup.asked:
        return
    if len(setup.asked) != len(setup.rounds):
        raise InputError(
            "asked",
            f"{count_of(len(setup.asked), 'choice')} for {count_of(len(setup.rounds), 'round')}",
            "Choose what is asked in each round",
        )
    for each, keys in zip(setup.rounds, setup.asked, strict=True):
        known = {pad.key for pad in sensations_in(each)}
        if not keys:
            raise InputError(
                "asked", f"{each.name} asks nothing", "Choose a sensation, or leave out the round"
            )
        if len(set(keys)) < len(keys):
            raise InputError("asked", f"{each.name} asks the same twice", "Name it once")
        strange = [key for key in keys if key not in known]
        if strange:
            raise InputError(
                "asked",
                f"{each.name} cannot ask for {strange[0]!r}",
                f"Choose from {', '.join(pad.key for pad in sensations_in(each))}",
            )


def _check_pour(setup: Setup) -> None:
    """See that nobody pours while the first crust waits to be broken."""
    largest = max(len(bowls) for bowls in flight_bowls(setup))
    took = (largest - 1) * setup.pour_gap_s
    if took > BREAK_S - 10:
        most = int((BREAK_S - 10) // (largest - 1))
        raise InputError(
            "pour_gap_s",
            f"{largest} bowls {setup.pour_gap_s:g} s apart take {took:g} s to pour, but the crust "
            f"of the first is broken at {BREAK_S:g} s",
            f"Pour at most {most} s apart, or put fewer bowls in a flight",
        )
