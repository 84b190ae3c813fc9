"""The shortest of a few runs: what the work takes when nothing else disturbs it."""

import time
from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")


def best(work: Callable[[], T], runs: int = 3) -> tuple[float, T]:
    """Return the shortest time in seconds, and the last result.

    Examples
    --------
    >>> seconds, result = best(lambda: 6 * 7)
    >>> result, seconds < 1
    (42, True)
    """
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        result = work()
        times.append(time.perf_counter() - start)
    return min(times), result
