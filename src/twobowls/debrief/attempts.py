"""Works a debrief out part by part: one that fails is noted, and the rest stands."""

from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")
U = TypeVar("U")


class Attempts:
    """Which parts could not be worked out, and why; each by its name.

    Examples
    --------
    >>> tried = Attempts()
    >>> tried.get("half", lambda: 1 // 2, 0), tried.get("none", lambda: 1 // 0, 0)
    (0, 0)
    >>> tried.failed
    {'none': ZeroDivisionError('integer division or modulo by zero')}
    """

    def __init__(self) -> None:
        self.failed: dict[str, Exception] = {}

    def get(self, part: str, work: Callable[[], T], otherwise: U) -> T | U:
        """Return what ``work`` gives; where it raises, note it under ``part`` instead."""
        try:
            return work()
        except Exception as error:  # noqa: BLE001 - told on the page and in the log, whatever it is
            self.failed.setdefault(part, error)
            return otherwise
