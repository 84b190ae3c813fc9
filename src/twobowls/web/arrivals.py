"""How many batches of each seat's records have come in: by that its devices notice each other's.

Counted from the start of the server on. A count is compared for being the same or not; what it
was before a restart says nothing, and a phone that connects anew reads everything anyway.
"""

import threading
from collections.abc import Sequence

import msgspec

from twobowls.store.record_messages import Message

MOST_IDS = 20


class ArrivalsView(msgspec.Struct, frozen=True):
    """What the devices of one seat are told when records of it have come in.

    ``arrivals`` counts the batches. ``ids`` are those of the newest one, so that whoever sent it
    knows it for its own; they are left out where there are many, or none is new.
    """

    arrivals: int
    ids: list[str]


class Arrivals:
    """The counts of all seats; any thread may ask.

    Examples
    --------
    >>> arrivals = Arrivals()
    >>> arrivals.note("seat"), arrivals.note("seat"), arrivals.of("seat"), arrivals.of("other")
    (1, 2, 2, 0)
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._counts: dict[str, int] = {}

    def note(self, seat_id: str) -> int:
        """Count one more batch of a seat; return how many there are."""
        with self._lock:
            count = self._counts.get(seat_id, 0) + 1
            self._counts[seat_id] = count
            return count

    def of(self, seat_id: str) -> int:
        """Return how many batches of a seat have come in."""
        return self._counts.get(seat_id, 0)


def arrivals_view(count: int, messages: Sequence[Message] = ()) -> ArrivalsView:
    """Return what the devices of a seat are told of a batch, or of how many there were."""
    ids = [each.id for each in messages] if len(messages) <= MOST_IDS else []
    return ArrivalsView(count, ids)
