"""The outermost layer: who is called, who calls, how much may be sent, and what browsers may do.

Plain ASGI, because every request passes through it.
"""

import ipaddress
import re
from collections.abc import Iterable

import msgspec
from starlette.applications import Starlette
from starlette.types import Message, Receive, Scope, Send

from twobowls.web.seat_api import PostRecords
from twobowls.web.security_headers import SECURITY_HEADERS, STATIC_HEADERS

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
MOST_BYTES = 2_000_000
LONGEST_HOST = 260  # a host name has at most 253 characters, a port five
_HOST = re.compile(r"^(?P<name>\[[0-9a-fA-F:.]+\]|[^:\[\]/\s]+)(?::\d{1,5})?$")


class Shield:
    """Wrap an application; refuse what cannot come from our own pages.

    Parameters
    ----------
    app : Starlette
        What is protected.
    records : PostRecords
        What answers the seats' records, without a detour through the router.
    names : iterable of str
        Host names that are ours besides ``localhost`` and plain addresses. A page of somebody
        else's that gets its own name to point here (DNS rebinding) calls us by that name.
    """

    def __init__(self, app: Starlette, records: PostRecords, names: Iterable[str] = ()) -> None:
        self.app = app
        self._records = records
        self._names = frozenset({"localhost", *(name.lower() for name in names)})
        self._known_hosts: dict[bytes, bool] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or hand it on."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        refusal = self._refusal(scope)
        if refusal is not None:
            await _refuse(_with_headers(send, SECURITY_HEADERS), *refusal)
        elif self._records.serves(scope):
            await self._records(scope, receive, _with_headers(send, STATIC_HEADERS))
        else:
            scripts = scope["path"].startswith("/static/") and not scope["path"].endswith(".svg")
            headers = STATIC_HEADERS if scripts else SECURITY_HEADERS
            await self.app(scope, receive, _with_headers(send, headers))

    def _refusal(self, scope: Scope) -> tuple[int, str, str] | None:
        headers: dict[bytes, bytes] = dict(scope["headers"])
        host = headers.get(b"host", b"")
        known = self._known_hosts.get(host)
        if known is None:
            known = self._look_at(host)
        if not known:
            return 421, "host", "This server does not go by the name in the address."
        if scope["method"] not in SAFE_METHODS and not _from_our_pages(
            headers, host, scope["scheme"]
        ):
            return 403, "origin", "This request came from another site's page."
        if b"transfer-encoding" in headers:  # of a length that nobody knows beforehand
            return 411, "body", "Send the length of the body with it (Content-Length)."
        if _too_long(headers.get(b"content-length")):
            return 413, "body", f"Send at most {MOST_BYTES // 1_000_000} MB at once."
        return None

    def _look_at(self, host: bytes) -> bool:
        if len(host) > LONGEST_HOST:
            return False
        known = is_our_name(host.decode("latin-1"), self._names)
        if len(self._known_hosts) < 1000:  # a flood of made-up names must not fill the memory
            self._known_hosts[host] = known
        return known


def is_our_name(host: str, names: frozenset[str]) -> bool:
    """Say whether a Host header means us: one of our names, or any plain address.

    Examples
    --------
    >>> [is_our_name(each, frozenset({"localhost"})) for each in
    ...  ("localhost:8417", "192.0.2.7:8417", "[::1]:8417", "rebound.example:8417", "")]
    [True, True, True, False, False]
    """
    match = _HOST.match(host)
    if match is None:
        return False
    name = match["name"].lower().rstrip(".")
    if name in names:
        return True
    try:
        ipaddress.ip_address(name.strip("[]"))
    except ValueError:
        return False
    return True


def _from_our_pages(headers: dict[bytes, bytes], host: bytes, scheme: str) -> bool:
    """Believe the browser; a program that says nothing has no cookie to misuse."""
    site = headers.get(b"sec-fetch-site")
    if site is not None:
        return site in (b"same-origin", b"none")
    origin = headers.get(b"origin")
    return origin is None or origin == scheme.encode() + b"://" + host


def _too_long(content_length: bytes | None) -> bool:
    return content_length is not None and (
        not content_length.isdigit() or int(content_length) > MOST_BYTES
    )


def _with_headers(send: Send, headers: list[tuple[bytes, bytes]]) -> Send:
    """Add headers to an answer; one that was refused is a page, whatever was asked for."""

    async def guarded(message: Message) -> None:
        if message["type"] == "http.response.start":
            added = headers if message["status"] < 400 else SECURITY_HEADERS
            message["headers"] = [*message.get("headers", ()), *added]
        await send(message)

    return guarded


async def _refuse(send: Send, status: int, field: str, text: str) -> None:
    body = msgspec.json.encode({"error": {"field": field, "message": text}})
    headers = [
        (b"content-type", b"application/json"),
        (b"content-length", str(len(body)).encode()),
        (b"connection", b"close"),
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
