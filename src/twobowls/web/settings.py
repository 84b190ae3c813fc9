"""What the web shell is told at the start: its secret, its names, its clock."""

import time
from collections.abc import Callable
from dataclasses import dataclass


def wall_clock_ms() -> int:
    """Return the host's time in milliseconds since 1970-01-01 UTC."""
    return time.time_ns() // 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class WebSettings:
    """Settings of one running server.

    ``phone_address`` is the address that phones can reach, such as ``http://192.0.2.7:8417``;
    None when only this computer can reach the server. ``names`` are further host names by which
    the server may be called. ``one_address`` says that all guests come through one address, which
    then tells nothing about any of them. ``ticket`` signs the host in once, see
    `twobowls.web.doors.host_ticket`.
    """

    host_key: str
    phone_address: str | None = None
    names: frozenset[str] = frozenset()
    secure: bool = False
    one_address: bool = False
    ticket: str | None = None
    now_ms: Callable[[], int] = wall_clock_ms
