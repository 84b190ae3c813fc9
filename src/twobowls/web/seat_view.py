"""What a seat may know. No type here has a field for a coffee, and nothing is in table order.

A tasting's coffees are in its plan; this module reads codes, flights and orders from it and
nothing else. Codes are sorted wherever an order would otherwise be the order of pouring.
"""

import msgspec

from twobowls.store.record_messages import Message
from twobowls.tasting.asking import asked_in
from twobowls.tasting.cautions import CAUTIONS, Caution
from twobowls.tasting.lexicon import FAMILIES
from twobowls.tasting.sensations import SENSATIONS, Sensation
from twobowls.tasting.setup import Round, Walk
from twobowls.tasting.tasting import Seat, Tasting
from twobowls.web.clockwork import Clockwork


class TastingView(msgspec.Struct, frozen=True):
    """The tasting as a seat sees it, and whether the host's files of it may carry names."""

    name: str
    state: str
    names_in_files: bool


class BowlView(msgspec.Struct, frozen=True):
    """One bowl as a seat sees it."""

    poured_at_ms: int | None


class ClockView(msgspec.Struct, frozen=True):
    """Seconds after the pour of a bowl; one clock for all bowls alike."""

    break_s: float
    skim_s: float
    first_sip_s: float | None
    first_sip_c: float
    rounds: dict[str, float | None]


class TermView(msgspec.Struct, frozen=True):
    """A finer flavour word."""

    key: str
    name: str


class FamilyView(msgspec.Struct, frozen=True):
    """A family of flavour words."""

    key: str
    name: str
    hint: str
    terms: list[TermView]


class GuideView(msgspec.Struct, frozen=True):
    """The short guide to a sensation."""

    what: str
    notice: str
    like: tuple[str, str]
    mistaken_for: str


class SensationView(msgspec.Struct, frozen=True):
    """One pad."""

    key: str
    name: str
    low: str
    high: str
    wait_s: int
    kind: str
    guide: GuideView


class SeatView(msgspec.Struct, frozen=True):
    """Everything a seat needs to work by itself from then on.

    ``arrivals`` is the count of batches by which a seat's devices notice each other's records.
    """

    tasting: TastingView
    seat: Seat
    now_ms: int
    version: int
    round: str | None
    rounds: tuple[Round, ...]
    flights: list[list[str]]
    bowls: dict[str, BowlView]
    set_aside: list[str]
    readings: int
    cooling: list[tuple[int, float]]
    clock: ClockView
    sensations: list[SensationView]
    asked: dict[str, list[str]]
    walk: Walk
    families: list[FamilyView]
    cautions: tuple[Caution, ...]
    records: list[Message]
    arrivals: int


class ChangeView(msgspec.Struct, frozen=True):
    """What a seat is told while the tasting goes on.

    ``readings`` counts the thermometer's: after another one a seat asks for its clocks anew.
    """

    version: int
    state: str
    round: str | None
    poured: dict[str, int | None]
    set_aside: list[str]
    readings: int
    now_ms: int


def seat_view(
    tasting: Tasting,
    seat: Seat,
    clockwork: Clockwork,
    records: list[Message],
    now_ms: int,
    arrivals: int = 0,
) -> SeatView:
    """Return what one seat may know now."""
    asked = {key: [each.key for each in pads] for key, pads in asked_in(tasting.setup).items()}
    return SeatView(
        tasting=TastingView(
            name=tasting.setup.name,
            state=tasting.state,
            names_in_files=tasting.setup.names_in_files,
        ),
        seat=seat,
        now_ms=now_ms,
        version=tasting.version,
        round=tasting.round,
        rounds=tasting.setup.rounds,
        flights=flights_of(tasting, seat),
        bowls={code: BowlView(poured_at_ms=at) for code, at in poured_of(tasting).items()},
        set_aside=sorted(tasting.set_aside),
        readings=len(tasting.probes),
        cooling=clockwork.curve,
        clock=ClockView(
            break_s=clockwork.bowl.break_s,
            skim_s=clockwork.bowl.skim_s,
            first_sip_s=clockwork.bowl.first_sip_s,
            first_sip_c=tasting.setup.first_sip_c,
            rounds=dict(clockwork.bowl.rounds),
        ),
        sensations=[each for each in SENSATION_VIEWS if any(each.key in k for k in asked.values())],
        asked=asked,
        walk=tasting.setup.walk,
        families=FAMILY_VIEWS,
        cautions=CAUTIONS,
        records=records,
        arrivals=arrivals,
    )


def change_view(tasting: Tasting, now_ms: int) -> ChangeView:
    """Return what every seat is told of the tasting as it stands."""
    return ChangeView(
        version=tasting.version,
        state=tasting.state,
        round=tasting.round,
        poured=poured_of(tasting),
        set_aside=sorted(tasting.set_aside),
        readings=len(tasting.probes),
        now_ms=now_ms,
    )


def poured_of(tasting: Tasting) -> dict[str, int | None]:
    """Return when each bowl was poured, sorted by code."""
    codes = sorted(bowl.code for bowl in tasting.plan.bowls)
    return {code: tasting.poured.get(code) for code in codes}


def flights_of(tasting: Tasting, seat: Seat) -> list[list[str]]:
    """Return the bowls in this seat's order, a list a flight.

    A seat beyond those planned takes the orders again from the first on.
    """
    orders = tasting.plan.orders
    codes = orders[(seat.number - 1) % len(orders)].codes
    flight_of = {bowl.code: bowl.flight for bowl in tasting.plan.bowls}
    flights: dict[int, list[str]] = {}
    for code in codes:
        flights.setdefault(flight_of[code], []).append(code)
    return list(flights.values())


def _sensation_view(each: Sensation) -> SensationView:
    guide = GuideView(each.guide.what, each.guide.notice, each.guide.like, each.guide.mistaken_for)
    return SensationView(
        each.key, each.name, each.low, each.high, each.wait_s, each.rounds_kind, guide
    )


SENSATION_VIEWS = [_sensation_view(each) for each in SENSATIONS]
FAMILY_VIEWS = [
    FamilyView(
        family.key,
        family.name,
        family.hint,
        [TermView(term.key, term.name) for term in family.terms],
    )
    for family in FAMILIES
]
