"""How a guest takes a seat, and the page that the seat lives on."""

import asyncio
import secrets
from collections.abc import Iterator
from contextlib import contextmanager

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from twobowls.counting import count_of
from twobowls.errors import ConflictError, InputError, NotFoundError, StateError
from twobowls.store.events import DOOR_CLOSED
from twobowls.web.access import caller, is_host, now_ms, seat_of, store_of
from twobowls.web.addresses import own_seat_address, qr_answer
from twobowls.web.answers_kept import KeptAnswers, asked_by_person, led_to
from twobowls.web.forms import read_form, sentence
from twobowls.web.held_seats import drop_seat, held_seats, keep_seat
from twobowls.web.limits import Limits, TooSoonError
from twobowls.web.live import Live
from twobowls.web.news import seat_topic
from twobowls.web.packing import packed
from twobowls.web.templates import render
from twobowls.web.tickets import Tickets

# A phone that is asked to show the page again while the laptop is away shows the one it has.
KEEP_SEAT = {"cache-control": "private, max-age=14400"}


def join_page(request: Request) -> Response:
    """Ask for the code and a nickname; with a code in the address, for the nickname only."""
    refused = kept_answers_of(request).get(request.query_params.get("again", ""))
    return refused or _form(request, code=request.query_params.get("code", ""))


def _form(
    request: Request,
    code: str = "",
    nickname: str = "",
    status: int = 200,
    errors: dict[str, str] | None = None,
) -> Response:
    return render(
        request,
        "join.html",
        status=status,
        code=code,
        nickname=nickname,
        errors=errors or {},
        ticket=secrets.token_urlsafe(12),
        held=held_seats(request, code),
        is_host=False,
    )


async def take_seat(request: Request) -> Response:
    """Answer a sent form so that a browser knows its seat, and never asks to send it again."""
    answer = await join(request)
    if answer.status_code == 303:
        keep_seat(request, answer, answer.headers["location"].rpartition("/")[2])
    elif asked_by_person(request):
        return led_to(kept_answers_of(request), "/join", answer)
    return answer


async def leave(request: Request) -> Response:
    """Give up a seat on which nothing was recorded, such as one that was taken by mistake."""
    form = await read_form(request)
    key = form.text("seat_key")[:200]
    return await run_in_threadpool(_leave, request, key)


def _leave(request: Request, key: str) -> Response:
    store = store_of(request)
    tasting, seat = store.seat_by_key(key)
    live: Live = request.app.state.live
    if live.has_listeners(seat_topic(tasting.id, seat.id)):
        raise StateError(
            f"The page of {seat.nickname} is open on some device. Close it there, then try again."
        )
    store.leave(key, now_ms(request))
    answer = RedirectResponse(f"/join?code={tasting.join_code}", 303)
    drop_seat(request, answer, key)
    return answer


def kept_answers_of(request: Request) -> KeptAnswers:
    """Return the refused forms of this server."""
    kept: KeptAnswers = request.app.state.kept_answers
    return kept


async def join(request: Request) -> Response:
    """Give out the next free seat."""
    form = await read_form(request)
    code, nickname, ticket = (form.text(name)[:200] for name in ("code", "nickname", "ticket"))
    seat_key = "".join(form.text("seat_key")[:200].split())
    if seat_key:
        return await run_in_threadpool(_go_on, request, seat_key)
    codes = limits_of(request).codes
    held = codes.take(caller(request), now_ms(request)) > 0
    if held:  # before the code is looked at, so that hanging up early saves a guesser nothing
        await asyncio.sleep(limits_of(request).hold_s)
    try:
        return await _sit_down(request, code, nickname, ticket)
    except NotFoundError as error:
        held = True  # a wrong code stays counted
        return _form(request, code, nickname, 404, {"code": str(error)})
    finally:
        if not held:
            codes.give_back(caller(request), now_ms(request))


async def _sit_down(request: Request, code: str, nickname: str, ticket: str) -> Response:
    try:
        key = await run_in_threadpool(_join, request, code, nickname, ticket)
    except TooSoonError as error:
        wait = count_of(error.wait_s, "second")
        message = (
            f"Many seats were taken from your network address just now. Wait {wait}, then press "
            "“Sit down” again."
        )
        return _form(request, code, nickname, 429, {"nickname": message})
    except InputError as error:
        return _form(request, code, nickname, 400, {"nickname": sentence(error)})
    except (ConflictError, StateError) as error:
        return _form(request, code, nickname, 409, {"nickname": str(error)})
    return RedirectResponse(f"/seat/{key}", 303)


def _go_on(request: Request, key: str) -> Response:
    """Send a phone to the seat whose key was typed in."""
    try:
        store_of(request).seat_by_key(key)
    except NotFoundError:
        message = "No seat has this key. Capitals and small letters count; look again."
        return _form(request, status=404, errors={"seat_key": message})
    return RedirectResponse(f"/seat/{key}", 303)


def _join(request: Request, code: str, nickname: str, ticket: str) -> str:
    """Take the next free seat, once for each form; return its key."""
    store, tickets = store_of(request), tickets_of(request)

    def sit_down() -> str:
        tasting = store.tasting_by_join_code(code)
        if not tasting.door_open:
            raise HTTPException(409, DOOR_CLOSED)
        with taking_a_seat(request):
            _seat, key = store.join(tasting.id, nickname, now_ms(request))
        return key

    return tickets.once((ticket, code, nickname), sit_down) if ticket else sit_down()


@contextmanager
def taking_a_seat(request: Request) -> Iterator[None]:
    """Count a seat that its address takes, unless it is refused; or say that it comes too soon.

    Raises
    ------
    TooSoonError
        This address has taken many seats of late.
    """
    seats = limits_of(request).seats
    wait_s = seats.take(caller(request), now_ms(request))
    if wait_s:
        raise TooSoonError(wait_s)
    try:
        yield
    except BaseException:
        seats.give_back(caller(request), now_ms(request))
        raise


def limits_of(request: Request) -> Limits:
    """Return what this server allows its callers."""
    limits: Limits = request.app.state.limits
    return limits


def tickets_of(request: Request) -> Tickets:
    """Return what the forms of this server have led to."""
    tickets: Tickets = request.app.state.tickets
    return tickets


def seat_code(request: Request) -> Response:
    """Give a seat's own address as a QR code, for its next phone."""
    seat_of(request)
    return qr_answer(own_seat_address(request, request.path_params["key"]))


def seat_page(request: Request) -> Response:
    """Show the page that a seat lives on; everything in it comes by the API."""
    tasting, seat = seat_of(request)
    page = render(
        request,
        "seat.html",
        headers=KEEP_SEAT,
        key=request.path_params["key"],
        address=own_seat_address(request, request.path_params["key"]),
        tasting_name=tasting.setup.name,
        nickname=seat.nickname,
        number=seat.number,
        is_host=False,
    )
    key = request.path_params["key"]
    if not is_host(request):  # a host who looks at a guest's seat has not taken it
        keep_seat(request, page, key)
    return packed(request.headers, page)


routes = [
    Route("/join", join_page, methods=["GET"]),
    Route("/join", take_seat, methods=["POST"]),
    Route("/join/leave", leave, methods=["POST"]),
    Route("/seat/{key}", seat_page),
    Route("/seat/{key}/code.svg", seat_code),
]
