"""Who may see what: the host by a secret, a seat by its key."""

import hmac

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from twobowls.store import Store
from twobowls.tasting.tasting import Seat, Tasting
from twobowls.web.doors.host_sessions import LASTS_S, HostSessions
from twobowls.web.settings import WebSettings

COOKIE = "twobowls_host"


def settings_of(request: Request) -> WebSettings:
    """Return the settings of this server."""
    settings: WebSettings = request.app.state.settings
    return settings


def store_of(request: Request) -> Store:
    """Return the store of this server."""
    store: Store = request.app.state.store
    return store


def now_ms(request: Request) -> int:
    """Return the host's time."""
    return settings_of(request).now_ms()


def is_host_key(request: Request, key: str) -> bool:
    """Compare a key with the host's, in a time that tells nothing."""
    return hmac.compare_digest(key.encode(), settings_of(request).host_key.encode())


def is_host(request: Request) -> bool:
    """Say whether this request comes from the host's browser."""
    return sessions_of(request).is_live(request.cookies.get(COOKIE, ""), now_ms(request))


def sessions_of(request: Request) -> HostSessions:
    """Return the sessions of the host's browsers."""
    sessions: HostSessions = request.app.state.sessions
    return sessions


def require_host(request: Request) -> None:
    """Let only the host pass.

    Raises
    ------
    HTTPException
        403, shown as a page that says how the host signs in.
    """
    if not is_host(request):
        raise HTTPException(403, "This page is for the host.")


def seat_of(request: Request) -> tuple[Tasting, Seat]:
    """Return the tasting and the seat that the key in the path opens.

    Raises
    ------
    NotFoundError
        No seat has this key.
    """
    return store_of(request).seat_by_key(request.path_params["key"])


def tasting_of(request: Request) -> Tasting:
    """Return the tasting in the path.

    Raises
    ------
    NotFoundError
        There is no such tasting.
    """
    return store_of(request).tasting(request.path_params["id"])


def caller(request: Request) -> str:
    """Return the address that guesses are counted by."""
    return request.client.host if request.client else "unknown"


def keep_host_cookie(request: Request, response: Response) -> None:
    """Let this browser be the host's from now on."""
    response.set_cookie(
        COOKIE,
        sessions_of(request).begin(now_ms(request)),
        max_age=LASTS_S,
        httponly=True,
        samesite="strict",
        secure=settings_of(request).secure,
    )


def drop_host_cookie(request: Request, response: Response) -> None:
    """Let this browser be the host's no more, nor any that has a copy of its cookie."""
    sessions_of(request).end(request.cookies.get(COOKIE, ""), now_ms(request))
    response.delete_cookie(
        COOKIE, httponly=True, samesite="strict", secure=settings_of(request).secure
    )
