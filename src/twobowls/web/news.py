"""From what the store has saved to what live pages are told."""

from collections.abc import Sequence

import msgspec
from msgspec.structs import replace

from twobowls.store import Store
from twobowls.store.record_messages import Message
from twobowls.tasting.tasting import Tasting
from twobowls.web.arrivals import Arrivals, arrivals_view
from twobowls.web.bench_view import bench_change
from twobowls.web.live import Live, message
from twobowls.web.progress import Progress
from twobowls.web.seat_view import ChangeView, change_view
from twobowls.web.settings import WebSettings

PROGRESS_EVERY_S = 0.15
_encode = msgspec.json.Encoder().encode


class News:
    """Listens to the store; sends to seats and benches."""

    def __init__(self, store: Store, live: Live, progress: Progress, settings: WebSettings) -> None:
        self._store = store
        self._live = live
        self._progress = progress
        self._settings = settings
        self._told: dict[str, ChangeView] = {}
        self._due: set[str] = set()
        self.arrivals = Arrivals()
        live.on_listening(self._on_listening)
        store.on_tasting(self._on_tasting)
        store.on_records(self._on_records)
        store.on_trouble(lambda _trouble: live.call(self._tell_every_bench))

    def bench_message(self, tasting_id: str) -> bytes:
        """Return everything a live bench shows, as one message."""
        tasting = self._store.tasting(tasting_id)
        counts = self._progress.counts(tasting)
        trouble = str(self._store.trouble or "")
        taking_part = self._progress.active(tasting.id) | self._here(tasting)
        view = bench_change(tasting, counts, self._settings.now_ms(), trouble, taking_part)
        return message("change", _encode(view), tasting.version)

    def arrivals_message(self, seat_id: str) -> bytes:
        """Return how many batches of a seat have come in, for a stream that begins."""
        count = self.arrivals.of(seat_id)
        return message("records", _encode(arrivals_view(count))) if count else b""

    def _here(self, tasting: Tasting) -> set[str]:
        """Return the seats whose page is open somewhere."""
        return {
            seat.id
            for seat in tasting.seats
            if self._live.has_listeners(seat_topic(tasting.id, seat.id))
        }

    def _on_listening(self, topic: str) -> None:
        """Tell benches and walls, in a moment, that a seat's page was opened or closed."""
        kind, _, rest = topic.partition("/")
        if kind == "seat":
            self._tell_soon(rest.partition("/")[0])

    def _on_tasting(self, tasting: Tasting) -> None:
        """Any thread may have made the event; pages are told in the event loop."""
        self._live.call(lambda: self._tell(tasting.id))

    def _tell(self, tasting_id: str) -> None:
        """Tell the newest state: two events of two threads may come here the wrong way round.

        It is noted even where nobody listens, so that what is told next is held against what
        whoever came meanwhile was told first.
        """
        view = change_view(self._store.tasting(tasting_id), self._settings.now_ms())
        if not _same(self._told.get(tasting_id), view):  # a new neighbour is no news to a seat
            change = message("change", _encode(view), view.version)
            self._live.send(f"seats/{tasting_id}", "change", change)
        self._told[tasting_id] = view
        self._tell_bench(tasting_id)

    def _tell_bench(self, tasting_id: str) -> None:
        self._due.discard(tasting_id)
        topic = f"bench/{tasting_id}"
        if self._live.has_listeners(topic):
            self._live.send(topic, "change", self.bench_message(tasting_id))

    def _tell_every_bench(self) -> None:
        for topic in self._live.topics("bench/"):
            self._tell_bench(topic.removeprefix("bench/"))

    def _on_records(self, tasting_id: str, seat_id: str, messages: Sequence[Message]) -> None:
        """Count at once; tell benches a few times a second at the most."""
        self._progress.note(tasting_id, seat_id, messages)
        count = self.arrivals.note(seat_id)
        topic = seat_topic(tasting_id, seat_id)
        if self._live.listeners(topic) > 1:  # one device alone knows what it has sent
            told = message("records", _encode(arrivals_view(count, messages)))
            self._live.call(lambda: self._live.send(topic, "records", told))
        self._tell_soon(tasting_id)

    def _tell_soon(self, tasting_id: str) -> None:
        if tasting_id not in self._due and self._live.has_listeners(f"bench/{tasting_id}"):
            self._due.add(tasting_id)
            self._live.call_later(PROGRESS_EVERY_S, lambda: self._tell_bench(tasting_id))


def seat_topic(tasting_id: str, seat_id: str) -> str:
    """Return what the devices of one seat listen to."""
    return f"seat/{tasting_id}/{seat_id}"


def _same(told: ChangeView | None, view: ChangeView) -> bool:
    return told is not None and replace(told, version=0, now_ms=0) == replace(
        view, version=0, now_ms=0
    )
