"""What the host puts right: its events, how they change a tasting, what is refused. Pure."""

from dataclasses import replace

import msgspec

from twobowls.errors import InputError, StateError
from twobowls.tasting.setup_check import check_name
from twobowls.tasting.tasting import Probe, Tasting


class Unprobed(msgspec.Struct, tag="unprobed", frozen=True):
    """A reading of the thermometer was wrong; ``read_ms`` is the instant of the reading."""

    bowl: str
    read_ms: int
    at_ms: int


class SetAside(msgspec.Struct, tag="set-aside", frozen=True):
    """A bowl was spilled or is foul: its records are kept and do not count."""

    bowl: str
    at_ms: int


class BroughtBack(msgspec.Struct, tag="brought-back", frozen=True):
    """A bowl that was set aside counts again."""

    bowl: str
    at_ms: int


class CoffeesCorrected(msgspec.Struct, tag="coffees", frozen=True):
    """Other coffees stood in these bowls (coffee ids by code)."""

    mapping: dict[str, str]
    at_ms: int


class Renamed(msgspec.Struct, tag="renamed", frozen=True):
    """The tasting has another name."""

    name: str
    at_ms: int


class SeatRenamed(msgspec.Struct, tag="seat-renamed", frozen=True):
    """A taster is called otherwise."""

    seat: str
    nickname: str
    at_ms: int


class SeatRemoved(msgspec.Struct, tag="seat-removed", frozen=True):
    """The records of a seat are kept and do not count."""

    seat: str
    at_ms: int


class SeatMerged(msgspec.Struct, tag="seat-merged", frozen=True):
    """The records of a seat count as those of another: one person had two."""

    seat: str
    into: str
    at_ms: int


class SeatRestored(msgspec.Struct, tag="seat-restored", frozen=True):
    """A seat that was removed or merged counts for itself again."""

    seat: str
    at_ms: int


Correction = (
    Unprobed
    | SetAside
    | BroughtBack
    | CoffeesCorrected
    | Renamed
    | SeatRenamed
    | SeatRemoved
    | SeatMerged
    | SeatRestored
)


def apply_correction(tasting: Tasting, event: Correction) -> Tasting:
    """Return the tasting with one thing put right; its version is left to the caller."""
    match event:
        case Unprobed():
            return replace(tasting, probes=_without_reading(tasting, event))
        case SetAside():
            return replace(tasting, set_aside=tasting.set_aside | {event.bowl})
        case BroughtBack():
            return replace(tasting, set_aside=tasting.set_aside - {event.bowl})
        case CoffeesCorrected():
            return with_coffees(tasting, event.mapping)
        case Renamed():
            return replace(tasting, setup=replace(tasting.setup, name=event.name))
        case SeatRenamed():
            seats = tuple(
                replace(seat, nickname=event.nickname) if seat.id == event.seat else seat
                for seat in tasting.seats
            )
            return replace(tasting, seats=seats)
        case SeatRemoved():
            return replace(tasting, removed=tasting.removed | {event.seat})
        case SeatMerged():
            return replace(tasting, merged={**tasting.merged, event.seat: event.into})
        case SeatRestored():
            merged = {seat: into for seat, into in tasting.merged.items() if seat != event.seat}
            return replace(tasting, removed=tasting.removed - {event.seat}, merged=merged)


def with_coffees(tasting: Tasting, mapping: dict[str, str]) -> Tasting:
    """Return the tasting with these coffees (ids by code) in its bowls; others stay."""
    bowls = tuple(
        replace(bowl, coffee_id=mapping.get(bowl.code, bowl.coffee_id))
        for bowl in tasting.plan.bowls
    )
    return replace(tasting, plan=replace(tasting.plan, bowls=bowls))


def _without_reading(tasting: Tasting, event: Unprobed) -> tuple[Probe, ...]:
    """Leave out one reading: two may have been entered in the same instant."""
    place = _place_of_reading(tasting, event)
    return (*tasting.probes[:place], *tasting.probes[place + 1 :])


def _place_of_reading(tasting: Tasting, event: Unprobed) -> int:
    for place, probe in enumerate(tasting.probes):
        if (probe.bowl, probe.at_ms) == (event.bowl, event.read_ms):
            return place
    raise InputError("reading", "it is not there any more", "Look at the readings again")


def check_correction(tasting: Tasting, event: Correction) -> None:
    """Refuse what cannot be put right in this way.

    Raises
    ------
    StateError
        It is so already, or nobody could taste afterwards.
    InputError
        The event names a bowl, a seat, a coffee or a reading that is not there.
    """
    match event:
        case Unprobed():
            _place_of_reading(tasting, event)
        case SetAside():
            check_bowl(tasting, event.bowl)
            if event.bowl in tasting.set_aside:
                raise StateError(f"Bowl {event.bowl} was set aside before.")
            if len(tasting.set_aside) + 1 == len(tasting.plan.bowls):
                raise StateError("This is the last bowl on the table; it cannot be set aside.")
        case BroughtBack():
            if event.bowl not in tasting.set_aside:
                raise StateError(f"Bowl {event.bowl} has not been set aside.")
        case CoffeesCorrected():
            if tasting.setup.host_tastes and tasting.state != "revealed":
                raise StateError("You tasted too: say at the reveal what was under the bowls.")
            check_coffees(tasting, event.mapping)
        case Renamed():
            check_name(event.name)
        case SeatRenamed():
            _check_seat(tasting, event.seat)
        case SeatRemoved():
            _check_counting(tasting, event.seat)
            _check_nobody_leans(tasting, event.seat)
        case SeatMerged():
            _check_counting(tasting, event.seat)
            _check_counting(tasting, event.into)
            _check_nobody_leans(tasting, event.seat)
            if event.seat == event.into:
                raise InputError("into", "it is the same seat", "Choose another seat")
        case SeatRestored():
            if event.seat not in tasting.removed and event.seat not in tasting.merged:
                raise StateError("This seat counts already.")


def check_bowl(tasting: Tasting, code: str) -> None:
    """Refuse a code that no bowl has."""
    if all(bowl.code != code for bowl in tasting.plan.bowls):
        raise InputError("bowl", f"there is no bowl {code!r} here", "Choose one of the codes shown")


def check_coffees(tasting: Tasting, mapping: dict[str, str]) -> None:
    """Refuse bowls and coffees that are not of this tasting."""
    for code, coffee in mapping.items():
        check_bowl(tasting, code)
        if coffee not in tasting.setup.coffee_ids:
            raise InputError(
                f"bowl {code}", "that is not a coffee of this tasting", "Choose one that is"
            )


def _check_seat(tasting: Tasting, seat_id: str) -> None:
    if all(seat.id != seat_id for seat in tasting.seats):
        raise InputError("seat", "there is no such seat here", "Choose one of the seats shown")


def _check_counting(tasting: Tasting, seat_id: str) -> None:
    _check_seat(tasting, seat_id)
    if seat_id in tasting.removed or seat_id in tasting.merged:
        raise StateError("This seat was removed or merged before.")


def _check_nobody_leans(tasting: Tasting, seat_id: str) -> None:
    if seat_id in tasting.merged.values():
        raise StateError("Another seat counts as this one; separate them first.")
