"""The addresses that phones are given, as text and as QR codes."""

import ipaddress

from starlette.requests import Request
from starlette.responses import Response

from twobowls.tasting.tasting import Tasting
from twobowls.web.access import settings_of
from twobowls.web.qr import qr_svg


def join_address(request: Request, tasting: Tasting) -> str:
    """Return the address that a guest opens; one of the network where there is one."""
    return f"{_phones(request)}/join?code={tasting.join_code}"


def host_seat_address(request: Request, key: str) -> str:
    """Return a seat's address for another phone, as the host's computer shows it."""
    return f"{_phones(request)}/seat/{key}"


def own_seat_address(request: Request, key: str) -> str:
    """Return a seat's own address as the seat shows it.

    A phone goes by the name that it used itself, for which a certificate may have been made; on
    this computer that would be an address that no other reaches.
    """
    own = str(request.base_url).rstrip("/")
    root = _phones(request) if _is_this_computer(request.url.hostname or "") else own
    return f"{root}/seat/{key}"


def qr_answer(address: str) -> Response:
    """Return an address as a QR code, never to be kept: who has it may mark in a seat's name."""
    headers = {"cache-control": "no-store"}
    return Response(qr_svg(address), headers=headers, media_type="image/svg+xml")


def grouped(key: str) -> str:
    """Return a key in groups of four, for typing it from one screen into another.

    Examples
    --------
    >>> grouped("abcdefghij")
    'abcd efgh ij'
    """
    return " ".join(key[start : start + 4] for start in range(0, len(key), 4))


def _phones(request: Request) -> str:
    return settings_of(request).phone_address or str(request.base_url).rstrip("/")


def _is_this_computer(name: str) -> bool:
    """Say whether a name leads to the computer that uses it.

    Examples
    --------
    >>> [_is_this_computer(each) for each in ("localhost", "127.0.0.1", "::1", "192.0.2.7", "x")]
    [True, True, True, False, False]
    """
    try:
        return name == "localhost" or ipaddress.ip_address(name).is_loopback
    except ValueError:
        return False
