"""Ending a command that was asked to stop, by whatever road, so that it closes what it has open.

Ctrl+C, a logout, a closed terminal and a system that shuts down all send a signal. Unhandled,
most of them end the process on the spot: no last backup, and a log left beside the store.
"""

import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType


def _end(_number: int, _frame: FrameType | None) -> None:
    sys.exit(0)


def _end_as_asked(_number: int, _frame: FrameType | None) -> None:
    """Go the way of SIGTERM, which the web server knows to finish its answers before."""
    signal.raise_signal(signal.SIGTERM)


@contextmanager
def stopped_by_signals() -> Iterator[None]:
    """Let a signal end the block as `sys.exit` does; one that is ignored (nohup) stays so."""
    roads = {signal.SIGINT: _end, signal.SIGTERM: _end}
    if sys.platform != "win32":
        roads[signal.SIGHUP] = _end_as_asked
    before = {each: signal.getsignal(each) for each in roads}
    for each, road in roads.items():
        if before[each] != signal.SIG_IGN:
            signal.signal(each, road)
    try:
        yield
    finally:
        for each, handler in before.items():
            signal.signal(each, handler)
