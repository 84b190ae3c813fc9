"""The plan sheet: every number formatted, nothing left for the template to work out. Pure."""

from dataclasses import dataclass
from itertools import pairwise
from math import ceil

from twobowls.counting import count_of, minutes
from twobowls.tasting.asking import CHOICES, asked_in, effort, with_choice
from twobowls.tasting.cautions import CAUTIONS, Caution
from twobowls.tasting.doses import doses, refill_s
from twobowls.tasting.plan import Plan
from twobowls.tasting.setup import Setup
from twobowls.tasting.tasting import Tasting
from twobowls.tasting.timeline import round_times, timeline
from twobowls.web.clockwork import clockwork_of
from twobowls.web.plan_form import ASKING
from twobowls.web.wording import day, listed, plain_number


@dataclass(frozen=True, slots=True, kw_only=True)
class BowlLine:
    """One bowl and what is in it."""

    code: str
    flight: int
    coffee: str
    repeat: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CoffeeLine:
    """One coffee: its bowls and what to grind."""

    name: str
    bowls: str
    grind: str
    codes: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """The order of one seat, flight by flight."""

    seat: str
    flights: list[list[str]]
    spare: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class StepLine:
    """One step of the host's."""

    at: str
    bowl: str
    text: str
    action: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSheet:
    """Everything on the sheet."""

    facts: list[tuple[str, str]]
    bowls: list[BowlLine]
    coffees: list[CoffeeLine]
    orders: list[OrderLine]
    flights: int
    position: str
    carry_over: str
    position_table: list[list[str]]
    carry_over_table: list[list[str]]
    codes: list[str]
    steps: list[StepLine]
    rounds: list[str]
    choices: list[list[str]]
    sip: str
    notes: tuple[str, ...]
    cautions: tuple[Caution, ...]
    blind_host: bool
    revealed: bool


def plan_sheet(tasting: Tasting, names: dict[str, str]) -> PlanSheet:
    """Return the sheet of a tasting; ``names`` are the coffees' names by id."""
    setup, plan = tasting.setup, tasting.plan
    clockwork = clockwork_of(tasting)
    expected = [order.codes for order in plan.orders[: setup.seats]]
    index = {bowl.code: place for place, bowl in enumerate(plan.bowls)}
    return PlanSheet(
        facts=_facts(tasting),
        bowls=_bowls(plan, names),
        coffees=_coffees(tasting, names),
        orders=_orders(plan, setup.seats),
        flights=1 + max(bowl.flight for bowl in plan.bowls),
        position=_position_text(plan.position_spread),
        carry_over=_carry_over_text(plan.carry_over_spread),
        position_table=_position_table(plan, expected, index),
        carry_over_table=_carry_over_table(plan, expected, index),
        codes=[bowl.code for bowl in plan.bowls],
        steps=[
            StepLine(at=_at(step.at_s), bowl=step.bowl or "", text=step.text, action=step.action)
            for step in timeline(setup, plan, clockwork.cooling)
        ],
        rounds=[each.text for each in round_times(setup, clockwork.cooling)],
        choices=[[ASKING[choice][0], *_costs(with_choice(setup, choice))] for choice in CHOICES],
        sip=_sip(tasting),
        notes=plan.notes,
        cautions=CAUTIONS,
        blind_host=setup.host_tastes and tasting.state != "revealed",
        revealed=tasting.state == "revealed",
    )


def _facts(tasting: Tasting) -> list[tuple[str, str]]:
    setup = tasting.setup
    need = doses(setup)
    return [
        ("Planned", day(tasting.created_ms)),
        (
            "Bowls",
            f"{count_of(len(tasting.plan.bowls), 'bowl')} of "
            f"{count_of(len(setup.coffee_ids), 'coffee')}",
        ),
        ("Seats", f"{count_of(setup.seats, 'seat')} expected"),
        ("Rounds", listed([each.name for each in setup.rounds])),
        *_asked_facts(setup),
        (
            "In each bowl",
            f"{need.dose_g:.1f} g of coffee, {need.water_ml:.0f} mL of water "
            f"at {plain_number(setup.water_c)} °C",
        ),
        (
            "Water in all",
            f"{need.total_water_ml / 1000:.2f} L in "
            f"{count_of(need.kettle_fills, 'filling')} of the kettle, "
            f"up to {count_of(need.bowls_per_fill, 'bowl')} each",
        ),
        (
            "Another filling",
            f"takes about {minutes(refill_s(setup))} min with a kettle of "
            f"{plain_number(setup.kettle_w)} W",
        ),
        ("To grind in all", f"{need.total_grind_g:.0f} g, purges included"),
    ]


def _asked_facts(setup: Setup) -> list[tuple[str, str]]:
    """Tell what is asked where, rounds that ask the same together, and what it costs a person."""
    rounds: dict[str, list[str]] = {}
    asked = asked_in(setup)
    for each in setup.rounds:
        pads = listed([pad.name.lower() for pad in asked[each.key]])
        rounds.setdefault(pads, []).append(each.name)
    way = "sensation by sensation" if setup.walk == "sensations" else "bowl by bowl"
    time, taps, sips, caffeine = _costs(setup)
    return [
        ("Asked", "; ".join(f"{listed(names)}: {pads}" for pads, names in rounds.items())),
        ("Way round", way),
        (
            "For each person",
            f"{time} min, {taps} taps, {sips} sips, {caffeine} mg of caffeine if every sip is "
            "swallowed",
        ),
    ]


def _costs(setup: Setup) -> list[str]:
    """Return minutes, taps, sips and milligrams of caffeine for a person."""
    needs = effort(setup)
    spent = ceil(sum(needs.seconds.values()) / 60)
    return [str(spent), str(needs.taps), str(needs.sips), f"{needs.caffeine_mg:.0f}"]


def _bowls(plan: Plan, names: dict[str, str]) -> list[BowlLine]:
    ids = [bowl.coffee_id for bowl in plan.bowls]
    return [
        BowlLine(
            code=bowl.code,
            flight=bowl.flight + 1,
            coffee="" if bowl.coffee_id is None else names.get(bowl.coffee_id, bowl.coffee_id),
            repeat=bowl.coffee_id is not None and ids.count(bowl.coffee_id) > 1,
        )
        for bowl in plan.bowls
    ]


def _coffees(tasting: Tasting, names: dict[str, str]) -> list[CoffeeLine]:
    lines = []
    for each in doses(tasting.setup).coffees:
        codes = [bowl.code for bowl in tasting.plan.bowls if bowl.coffee_id == each.coffee_id]
        lines.append(
            CoffeeLine(
                name=names.get(each.coffee_id, each.coffee_id),
                bowls=count_of(each.bowls, "bowl"),
                grind=f"{each.grind_g:.1f} g",
                codes=", ".join(codes),
            )
        )
    return lines


def _orders(plan: Plan, seats: int) -> list[OrderLine]:
    flight_of = {bowl.code: bowl.flight for bowl in plan.bowls}
    lines = []
    for order in plan.orders:
        flights: dict[int, list[str]] = {}
        for code in order.codes:
            flights.setdefault(flight_of[code], []).append(code)
        spare = order.seat > seats
        lines.append(OrderLine(seat=str(order.seat), flights=list(flights.values()), spare=spare))
    return lines


def _position_text(spread: int) -> str:
    if spread == 0:
        return "Every bowl stands at every place in the order equally often: perfect balance."
    times = "one seat" if spread == 1 else f"{spread} seats"
    return f"Places in the order: two bowls differ by {times} at the most."


def _carry_over_text(spread: int) -> str:
    if spread == 0:
        return "Every bowl comes directly after every other equally often: perfect balance."
    times = "one seat" if spread == 1 else f"{spread} seats"
    return f"What is tasted directly after what: two pairs of bowls differ by {times} at the most."


def _position_table(
    plan: Plan, expected: list[tuple[str, ...]], index: dict[str, int]
) -> list[list[str]]:
    """Count bowls by place within their flight: a row a bowl."""
    flight_of = {bowl.code: bowl.flight for bowl in plan.bowls}
    longest = max(sum(b.flight == f for b in plan.bowls) for f in set(flight_of.values()))
    rows = [[0] * longest for _ in plan.bowls]
    for codes in expected:
        seen: dict[int, int] = {}
        for code in codes:
            place = seen.get(flight_of[code], 0)
            rows[index[code]][place] += 1
            seen[flight_of[code]] = place + 1
    return [[str(count) for count in row] for row in rows]


def _carry_over_table(
    plan: Plan, expected: list[tuple[str, ...]], index: dict[str, int]
) -> list[list[str]]:
    """Count how often the bowl of the row comes directly after that of the column."""
    flight_of = {bowl.code: bowl.flight for bowl in plan.bowls}
    rows = [[0] * len(plan.bowls) for _ in plan.bowls]
    for codes in expected:
        for before, after in pairwise(codes):
            if flight_of[before] == flight_of[after]:
                rows[index[after]][index[before]] += 1
    return [
        [
            "" if a == b or plan.bowls[a].flight != plan.bowls[b].flight else str(count)
            for b, count in enumerate(row)
        ]
        for a, row in enumerate(rows)
    ]


def _at(seconds: float) -> str:
    return f"−{minutes(-seconds)}" if seconds < 0 else minutes(seconds)


def _sip(tasting: Tasting) -> str:
    clockwork, celsius = clockwork_of(tasting), tasting.setup.first_sip_c
    text = (
        f"The first sip is about {minutes(clockwork.bowl.first_sip_s)} after the pour: small sips"
    )
    interval = clockwork.cooling.seconds_to_interval(celsius)
    if interval is not None and not clockwork.cooling.probes:
        early, late = interval
        text += (
            f". A bowl comes down to {plain_number(celsius)} °C between {minutes(early)} and "
            f"{minutes(late)}, as bowls and rooms differ, and the clocks wait for the late end. A "
            "thermometer reading on the bench makes this sharper"
        )
    return text + "."
