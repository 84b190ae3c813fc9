"""Every refusal in one shape: a page for people, `{"error": {"field", "message"}}` for programs."""

from http import HTTPStatus

import msgspec
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Match, Route

from twobowls.errors import (
    ConflictError,
    InputError,
    NotFoundError,
    StateError,
    StoreError,
    TwobowlsError,
)
from twobowls.web.access import is_host
from twobowls.web.forms import sentence
from twobowls.web.templates import render

STATUS: dict[type[TwobowlsError], int] = {
    InputError: 400,
    NotFoundError: 404,
    StateError: 409,
    ConflictError: 409,
    StoreError: 503,
}
TITLES = {
    400: "That cannot be used",
    403: "Not for everybody",
    404: "There is nothing here",
    405: "That is not done here",
    409: "Not now",
    413: "That is too much at once",
    429: "Too many tries",
    503: "The store cannot be used",
}
PLAIN = {
    404: "There is no page at this address.",
    405: "This address does not take such a request.",
}
OUR_FAULT = (
    "Something went wrong in twobowls, not in what you did. What was saved is safe. "
    "Go back and try again; the terminal that runs twobowls shows the details."
)


def json_error(status: int, field: str, message: str) -> Response:
    """Return a refusal for a program."""
    body = msgspec.json.encode({"error": {"field": field, "message": message}})
    headers = {"cache-control": "no-store"}
    return Response(body, status, headers, "application/json")


def wants_json(request: Request) -> bool:
    """Say whether a program asked, rather than a person."""
    path = request.url.path
    return (
        path.startswith("/api/")
        or path.endswith(".json")
        or "application/json" in request.headers.get("accept", "")
    )


def refuse(request: Request, status: int, field: str, message: str) -> Response:
    """Return a refusal in the shape that was asked for."""
    if wants_json(request):
        return json_error(status, field, message)
    title = TITLES.get(status) or HTTPStatus(status).phrase
    return render(request, "error.html", status=status, title=title, message=message, code=status)


async def on_twobowls_error(request: Request, error: Exception) -> Response:
    """Answer what the domain or the store refused."""
    status = STATUS.get(type(error), 400) if isinstance(error, TwobowlsError) else 500
    if isinstance(error, InputError):
        return refuse(request, status, error.field, sentence(error))
    if isinstance(error, StoreError) and not is_host(request):
        return refuse(request, status, "", _for_guests(error))
    return refuse(request, status, "", str(error))


def _for_guests(error: StoreError) -> str:
    """Leave out where the file lies and what the host has to do.

    Examples
    --------
    >>> _for_guests(StoreError("a.sqlite3", "the disk is full, nothing was saved", "Free some"))
    'On the laptop, the disk is full, nothing was saved. Please tell the host, and try again later.'
    """
    return f"On the laptop, {error.problem}. Please tell the host, and try again later."


async def on_http_error(request: Request, error: Exception) -> Response:
    """Answer what the router or a handler refused."""
    if not isinstance(error, HTTPException):
        raise error
    plain = error.detail == HTTPStatus(error.status_code).phrase
    message = PLAIN.get(error.status_code, error.detail) if plain else error.detail
    answer = refuse(request, error.status_code, "", message)
    if error.status_code == 405:
        answer.headers["allow"] = ", ".join(sorted(_methods_here(request)))
    return answer


def _methods_here(request: Request) -> set[str]:
    """Return what can be done at this address, by whichever of the routes."""
    here = [
        route.methods or set()
        for route in request.app.routes
        if isinstance(route, Route) and route.matches(request.scope)[0] is not Match.NONE
    ]
    return set().union(*here)


async def on_leaving(_request: Request, _error: Exception) -> Response:
    """Answer a caller that left in the middle of a form: nobody hears it."""
    return Response(status_code=400)


async def on_crash(request: Request, _error: Exception) -> Response:
    """Answer what nobody foresaw."""
    return refuse(request, 500, "", OUR_FAULT)
