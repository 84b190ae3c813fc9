"""The host's log of one tasting, and the tasting as the fold of it. Pure.

Events are facts that were accepted; `check_event` is the one place that decides what may
happen next.
"""

from collections.abc import Iterable
from dataclasses import replace

import msgspec

from twobowls.errors import InputError, StateError
from twobowls.store.corrections import (
    Correction,
    apply_correction,
    check_bowl,
    check_coffees,
    check_correction,
    with_coffees,
)
from twobowls.tasting.plan import Plan
from twobowls.tasting.setup import Setup
from twobowls.tasting.tasting import Probe, Seat, Tasting

MOST_SEATS = 500
DOOR_CLOSED = (
    "The host has closed the door to new guests. If you are meant to be at this table, ask the "
    "host to let you in."
)


class Planned(msgspec.Struct, tag="planned", frozen=True):
    """The first event: what was decided, and what was drawn."""

    id: str
    join_code: str
    setup: Setup
    plan: Plan
    at_ms: int


class Joined(msgspec.Struct, tag="joined", frozen=True):
    """A taster took a seat."""

    seat: str
    number: int
    nickname: str
    at_ms: int


class Left(msgspec.Struct, tag="left", frozen=True):
    """A taster gave up a seat on which nothing had been recorded."""

    seat: str
    at_ms: int


class Opened(msgspec.Struct, tag="opened", frozen=True):
    """Marks are taken from now on."""

    at_ms: int


class Poured(msgspec.Struct, tag="poured", frozen=True):
    """Water met the grounds of one bowl; a later event corrects an earlier one."""

    bowl: str
    at_ms: int


class Unpoured(msgspec.Struct, tag="unpoured", frozen=True):
    """The clock of a bowl was started by mistake."""

    bowl: str
    at_ms: int


class RoundCalled(msgspec.Struct, tag="round", frozen=True):
    """Everybody goes to this round."""

    round: str
    at_ms: int


class Probed(msgspec.Struct, tag="probed", frozen=True):
    """A thermometer was read in a bowl."""

    bowl: str
    temperature_c: float
    at_ms: int


class Closed(msgspec.Struct, tag="closed", frozen=True):
    """Nothing made after this instant is taken."""

    at_ms: int


class Reopened(msgspec.Struct, tag="reopened", frozen=True):
    """It was closed by mistake; marks are taken again."""

    at_ms: int


class DoorClosed(msgspec.Struct, tag="door_closed", frozen=True):
    """Nobody new takes a seat from now on; those who sit go on."""

    at_ms: int


class DoorOpened(msgspec.Struct, tag="door_opened", frozen=True):
    """New guests may take seats again."""

    at_ms: int


class Revealed(msgspec.Struct, tag="revealed", frozen=True):
    """The coffees may be seen. ``mapping`` has what the plan does not know, or has wrong."""

    mapping: dict[str, str]
    at_ms: int


Event = (
    Planned
    | Joined
    | Left
    | Opened
    | Poured
    | Unpoured
    | RoundCalled
    | Probed
    | Closed
    | Reopened
    | DoorClosed
    | DoorOpened
    | Revealed
    | Correction
)


def fold(events: Iterable[Event]) -> Tasting:
    """Return the tasting that these events, oldest first, add up to."""
    iterator = iter(events)
    first = next(iterator)
    if not isinstance(first, Planned):
        raise TypeError(f"the first event of a tasting is Planned, not {type(first).__name__}")
    tasting = Tasting(
        id=first.id,
        setup=first.setup,
        plan=first.plan,
        state="planned",
        join_code=first.join_code,
        created_ms=first.at_ms,
        version=1,
    )
    for event in iterator:
        tasting = apply(tasting, event)
    return tasting


def apply(tasting: Tasting, event: Event) -> Tasting:
    """Return the tasting one event later."""
    version = tasting.version + 1
    match event:
        case Joined():
            seat = Seat(id=event.seat, number=event.number, nickname=event.nickname)
            return replace(tasting, version=version, seats=(*tasting.seats, seat))
        case Left():
            seats = tuple(seat for seat in tasting.seats if seat.id != event.seat)
            return replace(tasting, version=version, seats=seats)
        case Opened():
            return replace(tasting, version=version, state="open", opened_ms=event.at_ms)
        case Poured():
            poured = {**tasting.poured, event.bowl: event.at_ms}
            return replace(tasting, version=version, poured=poured)
        case Unpoured():
            poured = {code: at for code, at in tasting.poured.items() if code != event.bowl}
            return replace(tasting, version=version, poured=poured)
        case RoundCalled():
            return replace(tasting, version=version, round=event.round)
        case Probed():
            probe = Probe(bowl=event.bowl, at_ms=event.at_ms, temperature_c=event.temperature_c)
            return replace(tasting, version=version, probes=(*tasting.probes, probe))
        case Closed():
            return replace(tasting, version=version, state="closed", closed_ms=event.at_ms)
        case Reopened():
            return replace(tasting, version=version, state="open", closed_ms=None)
        case DoorClosed() | DoorOpened():
            return replace(tasting, version=version, door_open=isinstance(event, DoorOpened))
        case Revealed():
            named = with_coffees(tasting, event.mapping)
            return replace(named, version=version, state="revealed", revealed_ms=event.at_ms)
        case Planned():
            raise TypeError("a tasting is planned once")
        case _:
            return replace(apply_correction(tasting, event), version=version)


def check_event(tasting: Tasting, event: Event) -> None:
    """Refuse what may not happen now.

    Raises
    ------
    StateError
        The tasting is not at that point.
    InputError
        The event names a bowl, a round or a temperature that makes no sense here.
    """
    match event:
        case Joined():
            if tasting.state not in ("planned", "open"):
                raise StateError("This tasting has closed; nobody can join it any more.")
            if not tasting.door_open:
                raise StateError(DOOR_CLOSED)
            if len(tasting.seats) >= MOST_SEATS:
                raise StateError(f"All {MOST_SEATS} seats of this tasting are taken.")
        case Left():
            if tasting.state not in ("planned", "open"):
                raise StateError("This tasting has closed; its seats stay as they are.")
        case Opened():
            if tasting.state != "planned":
                raise StateError("This tasting was opened before.")
        case Poured() | Unpoured():
            _check_under_way(tasting, "start a clock")
            check_bowl(tasting, event.bowl)
        case RoundCalled():
            _check_under_way(tasting, "call a round")
            _check_round(tasting, event.round)
        case Probed():
            _check_under_way(tasting, "enter a reading")
            check_bowl(tasting, event.bowl)
            _check_reading(tasting, event)
        case Closed():
            _check_under_way(tasting, "close it")
        case Reopened():
            if tasting.state != "closed":
                raise StateError(_NOT_REOPENED[tasting.state])
        case DoorClosed() | DoorOpened():
            if tasting.state not in ("planned", "open"):
                raise StateError("This tasting has closed; nobody can join it any more.")
        case Revealed():
            if tasting.state == "revealed":
                raise StateError("This tasting was revealed before.")
            if tasting.state != "closed":
                raise StateError("Close the tasting before you reveal the coffees.")
            check_coffees(tasting, event.mapping)
        case Planned():
            raise StateError("A tasting is planned once.")
        case _:
            check_correction(tasting, event)


_NOT_REOPENED = {
    "planned": "This tasting has not been opened yet.",
    "open": "This tasting is open.",
    "revealed": "The coffees have been seen; this tasting cannot be opened again.",
}


def _check_under_way(tasting: Tasting, what: str) -> None:
    if tasting.state == "planned":
        raise StateError(f"Open the tasting before you {what}.")
    if tasting.state != "open":
        raise StateError(f"This tasting has closed; it is too late to {what}.")


def _check_round(tasting: Tasting, key: str) -> None:
    if all(each.key != key for each in tasting.setup.rounds):
        raise InputError(
            "round", f"this tasting has no round {key!r}", "Choose one of the rounds shown"
        )


def _check_reading(tasting: Tasting, reading: Probed) -> None:
    if not 0 < reading.temperature_c <= 100:
        raise InputError(
            "temperature",
            f"{reading.temperature_c:g} °C is not possible in a bowl",
            "Give the reading in degrees Celsius, above 0 and at most 100",
        )
    poured_ms = tasting.poured.get(reading.bowl)
    if poured_ms is None or poured_ms > reading.at_ms:
        raise InputError(
            "bowl",
            f"the clock of bowl {reading.bowl} has not been started",
            "Start its clock when you pour it; readings count from then on",
        )
