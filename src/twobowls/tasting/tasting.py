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
    take seats while the tasting can be joined.
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
