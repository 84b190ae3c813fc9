"""What a bench and its projector page are told while a tasting goes on."""

import msgspec

from twobowls.tasting.tasting import Tasting
from twobowls.web.progress import expected
from twobowls.web.seat_view import poured_of


class BenchSeat(msgspec.Struct, frozen=True):
    """One seat and how far it is: marked places by round key."""

    id: str
    number: int
    nickname: str
    marked: dict[str, int]


class BenchChange(msgspec.Struct, frozen=True):
    """The whole live part of a bench; it replaces what was sent before."""

    version: int
    state: str
    round: str | None
    poured: dict[str, int | None]
    readings: int
    expected: dict[str, int]
    seats: list[BenchSeat]
    now_ms: int


def bench_change(tasting: Tasting, counts: dict[str, dict[str, int]], now_ms: int) -> BenchChange:
    """Return what a bench shows of the tasting as it stands."""
    return BenchChange(
        version=tasting.version,
        state=tasting.state,
        round=tasting.round,
        poured=poured_of(tasting),
        readings=len(tasting.probes),
        expected=expected(tasting),
        seats=[
            BenchSeat(seat.id, seat.number, seat.nickname, counts.get(seat.id, {}))
            for seat in tasting.seats
        ],
        now_ms=now_ms,
    )
