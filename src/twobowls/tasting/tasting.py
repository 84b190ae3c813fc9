"""One tasting as it stands: its setup, its plan, its clocks and its people."""

from dataclasses import dataclass, field
from typing import Literal

from twobowls.tasting.plan import Plan
from twobowls.tasting.setup import Setup

State = Literal["planned", "open", "closed", "revealed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """One taster's place. ``number`` picks the serving order of the plan; counted from 1."""

    id: str
    number: int
    nickname: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe:
    """A thermometer reading in one bowl."""

    bowl: str
    at_ms: int
    temperature_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Tasting:
    """A tasting and everything the host has done with it.

    ``poured`` maps bowl codes to the instant (ms) at which water met the grounds; ``round``
    is the key of the round that was called last, or None. ``version`` grows by one with each
    host event, and orders what a live page has seen. ``door_open`` says whether new guests may
    take seats while the tasting can be joined. What was put right: ``set_aside`` has the
    codes of bowls and ``removed`` the ids of seats that do not count, and ``merged`` maps the id
    of a seat to that of the seat as whose its records count.
    """

    id: str
    setup: Setup
    plan: Plan
    state: State
    join_code: str
    created_ms: int
    version: int = 0
    round: str | None = None
    poured: dict[str, int] = field(default_factory=dict)
    probes: tuple[Probe, ...] = ()
    seats: tuple[Seat, ...] = ()
    door_open: bool = True
    opened_ms: int | None = None
    closed_ms: int | None = None
    revealed_ms: int | None = None
    set_aside: frozenset[str] = frozenset()
    removed: frozenset[str] = frozenset()
    merged: dict[str, str] = field(default_factory=dict)

    def counting_seats(self) -> tuple[Seat, ...]:
        """Return the seats that were neither removed nor merged into another."""
        gone = self.removed | self.merged.keys()
        return tuple(seat for seat in self.seats if seat.id not in gone)
