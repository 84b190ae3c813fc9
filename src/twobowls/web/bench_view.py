"""What a bench and its projector page are told while a tasting goes on."""

from collections.abc import Collection
from dataclasses import dataclass

import msgspec

from twobowls.counting import count_of
from twobowls.tasting.tasting import Tasting
from twobowls.web.clockwork import clockwork_of
from twobowls.web.progress import expected
from twobowls.web.seat_view import poured_of
from twobowls.web.wording import STATE_TEXTS, clock_time, listed, plain_number


class BenchSeat(msgspec.Struct, frozen=True):
    """One seat and how far it is: marked places by round key.

    It takes part if it has recorded anything, or if its page is open somewhere.
    """

    id: str
    number: int
    nickname: str
    marked: dict[str, int]
    taking_part: bool


class BenchChange(msgspec.Struct, frozen=True):
    """The whole live part of a bench; it replaces what was sent before."""

    version: int
    state: str
    round: str | None
    poured: dict[str, int | None]
    readings: int
    expected: dict[str, int]
    seats: list[BenchSeat]
    unfinished: str
    now_ms: int
    trouble: str


def bench_change(
    tasting: Tasting,
    counts: dict[str, dict[str, int]],
    now_ms: int,
    trouble: str = "",
    taking_part: Collection[str] = (),
) -> BenchChange:
    """Return what a bench shows of the tasting as it stands, and why nothing can be saved.

    ``taking_part`` has the ids of the seats that take part.
    """
    return BenchChange(
        version=tasting.version,
        state=tasting.state,
        round=tasting.round,
        poured=poured_of(tasting),
        readings=len(tasting.probes),
        expected=expected(tasting),
        seats=[
            BenchSeat(
                seat.id,
                seat.number,
                seat.nickname,
                counts.get(seat.id, {}),
                seat.id in taking_part,
            )
            for seat in tasting.seats
        ],
        unfinished=_unfinished(tasting, counts),
        now_ms=now_ms,
        trouble=trouble,
    )


class ClockData(msgspec.Struct, frozen=True):
    """What the clocks of a page need: seconds after a bowl's pour, the cooling curve, readings."""

    break_s: float
    skim_s: float
    first_sip_s: float
    first_sip_c: float
    rounds: dict[str, float | None]
    cooling: list[tuple[int, float]]
    readings: list[str]


def clock_data(tasting: Tasting) -> ClockData:
    """Return the clocks of a tasting's bowls."""
    work = clockwork_of(tasting)
    return ClockData(
        break_s=work.bowl.break_s,
        skim_s=work.bowl.skim_s,
        first_sip_s=work.bowl.first_sip_s,
        first_sip_c=tasting.setup.first_sip_c,
        rounds=dict(work.bowl.rounds),
        cooling=work.curve,
        readings=_readings(tasting),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BowlCard:
    """One bowl on the bench."""

    code: str
    flight: int
    poured: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundButton:
    """One round on the bench."""

    key: str
    name: str
    target: str
    current: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SeatLine:
    """One seat on the bench: (marked of expected, share) by round."""

    id: str
    number: int
    nickname: str
    rounds: list[tuple[str, str, int, int]]


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchPage:
    """The bench as the server shows it; the page's script keeps it going."""

    id: str
    name: str
    state: str
    state_text: str
    join_code: str
    flights: int
    bowls: list[BowlCard]
    rounds: list[RoundButton]
    round_name: str
    next_round: str
    seats: list[SeatLine]
    seats_text: str
    readings: list[str]
    unfinished: str
    blind_host: bool
    door_open: bool


def bench_page_view(tasting: Tasting, counts: dict[str, dict[str, int]]) -> BenchPage:
    """Return the bench of the tasting as it stands."""
    rounds = tasting.setup.rounds
    current = next((each for each in rounds if each.key == tasting.round), None)
    after = rounds.index(current) + 1 if current else 0
    return BenchPage(
        id=tasting.id,
        name=tasting.setup.name,
        state=tasting.state,
        state_text=STATE_TEXTS[tasting.state],
        join_code=tasting.join_code,
        flights=1 + max(bowl.flight for bowl in tasting.plan.bowls),
        bowls=[
            BowlCard(
                code=bowl.code, flight=bowl.flight + 1, poured=_poured(tasting.poured, bowl.code)
            )
            for bowl in tasting.plan.bowls
        ],
        rounds=[
            RoundButton(
                key=each.key,
                name=each.name,
                target="" if each.target_c is None else f"{plain_number(each.target_c)} °C",
                current=each is current,
            )
            for each in rounds
        ],
        round_name=current.name if current else "",
        next_round=rounds[after].key if after < len(rounds) else "",
        seats=_seats(tasting, counts),
        seats_text=f"{count_of(len(tasting.seats), 'seat')} taken",
        readings=_readings(tasting),
        unfinished=_unfinished(tasting, counts),
        blind_host=tasting.setup.host_tastes,
        door_open=tasting.door_open,
    )


def _readings(tasting: Tasting) -> list[str]:
    return [
        f"{probe.bowl} at {clock_time(probe.at_ms)}: {plain_number(probe.temperature_c)} °C"
        for probe in tasting.probes
    ]


def _poured(poured: dict[str, int], code: str) -> str:
    return f"poured at {clock_time(poured[code])}" if code in poured else ""


def _seats(tasting: Tasting, counts: dict[str, dict[str, int]]) -> list[SeatLine]:
    most = expected(tasting)
    return [
        SeatLine(
            id=seat.id,
            number=seat.number,
            nickname=seat.nickname,
            rounds=[
                (each.key, each.name, counts.get(seat.id, {}).get(each.key, 0), most[each.key])
                for each in tasting.setup.rounds
            ],
        )
        for seat in tasting.seats
    ]


def _unfinished(tasting: Tasting, counts: dict[str, dict[str, int]]) -> str:
    """Return who has not marked everything, for the question before the closing."""
    most = sum(expected(tasting).values())
    behind = [
        seat.nickname for seat in tasting.seats if sum(counts.get(seat.id, {}).values()) < most
    ]
    if not tasting.seats:
        return "Nobody has taken a seat yet."
    if not behind:
        return "Everybody has marked everything."
    shown = listed(behind[:5]) if len(behind) <= 5 else f"{count_of(len(behind), 'seat')}"
    return f"{shown} {'has' if len(behind) == 1 else 'have'} not marked everything yet."
