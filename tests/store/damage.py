"""Ways in which a store's file gets spoilt, and tables with something to lose."""

import random
from collections.abc import Callable
from pathlib import Path

from tests.store.tables import NOON, add_table, mark

from twobowls.store import Store

PAGE = 4096


def fill(store: Store, marks: int = 160) -> tuple[str, list[str]]:
    """Open a tasting with one seat and many marks; return its id and the ids of the marks."""
    store.setting("host_key", lambda: "the host's")
    tasting = store.open(add_table(store).id, NOON)
    seat, _key = store.join(tasting.id, "Ana", NOON)
    return tasting.id, send(store, tasting.id, seat.id, marks)


def send(store: Store, tasting_id: str, seat_id: str, marks: int) -> list[str]:
    """Send marks in batches of eight; return the ids that were acknowledged."""
    codes = [bowl.code for bowl in store.tasting(tasting_id).plan.bowls]
    saved: list[str] = []
    for start in range(0, marks, 8):
        batch = [mark(seat_id, codes[n % len(codes)]) for n in range(start, min(start + 8, marks))]
        saved.extend(store.add_records(seat_id, batch, NOON).saved)
    return saved


def garbage(length: int) -> bytes:
    """Return bytes that mean nothing."""
    return random.Random(11).randbytes(length)


def spoil_header(path: Path) -> None:
    """Write nonsense over the first hundred bytes."""
    _overwrite(path, 0, garbage(100))


def spoil_middle(path: Path) -> None:
    """Write nonsense over the last page but two, where records are."""
    pages = path.stat().st_size // PAGE
    _overwrite(path, (pages - 3) * PAGE, garbage(PAGE))


def cut_short(path: Path) -> None:
    """Lose the last three pages."""
    size = path.stat().st_size
    with path.open("r+b") as file:
        file.truncate(size - 3 * PAGE)


def empty(path: Path) -> None:
    """Fill the file with zeros, as a bad disk may give it back."""
    _overwrite(path, 0, bytes(path.stat().st_size))


def _overwrite(path: Path, at: int, content: bytes) -> None:
    with path.open("r+b") as file:
        file.seek(at)
        file.write(content)


DAMAGES: dict[str, Callable[[Path], None]] = {
    "header": spoil_header,
    "middle page": spoil_middle,
    "truncated": cut_short,
    "zeros": empty,
}
