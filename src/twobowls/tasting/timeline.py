"""What happens when: a clock of its own for every bowl, and the host's steps in order.

Knows the setup, the plan and the cooling model; not the time of day.
"""

from dataclasses import dataclass
from typing import Literal

from twobowls.counting import count_of, minutes, times_in
from twobowls.tasting.cooling import Cooling
from twobowls.tasting.doses import refill_s
from twobowls.tasting.flights import largest_flight
from twobowls.tasting.plan import Bowl, Plan
from twobowls.tasting.setup import Round, Setup
from twobowls.tasting.setup_check import BREAK_S, SAFE_FIRST_SIP_C

Action = Literal["grind", "boil", "smell", "pour", "break", "skim", "probe", "round", "rest"]

_SKIM_AFTER_S = 75.0  # after the break: the rest of the grounds has sunk
_SMELL_S = 15.0  # one bowl's dry aroma
_REST_S = 300.0  # between flights
_LAST_ROUND_S = 480.0  # for the last round, which nothing follows
_LEAST_PER_BOWL_S = 30.0
_WARMER_C = 1.0  # as far as a round may be from its target before its call says so


@dataclass(frozen=True, slots=True, kw_only=True)
class BowlClock:
    """The clock of one bowl, in seconds since its own pour; the same for all bowls.

    ``rounds`` maps the key of each round to when the bowl is ready for it; None for a round
    before the pour.
    """

    break_s: float
    skim_s: float
    first_sip_s: float
    rounds: dict[str, float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing for the host to do, in seconds since the first pour of the first flight.

    ``bowl`` is a code, or None for a step that concerns the whole table.
    """

    at_s: float
    bowl: str | None
    action: Action
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundTime:
    """How long a round lasts before the next is called, and what that leaves for a bowl."""

    round: str
    seconds: float
    per_bowl_s: float
    text: str


def bowl_clock(setup: Setup, cooling: Cooling) -> BowlClock:
    """Work out when a bowl is broken, skimmed and ready for each round.

    Parameters
    ----------
    setup : Setup
        What the host chose.
    cooling : Cooling
        How its bowls cool.

    Returns
    -------
    BowlClock

    Notes
    -----
    The crust is broken at 4:00 (3 to 5 minutes in a trade protocol, SCAA 2009, seen in
    secondary sources). Skimming waits until all crusts of the flight are broken. Nobody sips
    before the bowl is at the temperature for the first sip, and skimmed; until a thermometer
    has been read that is the late end of the 90 % interval, as half the bowls are still
    hotter at the middle estimate.

    Examples
    --------
    >>> from twobowls.tasting.cooling import cooling_model
    >>> setup = Setup(name="x", coffee_ids=("a", "b"))
    >>> clock = bowl_clock(setup, cooling_model(setup.vessel, 93.0, 21.0))
    >>> clock.break_s, clock.skim_s, clock.first_sip_s > clock.skim_s
    (240.0, 315.0, True)
    """
    return _clock(setup, cooling, _cool_enough(cooling, setup.first_sip_c))


def _clock(setup: Setup, cooling: Cooling, ready: float | None) -> BowlClock:
    largest = largest_flight(setup)
    skim = BREAK_S + max(_SKIM_AFTER_S, largest * setup.pour_gap_s)
    first_sip = max(skim + 30.0, skim if ready is None else ready)
    return BowlClock(
        break_s=BREAK_S,
        skim_s=skim,
        first_sip_s=first_sip,
        rounds=_round_times(setup, cooling, first_sip),
    )


def _cool_enough(cooling: Cooling, celsius: float) -> float | None:
    interval = None if cooling.probes else cooling.seconds_to_interval(celsius)
    return cooling.seconds_to(celsius) if interval is None else interval[1]


def _round_times(setup: Setup, cooling: Cooling, first_sip: float) -> dict[str, float | None]:
    times: dict[str, float | None] = {}
    wet = [each for each in setup.rounds if each.kind == "aroma" and each.key != "dry"]
    for each in setup.rounds:
        if each.kind == "aroma":
            times[each.key] = BREAK_S if each in wet else None
    latest = first_sip
    for each in setup.rounds:
        if each.kind == "taste":
            reached = None if each.target_c is None else cooling.seconds_to(each.target_c)
            latest = max(latest, latest if reached is None else reached)
            times[each.key] = latest
    return times


def timeline(setup: Setup, plan: Plan, cooling: Cooling) -> tuple[Step, ...]:
    """List the host's steps from grinding to the last round.

    Parameters
    ----------
    setup : Setup
        What the host chose.
    plan : Plan
        The bowls, in the order of pouring.
    cooling : Cooling
        How the bowls cool.

    Returns
    -------
    tuple of Step
        In order of time; 0 is the first pour. What is done before it has negative times.

    Examples
    --------
    >>> import numpy as np
    >>> from twobowls.tasting.cooling import cooling_model
    >>> from twobowls.tasting.planning import make_plan
    >>> setup = Setup(name="x", coffee_ids=("a", "b"))
    >>> plan = make_plan(setup, np.random.default_rng(0))
    >>> steps = timeline(setup, plan, cooling_model(setup.vessel, 93.0, 21.0))
    >>> [step.action for step in steps][:4]
    ['grind', 'boil', 'pour', 'pour']
    """
    clock = bowl_clock(setup, cooling)
    steps: list[Step] = []
    start = 0.0
    for number in sorted({bowl.flight for bowl in plan.bowls}):
        bowls = [bowl for bowl in plan.bowls if bowl.flight == number]
        start = start + (_before_s(setup, len(bowls)) + _REST_S if number else 0.0)
        flight = [
            *_before(setup, plan, number, bowls, start),
            # calls come first where the instant is the same
            *_round_steps(setup, bowls, clock, cooling, start),
            *_bowl_steps(setup, bowls, clock, start),
        ]
        steps += sorted(flight, key=lambda step: step.at_s)
        start = steps[-1].at_s + _LAST_ROUND_S
    return tuple(steps)


def _dry(setup: Setup) -> Round | None:
    return next((each for each in setup.rounds if each.key == "dry"), None)


def _before_s(setup: Setup, bowls: int) -> float:
    """Return how long before the pour a flight begins."""
    return 420.0 + (_SMELL_S * bowls if _dry(setup) else 0.0)


def _before(setup: Setup, plan: Plan, number: int, bowls: list[Bowl], start: float) -> list[Step]:
    several = len({bowl.flight for bowl in plan.bowls}) > 1
    begin = start - _before_s(setup, len(bowls))
    steps = [
        _step(
            begin,
            None,
            "grind",
            f"Grind and weigh {count_of(len(bowls), 'bowl')}"
            + (f" for flight {number + 1}" if several else "")
            + ", a purge before each coffee. Grind as late as you can.",
        )
    ]
    dry = _dry(setup)
    if dry:
        smell = start - 60.0 - _SMELL_S * len(bowls)
        steps.append(
            _step(smell, None, "smell", f"Call {dry.name}: smell the dry grounds, bowl by bowl.")
        )
    steps.append(
        _step(
            start - 180.0 - (_SMELL_S * len(bowls) if dry else 0.0),
            None,
            "boil",
            f"Heat the water, to pour at {setup.water_c:g} °C. Keep the kettle and its cord out "
            "of children's reach, and roll up wide sleeves." + _second_kettle(setup, len(bowls)),
        )
    )
    if number:
        rest = begin - _REST_S
        steps.append(
            _step(rest, None, "rest", "Rest for five minutes, with water and plain bread.")
        )
    return steps


def _second_kettle(setup: Setup, bowls: int) -> str:
    """Say how a flight is poured that one filling is too small for."""
    per_fill = times_in(setup.kettle_ml, setup.vessel.volume_ml)
    if bowls <= per_fill:
        return ""
    return (
        f" One filling is {count_of(per_fill, 'bowl')}, and another takes about "
        f"{minutes(refill_s(setup))} min with {setup.kettle_w:g} W: have a second "
        f"kettle or a flask hot for {count_of(bowls - per_fill, 'more bowl')}, or make the "
        "flights smaller."
    )


def _bowl_steps(setup: Setup, bowls: list[Bowl], clock: BowlClock, start: float) -> list[Step]:
    steps = []
    per_fill = times_in(setup.kettle_ml, setup.vessel.volume_ml)
    for index, bowl in enumerate(bowls):
        emptied = index > 0 and index % per_fill == 0
        poured = start + index * setup.pour_gap_s
        code = bowl.code
        steps += [
            _step(
                poured,
                code,
                "pour",
                ("The kettle is empty: take the next hot one. " if emptied else "")
                + f"Pour {setup.vessel.volume_ml:g} mL on bowl {code}; wet all the grounds. "
                "Nobody reaches across.",
            ),
            _step(
                poured + clock.break_s,
                code,
                "break",
                f"Break the crust of bowl {code}: three slow strokes with a clean spoon.",
            ),
            _step(
                poured + clock.skim_s,
                code,
                "skim",
                f"Skim bowl {code} with two clean spoons.",
            ),
        ]
    return steps


def _round_steps(
    setup: Setup, bowls: list[Bowl], clock: BowlClock, cooling: Cooling, start: float
) -> list[Step]:
    """Call each round when the bowl poured last is ready for it."""
    lag = (len(bowls) - 1) * setup.pour_gap_s
    probe = start + lag + clock.skim_s + 20.0  # early: until then the clocks wait longest
    steps = [
        _step(
            probe,
            bowls[0].code,
            "probe",
            f"If you have a thermometer, read bowl {bowls[0].code} and enter it: the clocks get "
            "better. Wash the probe before and after.",
        )
    ]
    for each in setup.rounds:
        at = clock.rounds[each.key]
        if at is None:
            continue
        when = start + at if each.kind == "aroma" else start + at + lag
        steps.append(
            _step(max(when, start), None, "round", _call(each, float(cooling.temperature(at))))
        )
    return steps


def _call(each: Round, likely_c: float) -> str:
    if each.kind == "aroma":
        return f"Call {each.name}: smell each bowl as its crust is broken."
    if each.target_c is None:
        return f"Call {each.name}. Small sips."
    if each.target_c > SAFE_FIRST_SIP_C:
        return (
            f"Call {each.name}: the last bowl may still be at {each.target_c:g} °C, hot enough to "
            "scald. Small sips, from a spoon."
        )
    if each.target_c - likely_c > _WARMER_C:
        return (
            f"Call {each.name}: the last bowl is likely at about {likely_c:.0f} °C, and "
            f"{each.target_c:g} °C if it cools slowly. Small sips."
        )
    return f"Call {each.name}: the last bowl is at about {each.target_c:g} °C. Small sips."


def round_times(setup: Setup, cooling: Cooling) -> tuple[RoundTime, ...]:
    """Work out how much time a seat has for each bowl in each tasted round.

    Parameters
    ----------
    setup : Setup
        What the host chose.
    cooling : Cooling
        How its bowls cool.

    Returns
    -------
    tuple of RoundTime
        For the largest flight, as they will be once a thermometer has been read. The last
        round is given eight minutes.

    Examples
    --------
    >>> from twobowls.tasting.cooling import cooling_model
    >>> setup = Setup(name="x", coffee_ids=("a", "b"))
    >>> [each.round for each in round_times(setup, cooling_model(setup.vessel, 93.0, 21.0))]
    ['hot', 'warm', 'cool']
    """
    clock = _clock(setup, cooling, cooling.seconds_to(setup.first_sip_c))
    largest = largest_flight(setup)
    tasted = [each for each in setup.rounds if each.kind == "taste"]
    begins = [clock.rounds[each.key] or 0.0 for each in tasted]
    ends = [*begins[1:], begins[-1] + _LAST_ROUND_S]
    return tuple(
        _round_time(each, end - begin, largest)
        for each, begin, end in zip(tasted, begins, ends, strict=True)
    )


def _round_time(each: Round, seconds: float, bowls: int) -> RoundTime:
    per_bowl = seconds / bowls
    text = (
        f"{each.name}: about {minutes(seconds)} min for {count_of(bowls, 'bowl')}, "
        f"{per_bowl:.0f} s each."
    )
    if per_bowl < _LEAST_PER_BOWL_S:
        text += " That is tight: leave out a round, or put fewer bowls in a flight."
    return RoundTime(round=each.key, seconds=seconds, per_bowl_s=per_bowl, text=text)


def _step(at_s: float, bowl: str | None, action: Action, text: str) -> Step:
    return Step(at_s=at_s, bowl=bowl, action=action, text=text)
