"""Slowing down whoever guesses: join codes, and the host's key. Pure but for the clock passed in.

Only failures count, so that forty phones behind one address join without a hitch.
"""

from collections import OrderedDict


class Guesses:
    """Failures of late, by caller and in all.

    Parameters
    ----------
    each, together : int
        How many failures one caller, and all callers together, have free.
    refill_s : float
        After how many seconds one failure is forgiven (for all callers together, ``each`` /
        ``together`` as long).
    """

    def __init__(self, each: int = 12, together: int = 300, refill_s: float = 10.0) -> None:
        self._each = each
        self._together = together
        self._refill_ms = refill_s * 1000
        self._callers: OrderedDict[str, tuple[float, int]] = OrderedDict()
        self._all: tuple[float, int] = (0.0, 0)

    def wait_s(self, caller: str, now_ms: int) -> int:
        """Return how many seconds this caller has to wait before the next guess; 0 for none."""
        own = self._left(self._callers.get(caller, (0.0, now_ms)), now_ms, 1.0)
        everybody = self._left(self._all, now_ms, self._together / self._each)
        over = max(own - self._each + 1, (everybody - self._together + 1) * self._each)
        return 0 if over <= 0 else max(1, round(over * self._refill_ms / 1000))

    def failed(self, caller: str, now_ms: int) -> None:
        """Note one failure."""
        own = self._left(self._callers.pop(caller, (0.0, now_ms)), now_ms, 1.0)
        self._callers[caller] = (own + 1, now_ms)
        while len(self._callers) > 10_000:
            self._callers.popitem(last=False)
        everybody = self._left(self._all, now_ms, self._together / self._each)
        self._all = (everybody + 1, now_ms)

    def _left(self, state: tuple[float, int], now_ms: int, speed: float) -> float:
        failures, at_ms = state
        since_ms = abs(now_ms - at_ms)  # a clock that jumps back forgives, it does not lock out
        return max(0.0, failures - speed * since_ms / self._refill_ms)
