"""What the phones call: their seat's state, their records, their live stream."""

import msgspec
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.types import Receive, Scope, Send

from twobowls.errors import InputError, NotFoundError, StoreError
from twobowls.store import Store
from twobowls.store.record_messages import Refusal, decode_batch
from twobowls.web.access import now_ms, seat_of, store_of
from twobowls.web.clockwork import clockwork_of
from twobowls.web.errors import json_error
from twobowls.web.forms import sentence
from twobowls.web.live import EventStream, Live, message
from twobowls.web.news import News, seat_topic
from twobowls.web.packing import packed
from twobowls.web.seat_view import change_view, seat_view
from twobowls.web.settings import WebSettings

MOST_BYTES = 512_000
_encode = msgspec.json.Encoder().encode
JSON_TYPE = "application/json"
JSON = [
    (b"content-type", b"application/json"),
    (b"cache-control", b"no-store"),
]


class SavedView(msgspec.Struct, frozen=True):
    """The answer to a batch: what is on disk, and what was refused."""

    saved: list[str]
    refused: list[Refusal]
    now_ms: int


def seat_state(request: Request) -> Response:
    """Answer everything that a seat needs."""
    tasting, seat = seat_of(request)
    store, news = store_of(request), news_of(request)
    arrivals = news.arrivals.of(seat.id)  # before the records: none that it counts may lack
    records = store.messages_of(store.place(request.path_params["key"]))
    view = seat_view(tasting, seat, clockwork_of(tasting), records, now_ms(request), arrivals)
    answer = Response(_encode(view), headers={"cache-control": "no-store"}, media_type=JSON_TYPE)
    return packed(request.headers, answer)


class PostRecords:
    """Store a batch of records; plain ASGI around the router, as it is what phones do most."""

    PREFIX = "/api/seats/"
    SUFFIX = "/records"

    def __init__(self, store: Store, settings: WebSettings) -> None:
        self._store = store
        self._now_ms = settings.now_ms

    def serves(self, scope: Scope) -> bool:
        """Say whether a request is one of these."""
        path: str = scope["path"]
        return path.endswith(self.SUFFIX) and path.startswith(self.PREFIX)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["method"] != "POST":
            answer = json_error(405, "", "Send records with POST.")
            answer.headers["allow"] = "POST"
            await answer(scope, receive, send)
            return
        key = scope["path"][len(self.PREFIX) : -len(self.SUFFIX)]
        try:
            saved = await self._save(key, await _body(receive))
        except ClientDisconnect:
            return
        except InputError as error:
            await self._refuse(400, error.field, sentence(error), scope, receive, send)
        except NotFoundError as error:
            await self._refuse(404, "", str(error), scope, receive, send)
        except StoreError as error:
            await self._refuse(503, "", not_saved(error), scope, receive, send)
        else:
            headers = [*JSON, (b"content-length", str(len(saved)).encode())]
            await send({"type": "http.response.start", "status": 200, "headers": headers})
            await send({"type": "http.response.body", "body": saved})

    async def _save(self, key: str, body: bytes) -> bytes:
        place = self._store.place(key)
        messages, spoilt = decode_batch(body)
        received_ms = self._now_ms()
        taken, refused = await self._store.submit(place, messages, received_ms)
        saved = [each.id for each in taken]
        return _encode(SavedView(saved, spoilt + refused, received_ms))

    async def _refuse(
        self, status: int, field: str, text: str, scope: Scope, receive: Receive, send: Send
    ) -> None:
        await json_error(status, field, text)(scope, receive, send)


def not_saved(error: StoreError) -> str:
    """Return what a guest is told: not where the file lies, nor what the host has to do.

    Examples
    --------
    >>> not_saved(StoreError("a.sqlite3", "the disk is full, nothing was saved", "Free some space"))
    'On the laptop, the disk is full, nothing was saved. Your marks stay on this phone and are \
sent again by themselves; please tell the host.'
    """
    return (
        f"On the laptop, {error.problem}. Your marks stay on this phone and are sent again by "
        "themselves; please tell the host."
    )


async def _body(receive: Receive) -> bytes:
    """Return the body of a request, of bounded length."""
    event = await receive()
    if event["type"] == "http.disconnect":
        raise ClientDisconnect
    body: bytes = event.get("body", b"")
    if not event.get("more_body"):
        return body
    chunks, length = [body], len(body)
    while event.get("more_body"):
        event = await receive()
        if event["type"] == "http.disconnect":
            raise ClientDisconnect
        chunks.append(event.get("body", b""))
        length += len(chunks[-1])
        if length > MOST_BYTES:
            raise InputError(
                "body", f"it is longer than {MOST_BYTES // 1000} kB", "Send fewer records at once"
            )
    return b"".join(chunks)


async def seat_stream(request: Request) -> EventStream:
    """Stream what changes for everybody at the table, and what this seat's other devices send."""
    joined, seat = await run_in_threadpool(seat_of, request)
    live: Live = request.app.state.live

    def first() -> bytes:
        tasting = store_of(request).tasting(joined.id)
        recorded = news_of(request).arrivals_message(seat.id)
        if request.headers.get("last-event-id") == str(tasting.version):
            return recorded
        view = change_view(tasting, now_ms(request))
        return message("change", _encode(view), tasting.version) + recorded

    own = seat_topic(joined.id, seat.id)
    return EventStream(live.messages(f"seats/{joined.id}", first, own))


def news_of(request: Request) -> News:
    """Return what tells the pages of this server."""
    news: News = request.app.state.news
    return news


routes = [
    Route("/api/seats/{key}", seat_state),
    Route("/api/seats/{key}/stream", seat_stream),
]
