"""What the phones call: their seat's state, their records, their live stream."""

import msgspec
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.types import Receive, Scope, Send

from twobowls.errors import InputError, NotFoundError, StoreError
from twobowls.store.record_messages import Refusal, decode_batch
from twobowls.web.access import now_ms, seat_of, settings_of, store_of
from twobowls.web.clockwork import clockwork_of
from twobowls.web.errors import json_error
from twobowls.web.forms import sentence
from twobowls.web.live import EventStream, Live, message
from twobowls.web.packing import packed
from twobowls.web.seat_view import change_view, seat_view

MOST_BYTES = 512_000
_encode = msgspec.json.Encoder().encode
JSON_TYPE = "application/json"
JSON = [(b"content-type", b"application/json"), (b"cache-control", b"no-store")]


class SavedView(msgspec.Struct, frozen=True):
    """The answer to a batch: what is on disk, and what was refused."""

    saved: list[str]
    refused: list[Refusal]
    now_ms: int


def seat_state(request: Request) -> Response:
    """Answer everything that a seat needs."""
    tasting, seat = seat_of(request)
    store = store_of(request)
    records = store.messages_of(store.place(request.path_params["key"]))
    view = seat_view(tasting, seat, clockwork_of(tasting), records, now_ms(request))
    answer = Response(_encode(view), headers={"cache-control": "no-store"}, media_type=JSON_TYPE)
    return packed(request.headers, answer)


class PostRecords:
    """Store a batch of records. Plain ASGI: it is what every phone does all the time."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        request = Request(scope, receive)
        try:
            body = await _body(receive)
        except ClientDisconnect:
            return
        try:
            answer = await self._store(request, body)
        except InputError as error:
            response = json_error(400, error.field, sentence(error))
        except NotFoundError as error:
            response = json_error(404, "", str(error))
        except StoreError as error:
            response = json_error(503, "", str(error))
        else:
            await _send_json(send, answer)
            return
        await response(scope, receive, send)

    async def _store(self, request: Request, body: bytes) -> bytes:
        store = store_of(request)
        place = store.place(request.path_params["key"])
        messages, spoilt = decode_batch(body)
        received_ms = settings_of(request).now_ms()
        taken, refused = await store.submit(place, messages, received_ms)
        saved = [each.id for each in taken]
        return _encode(SavedView(saved, spoilt + refused, received_ms))


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


async def _send_json(send: Send, body: bytes) -> None:
    headers = [*JSON, (b"content-length", str(len(body)).encode())]
    await send({"type": "http.response.start", "status": 200, "headers": headers})
    await send({"type": "http.response.body", "body": body})


async def seat_stream(request: Request) -> EventStream:
    """Stream what changes for everybody at the table."""
    tasting, _seat = await run_in_threadpool(seat_of, request)
    live: Live = request.app.state.live
    first = b""
    if request.headers.get("last-event-id") != str(tasting.version):
        first = message("change", _encode(change_view(tasting, now_ms(request))), tasting.version)
    return EventStream(live.messages(f"seats/{tasting.id}", first))


routes = [
    Route("/api/seats/{key}/records", PostRecords(), methods=["POST"]),
    Route("/api/seats/{key}", seat_state),
    Route("/api/seats/{key}/stream", seat_stream),
]
