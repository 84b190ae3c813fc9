"""The bench: running a tasting. Every button is a form, so that it works without a script too."""

import msgspec
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from twobowls.errors import InputError, StateError
from twobowls.store import Store
from twobowls.tasting.tasting import Tasting
from twobowls.web.access import now_ms, require_host, settings_of, store_of, tasting_of
from twobowls.web.addresses import grouped, host_seat_address, join_address, qr_answer
from twobowls.web.bench_view import ClockData, bench_page_view, clock_data
from twobowls.web.errors import wants_json
from twobowls.web.forms import Form, read_form, sentence
from twobowls.web.live import EventStream, Live
from twobowls.web.news import News
from twobowls.web.progress import Progress
from twobowls.web.second_looks import question_of_reading, question_of_round
from twobowls.web.templates import render

LONGEST_QUESTION_MS = 600_000


def bench(request: Request) -> Response:
    """Show the bench."""
    require_host(request)
    return _bench(request, tasting_of(request))


def _bench(request: Request, tasting: Tasting, error: str = "", status: int = 200) -> Response:
    progress: Progress = request.app.state.progress
    phones = settings_of(request).phone_address
    return render(
        request,
        "bench.html",
        status=status,
        bench=bench_page_view(tasting, progress.counts(tasting)),
        join=join_address(request, tasting),
        reachable=phones is not None,
        error=error,
    )


def join_code_image(request: Request) -> Response:
    """Give the QR code by which guests join."""
    require_host(request)
    return qr_answer(join_address(request, tasting_of(request)))


def hand_over(request: Request) -> Response:
    """Show how a seat goes on on another phone."""
    require_host(request)
    tasting, seat_id = tasting_of(request), request.path_params["seat"]
    key = _seat_key(request, tasting, seat_id)
    return render(
        request,
        "hand_over.html",
        seat=next(seat for seat in tasting.seats if seat.id == seat_id),
        address=host_seat_address(request, key),
        key=grouped(key),
        reachable=settings_of(request).phone_address is not None,
        tasting_id=tasting.id,
    )


def hand_over_image(request: Request) -> Response:
    """Give the QR code of a seat."""
    require_host(request)
    key = _seat_key(request, tasting_of(request), request.path_params["seat"])
    return qr_answer(host_seat_address(request, key))


def _seat_key(request: Request, tasting: Tasting, seat_id: str) -> str:
    key = store_of(request).seat_keys(tasting.id).get(seat_id)
    if key is None:
        raise InputError("seat", "there is no such seat here", "Go back to the bench")
    return key


def clock_json(request: Request) -> Response:
    """Give what the page's clocks need; it changes with each thermometer reading."""
    require_host(request)
    data: ClockData = clock_data(tasting_of(request))
    headers = {"cache-control": "no-store"}
    return Response(msgspec.json.encode(data), headers=headers, media_type="application/json")


async def stream(request: Request) -> EventStream:
    """Stream the bench."""
    require_host(request)
    tasting = await run_in_threadpool(tasting_of, request)
    live: Live = request.app.state.live
    news: News = request.app.state.news
    progress: Progress = request.app.state.progress
    await run_in_threadpool(progress.counts, tasting)  # the first time it reads the whole log
    return EventStream(live.messages(f"bench/{tasting.id}", lambda: news.bench_message(tasting.id)))


async def act(request: Request) -> Response:
    """Do what a button of the bench says."""
    require_host(request)
    form = await read_form(request)
    store, at_ms = store_of(request), now_ms(request)
    tasting_id, action = request.path_params["id"], request.url.path.rpartition("/")[2]
    try:
        asked = await run_in_threadpool(_question, request, action, form, at_ms)
        if asked:
            return asked
        await run_in_threadpool(_act, store, tasting_id, action, form, at_ms)
    except (InputError, StateError) as error:
        if wants_json(request):
            raise
        tasting = await run_in_threadpool(tasting_of, request)
        if isinstance(error, StateError):  # a button pressed twice: how things stand says the most
            return _bench(request, tasting, str(error), 409)
        return _bench(request, tasting, sentence(error), 400)
    if wants_json(request):
        return Response(status_code=204)
    return RedirectResponse(f"/tastings/{tasting_id}/bench", 303)


def _question(request: Request, action: str, form: Form, at_ms: int) -> Response | None:
    """Ask before what is probably a slip; a live page is told to show the question."""
    if form.ticked("sure") or action not in ("round", "probe"):
        return None
    tasting, bowl = tasting_of(request), form.text("bowl")
    if tasting.state != "open":
        return None
    if action == "round":
        question = question_of_round(tasting, form.text("round"), at_ms)
        fields = {"round": form.text("round")}
    else:
        question = question_of_reading(tasting, bowl, _reading(form), at_ms)
        fields = {"bowl": bowl, "temperature": form.text("temperature"), "read_ms": str(at_ms)}
    if not question:
        return None
    if wants_json(request):
        raise InputError("sure", question.rstrip("?."), "Send `sure` too if it is meant so")
    return render(
        request,
        "sure.html",
        status=409,
        tasting=tasting.setup.name,
        question=question,
        action=request.url.path,
        fields={**fields, "sure": "1"},
        yes="Yes, call it now" if action == "round" else "Yes, that is the reading",
        back=f"/tastings/{tasting.id}/bench",
    )


def _read_at(form: Form, now_ms: int) -> int:
    """Return when the thermometer was read: before the question, where one was asked."""
    typed = form.text("read_ms")
    read_ms = int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 18 else now_ms
    return read_ms if now_ms - LONGEST_QUESTION_MS <= read_ms <= now_ms else now_ms


def _act(store: Store, tasting_id: str, action: str, form: Form, at_ms: int) -> None:
    match action:
        case "open":
            store.open(tasting_id, at_ms)
        case "pour":
            store.pour(tasting_id, form.text("bowl"), at_ms - round(_ago_s(form) * 1000))
        case "unpour":
            store.unpour(tasting_id, form.text("bowl"), at_ms)
        case "round":
            store.call_round(tasting_id, form.text("round"), at_ms)
        case "probe":
            store.probe(tasting_id, form.text("bowl"), _reading(form), _read_at(form, at_ms))
        case "close":
            store.close(tasting_id, at_ms)
        case "reopen":
            store.reopen(tasting_id, at_ms)
        case "close-door":
            store.close_door(tasting_id, at_ms)
        case "open-door":
            store.open_door(tasting_id, at_ms)


def _ago_s(form: Form) -> float:
    """Return how long ago a bowl was poured, for a clock that is set right afterwards."""
    if not form.text("ago"):
        return 0.0
    whole, _, rest = form.text("ago").replace(".", ":").partition(":")
    if not (whole.isdigit() and (rest.isdigit() or not rest) and len(whole) < 4 and len(rest) < 3):
        raise InputError(
            "ago", f"{form.text('ago')!r} is no time", "Write minutes and seconds, such as 2:30"
        )
    return int(whole) * 60 + (int(rest) if rest else 0)


def _reading(form: Form) -> float:
    typed = form.text("temperature")
    try:
        return float(typed.replace(",", "."))
    except ValueError:
        raise InputError(
            "temperature", f"{typed!r} is not a number", "Give degrees Celsius, such as 58.5"
        ) from None


ACTIONS = (
    *("open", "pour", "unpour", "round", "probe", "close", "reopen"),
    *("close-door", "open-door"),
)
routes = [
    Route("/tastings/{id}/bench", bench),
    Route("/tastings/{id}/join.svg", join_code_image),
    Route("/tastings/{id}/clock.json", clock_json),
    Route("/tastings/{id}/stream", stream),
    Route("/tastings/{id}/seats/{seat}", hand_over),
    Route("/tastings/{id}/seats/{seat}/code.svg", hand_over_image),
    *[
        Route(f"/tastings/{{id}}/{action}", act, methods=["POST"], name=f"bench-{action}")
        for action in ACTIONS
    ],
]
