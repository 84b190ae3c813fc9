"""Which seats a browser has taken: kept in a cookie, so that the way back to a seat is never lost.

The cookie holds the keys of seats, newest first, and nothing else. They are as secret as the seats'
addresses, which the same browser has in its history.
"""

import re
from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from twobowls.errors import NotFoundError
from twobowls.store.join_codes import clean_join_code
from twobowls.web.access import settings_of, store_of

COOKIE = "twobowls_seats"
LASTS_S = 30 * 86_400
MOST_SEATS = 4
_KEY = re.compile(r"[A-Za-z0-9_-]{8,60}")


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldSeat:
    """One seat that this browser has taken, as the join page shows it."""

    key: str
    nickname: str
    number: int
    tasting: str
    empty: bool


def held_keys(request: Request) -> tuple[str, ...]:
    """Return the keys of the seats that a browser has taken, newest first."""
    found = request.cookies.get(COOKIE, "").split(".")
    return tuple(each for each in found if _KEY.fullmatch(each))[:MOST_SEATS]


def held_seats(request: Request, code: str) -> list[HeldSeat]:
    """Return the seats a browser has in a tasting; without a code, in every unrevealed one."""
    store, wanted = store_of(request), clean_join_code(code)
    seats = []
    for key in held_keys(request):
        try:
            tasting, seat = store.seat_by_key(key)
        except NotFoundError:  # given up, or of a store from before a restore
            continue
        if tasting.join_code == wanted or (not wanted and tasting.state != "revealed"):
            seats.append(
                HeldSeat(
                    key=key,
                    nickname=seat.nickname,
                    number=seat.number,
                    tasting=tasting.setup.name,
                    empty=not store.messages_of(store.place(key)),
                )
            )
    return seats


def keep_seat(request: Request, response: Response, key: str) -> None:
    """Let a browser know a seat for its own."""
    others = [each for each in held_keys(request) if each != key]
    _keep(request, response, [key, *others])


def drop_seat(request: Request, response: Response, key: str) -> None:
    """Let a browser know a seat no more."""
    _keep(request, response, [each for each in held_keys(request) if each != key])


def _keep(request: Request, response: Response, keys: list[str]) -> None:
    response.set_cookie(
        COOKIE,
        ".".join(keys[:MOST_SEATS]),
        max_age=LASTS_S if keys else 0,
        httponly=True,
        samesite="lax",  # a seat is also come to from the camera that has read its code
        secure=settings_of(request).secure,
    )
