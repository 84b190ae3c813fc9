"""The durable log and the shelf: SQLite, one writer, group commit."""

from twobowls.store.paths import STORE_VARIABLE, default_path
from twobowls.store.record_messages import Refusal
from twobowls.store.seat_places import Saved, SeatPlace
from twobowls.store.store import Store, open_store

__all__ = [
    "STORE_VARIABLE",
    "Refusal",
    "Saved",
    "SeatPlace",
    "Store",
    "default_path",
    "open_store",
]
