"""What the store and its callers hand each other about one seat's records."""

from dataclasses import dataclass

from twobowls.store.record_messages import Refusal


@dataclass(frozen=True, slots=True)
class SeatPlace:
    """Where a seat's records go."""

    number: int
    seat_id: str
    tasting_id: str
    key: str


@dataclass(frozen=True, slots=True)
class Saved:
    """What became of a batch: the ids that are on disk, and the refusals."""

    saved: tuple[str, ...]
    refused: tuple[Refusal, ...]
