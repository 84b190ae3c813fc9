"""How fast one caller may go: wrong join codes, and seats taken. Pure but for the clock passed in.

A join code has seven of 18 letters, 399 million possibilities. Whoever has tried twelve wrong
ones has each further try held back before it is looked at: 600 connections
(`server.MOST_OF_ONE_ADDRESS`) and three seconds make 200 tries a second at the most, and four
hours of that find one code with a probability of 0.7 %. So a right code need not be refused
because of wrong ones from the same address, which may be another guest's: it takes three seconds
longer. The keys of the host and of seats have 144 bits (18 random bytes), which nobody finds by
trying, and are not slowed at all.
"""

import threading
from collections import OrderedDict
from math import ceil

MOST_CALLERS = 10_000
FREE_CODES, CODE_EVERY_S = 12, 10.0
HOLD_S = 3.0
FREE_SEATS, SEAT_EVERY_S = 40, 3.0


class Pace:
    """So many at once from each caller, then one every few seconds; any thread may ask.

    Parameters
    ----------
    burst : int
        How many one caller has free.
    every_s : float
        After how many seconds one more is free.

    Examples
    --------
    >>> pace = Pace(burst=2, every_s=10)
    >>> [pace.take("a", 0), pace.take("a", 0), pace.take("a", 0), pace.take("b", 0)]
    [0, 0, 10, 0]
    >>> pace.take("a", 4_000), pace.take("a", 10_000), pace.take("a", 10_000)
    (6, 0, 10)
    """

    def __init__(self, burst: int, every_s: float) -> None:
        self._burst = burst
        self._every_ms = every_s * 1000
        self._lock = threading.Lock()
        self._taken: OrderedDict[str, tuple[float, int]] = OrderedDict()

    def take(self, caller: str, now_ms: int) -> int:
        """Count one and return 0, or return after how many seconds one is free."""
        with self._lock:
            taken = self._left(caller, now_ms)
            over = taken + 1 - self._burst
            if over > 1e-9:
                return max(1, ceil(over * self._every_ms / 1000 - 1e-9))
            self._note(caller, taken + 1, now_ms)
        return 0

    def give_back(self, caller: str, now_ms: int) -> None:
        """Let one that was taken not count."""
        with self._lock:
            self._note(caller, max(0.0, self._left(caller, now_ms) - 1), now_ms)

    def _left(self, caller: str, now_ms: int) -> float:
        """Return how many of those that were taken still count."""
        taken, at_ms = self._taken.get(caller, (0.0, now_ms))
        since_ms = abs(now_ms - at_ms)  # a clock that jumps back forgives, it does not lock out
        return max(0.0, taken - since_ms / self._every_ms)

    def _note(self, caller: str, taken: float, now_ms: int) -> None:
        self._taken.pop(caller, None)
        if taken > 0:
            self._taken[caller] = (taken, now_ms)
        while len(self._taken) > MOST_CALLERS:
            self._taken.popitem(last=False)


class Limits:
    """What one server allows its callers.

    Parameters
    ----------
    one_address : bool
        All guests come through one address: as many seats at once as a tasting has.
    hold_s : float
        How long a try is held back that comes after too many wrong codes.
    """

    def __init__(self, one_address: bool = False, hold_s: float = HOLD_S) -> None:
        self.codes = Pace(FREE_CODES, CODE_EVERY_S)
        self.seats = Pace(500, 1.0) if one_address else Pace(FREE_SEATS, SEAT_EVERY_S)
        self.hold_s = hold_s


class TooSoonError(Exception):
    """A seat was asked for ``wait_s`` seconds too early."""

    def __init__(self, wait_s: int) -> None:
        super().__init__(wait_s)
        self.wait_s = wait_s
