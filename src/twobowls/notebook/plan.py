"""``twobowls.plan_tasting`` and ``twobowls.cooling``: bowls, grams, minutes."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from twobowls.counting import count_of
from twobowls.errors import InputError
from twobowls.interchange.ratings_columns import near
from twobowls.notebook.chance import Rng, generator
from twobowls.notebook.names import listed, names_of
from twobowls.notebook.pictures import Curve, curve_picture
from twobowls.notebook.result import Result, Section
from twobowls.notebook.tables import Table, rows_table
from twobowls.statistics.inputs import between, whole
from twobowls.tasting.cooling import Cooling, cooling_model
from twobowls.tasting.doses import Doses, doses
from twobowls.tasting.plan import Plan
from twobowls.tasting.planning import make_plan
from twobowls.tasting.setup import ALL_ROUNDS, Round, Setup, Vessel
from twobowls.tasting.setup_check import MOST_COFFEES, MOST_SEATS
from twobowls.tasting.timeline import timeline

_ROUNDS = {each.key: each for each in ALL_ROUNDS}
_TEXTS = "Give a list of texts"
_REACHED = (70.0, 65.0, 60.0, 55.0, 50.0, 45.0, 40.0, 35.0)


def plan_tasting(
    coffees: int | Sequence[str],
    *,
    seats: int = 4,
    rounds: Sequence[str] = ("hot", "warm", "cool"),
    repeats: Sequence[str] = (),
    name: str = "Tasting",
    volume_ml: float = 200.0,
    rim_mm: float = 82.0,
    ratio_g_per_l: float = 55.0,
    water_c: float = 93.0,
    room_c: float = 21.0,
    rng: Rng = None,
) -> Result[Plan]:
    """Plan a tasting: codes, bowls, orders, doses and the host's minutes.

    Parameters
    ----------
    coffees : int or sequence of str
        How many, or their names.
    seats : int
        How many people.
    rounds : sequence of {"dry", "wet", "hot", "warm", "cool"}
        The visits to all bowls.
    repeats : sequence of str
        Coffees poured into one further bowl each.
    name : str
        What the tasting is called.
    volume_ml, rim_mm : float
        Water poured in a bowl, mL, and how wide it is, mm.
    ratio_g_per_l : float
        Coffee to water.
    water_c, room_c : float
        Degrees Celsius.
    rng : numpy.random.Generator or int, optional
        Source of chance; the same plan every time when left out. Draw another for a tasting
        that people will take blind.

    Returns
    -------
    Result
        Tables ``bowls``, ``orders``, ``doses`` (g, mL), ``steps`` (seconds).

    Raises
    ------
    InputError
        When the tasting cannot be.

    Examples
    --------
    >>> found = plan_tasting(["Oro", "Brisa", "Niebla"], repeats=["Oro"], rng=1)
    >>> sorted(found.to_frame("bowls", backend="dict")["coffee"])
    ['Brisa', 'Niebla', 'Oro', 'Oro']
    """
    names = names_of("coffees", coffees, 1, MOST_COFFEES)
    ids = {each: f"c{number}" for number, each in enumerate(names)}
    setup = Setup(
        name=str(name),
        coffee_ids=tuple(ids.values()),
        seats=whole("seats", seats, 1, MOST_SEATS),
        rounds=tuple(_round(each) for each in listed("rounds", rounds, _TEXTS)),
        repeats=tuple(_coffee(each, ids) for each in listed("repeats", repeats, _TEXTS)),
        vessel=Vessel(
            volume_ml=between("volume_ml", volume_ml, 1, 10_000),
            rim_mm=between("rim_mm", rim_mm, 1, 1_000),
        ),
        ratio_g_per_l=between("ratio_g_per_l", ratio_g_per_l, 0, 1_000),
        water_c=between("water_c", water_c, 0, 100, ends=True),
        room_c=between("room_c", room_c, -50, 60),
    )
    plan = make_plan(setup, generator(rng))
    weighed = doses(setup)
    named = {value: key for key, value in ids.items()}
    bowls = rows_table(
        "bowls",
        "Bowls, in the order of pouring",
        ("bowl", "flight", "coffee"),
        [(each.code, each.flight + 1, named[each.coffee_id or ""]) for each in plan.bowls],
    )
    orders = rows_table(
        "orders",
        "Orders",
        ("seat", "place", "bowl"),
        [
            (each.seat, place, code)
            for each in plan.orders
            for place, code in enumerate(each.codes, 1)
        ],
    )
    weights = _weights(weighed, named)
    steps = rows_table(
        "steps",
        "Steps of the host",
        ("at_s", "bowl", "action", "text"),
        [(s.at_s, s.bowl, s.action, s.text) for s in timeline(setup, plan, _cooling(setup))],
        {"at_s": 0},
    )
    section = Section(
        sentences=(_doses(weighed), *plan.notes),
        tables=(bowls, weights),
        folded=(orders, steps),
    )
    return Result(
        title=f"{name}: {count_of(len(names), 'coffee')}, {count_of(len(plan.bowls), 'bowl')}, "
        f"{count_of(setup.seats, 'seat')}",
        result=plan,
        sections=(section,),
        tables=(bowls, orders, weights, steps),
    )


def cooling(
    *,
    volume_ml: float = 200.0,
    rim_mm: float = 82.0,
    water_c: float = 93.0,
    room_c: float = 21.0,
    probes: Sequence[tuple[float, float]] = (),
    level: float = 0.90,
) -> Result[Cooling]:
    """Say when a bowl has cooled to drinking temperatures.

    Parameters
    ----------
    volume_ml, rim_mm : float
        Water poured in a bowl, mL, and how wide it is, mm.
    water_c, room_c : float
        Degrees Celsius.
    probes : sequence of (seconds, degrees Celsius)
        Thermometer readings since the pour.
    level : float
        Probability of the intervals.

    Returns
    -------
    Result
        Tables ``reached`` (minutes until a temperature) and ``curve``.

    Raises
    ------
    InputError
        For a bowl, a temperature or a reading that cannot be.

    Notes
    -----
    Energy balance with evaporation, corrected by the readings; see
    `twobowls.tasting.cooling`.

    Examples
    --------
    >>> found = cooling(probes=[(300, 66.0)])
    >>> found.to_frame(backend="dict")["celsius"][:2]
    [70.0, 65.0]
    """
    share = between("level", level, 0, 1)
    vessel = Vessel(
        volume_ml=between("volume_ml", volume_ml, 40, 500, ends=True),
        rim_mm=between("rim_mm", rim_mm, 40, 160, ends=True),
    )
    model = cooling_model(
        vessel,
        between("water_c", water_c, 0, 100, ends=True),
        between("room_c", room_c, -50, 60),
    )
    readings = _readings(probes)
    if readings:
        model = model.with_probes(readings)
    reached = _reached(model, share)
    curve = _curve(model)
    section = Section(
        sentences=_first_sip(model, share),
        picture=_drawn(model, readings),
        tables=(reached,),
    )
    return Result(
        title=f"Cooling: {volume_ml:g} mL poured at {water_c:g} °C",
        result=model,
        sections=(section,),
        tables=(reached, curve),
    )


def _round(key: object) -> Round:
    found = _ROUNDS.get(str(key))
    if found is None:
        raise InputError("rounds", f"there is no round {key!r}", near(str(key), list(_ROUNDS)))
    return found


def _coffee(coffee: object, ids: dict[str, str]) -> str:
    name = str(coffee)
    if name not in ids:
        raise InputError("repeats", f"there is no coffee {name!r}", near(name, list(ids)))
    return ids[name]


def _cooling(setup: Setup) -> Cooling:
    return cooling_model(setup.vessel, setup.water_c, setup.room_c)


def _weights(weighed: Doses, named: dict[str, str]) -> Table:
    rows = [
        (named[each.coffee_id], each.bowls, weighed.dose_g, each.grind_g)
        for each in weighed.coffees
    ]
    return rows_table(
        "doses",
        "Coffee to weigh and to grind",
        ("coffee", "bowls", "dose_g", "grind_g"),
        rows,
        {"dose_g": 2, "grind_g": 1},
    )


def _doses(weighed: Doses) -> str:
    fills = "1 filling" if weighed.kettle_fills == 1 else f"{weighed.kettle_fills} fillings"
    return (
        f"{weighed.dose_g:.2f} g and {weighed.water_ml:g} mL a bowl; {weighed.total_water_ml:g} mL "
        f"of water in {fills} of the kettle."
    )


def _readings(probes: Any) -> list[tuple[float, float]]:
    try:
        return [(float(seconds), float(celsius)) for seconds, celsius in probes]
    except (TypeError, ValueError):
        raise InputError(
            "probes", f"{probes!r} are no readings", "Give pairs of seconds and degrees Celsius"
        ) from None


def _reached(model: Cooling, level: float) -> Table:
    rows = []
    for celsius in _REACHED:
        seconds = model.seconds_to(celsius)
        ends = model.seconds_to_interval(celsius, level)
        if seconds is not None and ends is not None and seconds > 0:
            rows.append((celsius, seconds / 60, ends[0] / 60, ends[1] / 60))
    header = ("celsius", "minutes", "low", "high")
    places = {"celsius": 0, "minutes": 1, "low": 1, "high": 1}
    return rows_table("reached", "Minutes after the pour", header, rows, places)


def _curve(model: Cooling) -> Table:
    seconds = np.arange(0.0, 2701.0, 30.0)
    return Table(
        name="curve",
        caption="Temperature over time",
        columns={
            "seconds": seconds.tolist(),
            "celsius": model.temperature(seconds).tolist(),
            "sd": model.temperature_sd(seconds).tolist(),
        },
    )


def _first_sip(model: Cooling, level: float) -> tuple[str, ...]:
    seconds, ends = model.seconds_to(60.0), model.seconds_to_interval(60.0, level)
    if not seconds or ends is None:
        return ()
    low, high = (end / 60 for end in ends)
    minutes = count_of(round(seconds / 60), "minute")
    return (f"At 60 °C after {minutes} ({low:.0f} to {high:.0f}).",)


def _drawn(model: Cooling, probes: Sequence[tuple[float, float]]) -> Any:
    seconds = np.arange(0.0, 2701.0, 30.0)
    return curve_picture(
        Curve(
            x=(seconds / 60).tolist(),
            y=model.temperature(seconds).tolist(),
            dots=[(at / 60, celsius) for at, celsius in probes],
        ),
        ("Minutes after the pour", "°C"),
        f"Expected temperature over 45 minutes. {' '.join(_first_sip(model, 0.9))}",
    )
