"""Who is where, while several pages ask at once."""

import threading
from pathlib import Path
from typing import cast

from tests.store.tables import add_table, mark

from twobowls.store import Store, open_store
from twobowls.tasting.records import Record
from twobowls.web.progress import Progress


class SlowStore:
    """A store whose log takes long to read."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self.asked, self.answers = threading.Event(), threading.Event()

    def records(self, tasting_id: str) -> tuple[Record, ...]:
        self.asked.set()
        assert self.answers.wait(60)
        return self._store.records(tasting_id)


def test_a_page_that_comes_while_another_is_counted_for_gets_the_whole_count(
    tmp_path: Path,
) -> None:
    with open_store(tmp_path / "store.sqlite3") as store:
        tasting = store.open(add_table(store).id, 0)
        seat, _key = store.join(tasting.id, "Ana", 0)
        store.add_records(seat.id, [mark(seat.id, b.code) for b in tasting.plan.bowls], 2**42)
        slow = SlowStore(store)
        progress = Progress(cast(Store, slow))
        found: list[dict[str, dict[str, int]]] = []
        pages = [
            threading.Thread(target=lambda: found.append(progress.counts(tasting)))
            for _ in range(2)
        ]
        pages[0].start()
        assert slow.asked.wait(60)
        pages[1].start()
        pages[1].join(0.3)  # long enough for an answer that waits for nothing
        slow.answers.set()
        for page in pages:
            page.join(60)
        assert found == [{seat.id: {"hot": len(tasting.plan.bowls)}}] * 2
