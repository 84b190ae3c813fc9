"""Putting right what went wrong at the table: coffees, bowls, readings, seats, the name."""

from dataclasses import dataclass

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from twobowls.debrief.tables import coffee_names
from twobowls.errors import ConflictError, InputError, StateError
from twobowls.store import Store
from twobowls.store.corrections import (
    BroughtBack,
    CoffeesCorrected,
    Correction,
    Renamed,
    SeatMerged,
    SeatRemoved,
    SeatRestored,
    SetAside,
    Unprobed,
)
from twobowls.tasting.tasting import Seat, Tasting
from twobowls.web.access import now_ms, require_host, store_of, tasting_of
from twobowls.web.forms import Form, read_form, sentence
from twobowls.web.templates import render
from twobowls.web.wording import clock_time, plain_number

TOLD = {
    "coffee": "The coffee of the bowl is corrected. Debriefs are made anew.",
    "set-aside": "The bowl is set aside. What was marked on it is kept and does not count.",
    "bring-back": "The bowl counts again, with everything that was marked on it.",
    "unprobe": "The reading is removed, and all clocks follow.",
    "rename": "The tasting has its new name.",
    "rename-seat": "The seat has its new name.",
    "remove-seat": "The seat does not count any more. Its records are kept.",
    "merge-seat": "The records of both count as one seat's.",
    "restore-seat": "The seat counts for itself again.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class BowlLine:
    """One bowl: what stands in it as far as the plan knows, and whether it counts."""

    code: str
    coffee: str
    set_aside: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SeatLine:
    """One seat; ``why_not`` says why it does not count, and is empty when it does."""

    id: str
    number: int
    nickname: str
    why_not: str


def corrections_page(request: Request) -> Response:
    """Show what can be put right."""
    require_host(request)
    told = TOLD.get(request.query_params.get("told", ""), "")
    return _page(request, tasting_of(request), told=told)


def _page(
    request: Request, tasting: Tasting, *, told: str = "", error: str = "", status: int = 200
) -> Response:
    shelf = {each.id: each for each in store_of(request).coffees(include_archived=True)}
    names = coffee_names(tasting.setup.coffee_ids, shelf)
    seats = [_seat_line(tasting, seat) for seat in tasting.seats]
    return render(
        request,
        "corrections.html",
        status=status,
        tasting={"id": tasting.id, "name": tasting.setup.name},
        told=told,
        error=error,
        secret=tasting.setup.host_tastes and tasting.state != "revealed",
        coffees=[{"id": key, "name": name} for key, name in names.items()],
        bowls=[
            BowlLine(
                code=bowl.code,
                coffee=bowl.coffee_id or "",
                set_aside=bowl.code in tasting.set_aside,
            )
            for bowl in sorted(tasting.plan.bowls, key=lambda bowl: (bowl.flight, bowl.code))
        ],
        readings=[
            {
                "bowl": probe.bowl,
                "at_ms": probe.at_ms,
                "text": f"{probe.bowl} at {clock_time(probe.at_ms)}: "
                f"{plain_number(probe.temperature_c)} °C",
            }
            for probe in tasting.probes
        ],
        seats=seats,
        counting=[each for each in seats if not each.why_not],
    )


def _seat_line(tasting: Tasting, seat: Seat) -> SeatLine:
    numbers = {each.id: each.number for each in tasting.seats}
    why_not = ""
    if seat.id in tasting.removed:
        why_not = "It was removed and does not count."
    elif seat.id in tasting.merged:
        why_not = f"It counts as seat {numbers[tasting.merged[seat.id]]}."
    return SeatLine(id=seat.id, number=seat.number, nickname=seat.nickname, why_not=why_not)


async def correct(request: Request) -> Response:
    """Put one thing right."""
    require_host(request)
    form = await read_form(request)
    tasting_id, what = request.path_params["id"], form.text("what")
    try:
        await run_in_threadpool(
            _correct, store_of(request), tasting_id, what, form, now_ms(request)
        )
    except (InputError, StateError, ConflictError) as error:
        tasting = await run_in_threadpool(tasting_of, request)
        told, status = str(error), 409
        if isinstance(error, InputError):
            told, status = sentence(error), 400
        return await run_in_threadpool(_refused, request, tasting, told, status)
    return RedirectResponse(f"/tastings/{tasting_id}/corrections?told={what}", 303)


def _refused(request: Request, tasting: Tasting, told: str, status: int) -> Response:
    return _page(request, tasting, error=told, status=status)


def _correct(store: Store, tasting_id: str, what: str, form: Form, at_ms: int) -> None:
    if what == "rename-seat":
        store.rename_seat(tasting_id, form.text("seat"), form.text("nickname"), at_ms)
    else:
        store.correct(tasting_id, _correction(what, form, at_ms))


def _correction(what: str, form: Form, at_ms: int) -> Correction:
    bowl, seat = form.text("bowl"), form.text("seat")
    match what:
        case "coffee":
            return CoffeesCorrected(mapping={bowl: form.text("coffee")}, at_ms=at_ms)
        case "set-aside":
            return SetAside(bowl=bowl, at_ms=at_ms)
        case "bring-back":
            return BroughtBack(bowl=bowl, at_ms=at_ms)
        case "unprobe":
            return Unprobed(bowl=bowl, read_ms=_instant(form), at_ms=at_ms)
        case "rename":
            return Renamed(name=form.text("name"), at_ms=at_ms)
        case "remove-seat":
            return SeatRemoved(seat=seat, at_ms=at_ms)
        case "merge-seat":
            return SeatMerged(seat=seat, into=form.text("into"), at_ms=at_ms)
        case "restore-seat":
            return SeatRestored(seat=seat, at_ms=at_ms)
    raise InputError("what", f"{what!r} cannot be put right here", "Use a button of this page")


def _instant(form: Form) -> int:
    typed = form.text("read_ms")
    return int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 18 else -1


routes = [
    Route("/tastings/{id}/corrections", corrections_page, methods=["GET"]),
    Route("/tastings/{id}/corrections", correct, methods=["POST"]),
]
