"""What each seat has stored: which records need not be stored again, and how much there may be.

One evening of one person is far smaller than the bounds: twelve bowls on seven pads in five
rounds, each placed and moved four times, are 2,100 marks of 150 bytes, and a long note on every
bowl in every round, saved five times while it is written, another 600 kB.
"""

import threading
from collections.abc import Sequence
from dataclasses import dataclass

from twobowls.store.batch_table import read_batches_of_seat
from twobowls.store.readers import Readers
from twobowls.store.record_messages import Message, Refusal, decode_log, encode
from twobowls.store.seat_places import SeatPlace

MOST_RECORDS = 20_000
MOST_BYTES = 4_000_000
FULL = (
    "This seat has recorded more than one taster can in an evening; nothing more is stored for it. "
    "What was stored before is safe. Ask the host for another seat."
)


class SeatLog:
    """What one seat has on the disk, and what is on its way there."""

    def __init__(self, ids: set[str], size: int) -> None:
        self._ids = ids
        self._records = len(ids)
        self._bytes = size

    def unknown(self, messages: Sequence[Message]) -> list[Message]:
        """Return the records that are not on the disk yet, each one once."""
        fresh = {each.id: each for each in reversed(messages) if each.id not in self._ids}
        return list(reversed(fresh.values()))

    def reserve(self, records: int, size: int) -> bool:
        """Take room for records of so many bytes; say whether there was any."""
        if self._records + records > MOST_RECORDS or self._bytes + size > MOST_BYTES:
            return False
        self._records += records
        self._bytes += size
        return True

    def give_back(self, records: int, size: int) -> None:
        """Give room back, as the records could not be stored."""
        self._records -= records
        self._bytes -= size

    def note(self, messages: Sequence[Message]) -> None:
        """Remember records that are on the disk now."""
        self._ids.update([each.id for each in messages])


@dataclass(frozen=True, slots=True)
class Admitted:
    """What becomes of records that a seat sent.

    ``taken`` are those to be confirmed once ``fresh``, what is not on the disk yet, is stored as
    ``body``; room for it is reserved in ``log``.
    """

    taken: list[Message]
    refused: list[Refusal]
    log: SeatLog
    fresh: list[Message]
    body: bytes

    def give_back(self) -> None:
        """Give the room back, as the records could not be stored."""
        self.log.give_back(len(self.fresh), len(self.body))


def admit(log: SeatLog, taken: list[Message], refused: list[Refusal]) -> Admitted:
    """Look which of these records are new, and whether there is room for them."""
    fresh = log.unknown(taken)
    body = encode(fresh) if fresh else b""
    if not fresh or log.reserve(len(fresh), len(body)):
        return Admitted(taken, refused, log, fresh, body)
    over = {each.id for each in fresh}
    full = [Refusal(id=each.id, error=FULL) for each in fresh]
    known = [each for each in taken if each.id not in over]
    return Admitted(known, [*refused, *full], log, [], b"")


class SeatLogs:
    """The logs of all seats that have sent something since the start; any thread may ask."""

    def __init__(self, readers: Readers) -> None:
        self._readers = readers
        self._lock = threading.Lock()
        self._logs: dict[int, SeatLog] = {}

    def of(self, place: SeatPlace) -> SeatLog:
        """Return the log of a seat, read from the disk the first time."""
        known = self._logs.get(place.number)
        if known is not None:
            return known
        with self._lock:
            if place.number not in self._logs:
                self._logs[place.number] = self._read(place)
            return self._logs[place.number]

    def _read(self, place: SeatPlace) -> SeatLog:
        bodies = self._readers.run(lambda db: read_batches_of_seat(db, place.number))
        log = decode_log((place.seat_id, body) for body in bodies)
        return SeatLog({message.id for _seat, message in log}, sum(map(len, bodies)))
