"""The host's time while a server runs: read once from the computer's clock, then steady.

Somebody may set the clock, or a time server may, in the middle of a tasting. Bowls do not get
older by that, and a mark that was made later must not come to stand before an earlier one.
"""

import sys
import time
from collections.abc import Callable
from functools import partial

from twobowls.web.settings import wall_clock_ms

LONGEST_WAY_BACK_MS = 24 * 3_600_000


# Python's own monotonic clock stands still while a computer with Linux or macOS sleeps.
if sys.platform == "linux":
    _steady_ns = partial(time.clock_gettime_ns, time.CLOCK_BOOTTIME)
elif sys.platform == "darwin":
    _steady_ns = partial(time.clock_gettime_ns, time.CLOCK_MONOTONIC)
else:
    _steady_ns = time.monotonic_ns


def steady_ns() -> int:
    """Return nanoseconds that nobody sets and that go on while the computer sleeps."""
    return _steady_ns()


class HostClock:
    """The time of one run of the server, in milliseconds since 1970-01-01 UTC.

    Parameters
    ----------
    latest_ms : int
        The latest instant that is known of a tasting which still goes on. A run does not begin
        before it, unless the computer's clock was set back by more than a day: then what is known
        is more likely wrong than the clock.
    wall_ms, steady : callable
        The computer's clock, and nanoseconds that only go forward.

    Examples
    --------
    >>> wall = iter([12_000])
    >>> steady = iter([0, 3_000_000_000])
    >>> HostClock(20_000, lambda: next(wall), lambda: next(steady))()
    23000
    """

    def __init__(
        self,
        latest_ms: int = 0,
        wall_ms: Callable[[], int] = wall_clock_ms,
        steady: Callable[[], int] = steady_ns,
    ) -> None:
        wall = wall_ms()
        behind = 0 < latest_ms - wall <= LONGEST_WAY_BACK_MS
        self._begin_ms = latest_ms if behind else wall
        self._steady = steady
        self._begin_ns = steady()

    def __call__(self) -> int:
        """Return the time."""
        return self._begin_ms + (self._steady() - self._begin_ns) // 1_000_000
