"""The debrief: the host's page and its files, and each seat's private page."""

import re

import msgspec
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from twobowls.debrief import pick_counts, tables
from twobowls.debrief.pick_counts import pick_rows
from twobowls.debrief.tables import mark_rows
from twobowls.debrief.tasting_debrief import TastingDebrief
from twobowls.errors import StateError
from twobowls.interchange.debrief_json import debrief_dict
from twobowls.interchange.marks_csv import marks_csv
from twobowls.interchange.picks_csv import picks_csv
from twobowls.tasting.tasting import Tasting
from twobowls.web.access import is_host, now_ms, require_host, seat_of, store_of, tasting_of
from twobowls.web.debrief_cache import Debriefs
from twobowls.web.debrief_file import kept_page
from twobowls.web.debrief_view import tasting_view
from twobowls.web.held_seats import held_keys
from twobowls.web.templates import NO_STORE, render

_SHOWN = ("closed", "revealed")
_A_GUESTS_OWN = (
    "This is a guest’s own debrief, and you are signed in as the host in this browser. It opens "
    "on the phone or in the browser where the guest sits."
)
_NOT_YET = "The debrief is there once the tasting has closed."


def debriefs_of(request: Request) -> Debriefs:
    """Return the debriefs of this server's store."""
    state = request.app.state
    if not hasattr(state, "debriefs"):  # one loop, and nothing to wait for in between
        state.debriefs = Debriefs(store_of(request))
    kept: Debriefs = state.debriefs
    return kept


async def host_page(request: Request) -> Response:
    """Show the debrief of a tasting, large enough for a projector."""
    require_host(request)
    debriefs = debriefs_of(request)
    tasting = await debriefs.write(lambda: tasting_of(request))
    root = f"/tastings/{tasting.id}"
    if tasting.state not in _SHOWN:
        return _wait(request, tasting, f"{root}/bench", "To the bench")
    shown, names = await debriefs.view(tasting), tasting.setup.names_in_files
    return await debriefs.write(
        lambda: render(
            request,
            "debrief.html",
            view=shown.made,
            root=root,
            names=names,
            renewing=shown.renewing,
        )
    )


async def kept(request: Request) -> Response:
    """Send the debrief as one page to keep."""
    debriefs = debriefs_of(request)
    tasting = await debriefs.write(lambda: _finished(request))
    view = await debriefs.file(tasting, "view", tasting_view)
    page = await debriefs.write(lambda: kept_page(view))
    return _download(page, "text/html; charset=utf-8", tasting, "debrief.html")


async def figures(request: Request) -> Response:
    """Send all figures as JSON."""
    debriefs = debriefs_of(request)
    tasting = await debriefs.write(lambda: _finished(request))
    body = await debriefs.file(tasting, "figures", _figures)
    return Response(body, media_type="application/json", headers=NO_STORE)


def _figures(debrief: TastingDebrief) -> bytes:
    return msgspec.json.encode(debrief_dict(debrief))


async def marks(request: Request) -> Response:
    """Send every mark as tidy CSV: with seat numbers, or names where guests were told so.

    Nothing needs to be worked out for it.
    """
    debriefs = debriefs_of(request)
    tasting = await debriefs.write(lambda: _finished(request))
    named = _asks_for_names(request, tasting)

    def text() -> str:
        rows = mark_rows(debriefs.night(tasting))
        return marks_csv(rows if named else tables.without_names(rows))

    return _download(await debriefs.write(text), "text/csv; charset=utf-8", tasting, "marks.csv")


async def picks(request: Request) -> Response:
    """Send every pick as CSV; as for the marks."""
    debriefs = debriefs_of(request)
    tasting = await debriefs.write(lambda: _finished(request))
    named = _asks_for_names(request, tasting)

    def text() -> str:
        rows = pick_rows(debriefs.night(tasting))
        return picks_csv(rows if named else pick_counts.without_names(rows))

    return _download(await debriefs.write(text), "text/csv; charset=utf-8", tasting, "picks.csv")


def _asks_for_names(request: Request, tasting: Tasting) -> bool:
    """Say whether a file is to carry names.

    Raises
    ------
    StateError
        It is, and the guests of this tasting were told that none does.
    """
    if request.query_params.get("names") != "yes":
        return False
    if not tasting.setup.names_in_files:
        raise StateError(
            "The guests of this tasting were told that files carry seat numbers and no names. "
            "Leave out names=yes; a tasting is planned with or without names in its files."
        )
    return True


async def seat_page(request: Request) -> Response:
    """Show one seat how it tasted, beside the table."""
    debriefs = debriefs_of(request)
    tasting, seat = await debriefs.write(lambda: seat_of(request))
    if is_host(request) and request.path_params["key"] not in held_keys(request):
        raise HTTPException(403, _A_GUESTS_OWN)
    if tasting.state not in _SHOWN:
        back = f"/seat/{request.path_params['key']}"
        return _wait(request, tasting, back, "Back to the tasting")
    if tasting.state == "closed":  # marks of before may still be on their way; none of this seat
        store = store_of(request)
        await store.open_debrief(store.place(request.path_params["key"]), now_ms(request))
    shown = await debriefs.own(tasting, seat)
    return await debriefs.write(
        lambda: render(request, "debrief_private.html", view=shown.made, renewing=shown.renewing)
    )


def _finished(request: Request) -> Tasting:
    """Return the tasting, for the host, once it has closed.

    Raises
    ------
    StateError
        While marks are still being made.
    """
    require_host(request)
    tasting = tasting_of(request)
    if tasting.state not in _SHOWN:
        raise StateError(_NOT_YET)
    return tasting


def _wait(request: Request, tasting: Tasting, back: str, back_text: str) -> Response:
    return render(
        request,
        "debrief_wait.html",
        status=409,
        tasting=tasting.setup.name,
        message=_NOT_YET,
        back=back,
        back_text=back_text,
    )


def _download(text: str, kind: str, tasting: Tasting, end: str) -> Response:
    name = re.sub(r"[^A-Za-z0-9]+", "-", tasting.setup.name).strip("-").lower() or "tasting"
    headers = {**NO_STORE, "content-disposition": f'attachment; filename="{name}-{end}"'}
    return Response(text.encode(), media_type=kind, headers=headers)


routes: list[BaseRoute] = [
    Route("/tastings/{id}/debrief", host_page),
    Route("/tastings/{id}/debrief.html", kept),
    Route("/tastings/{id}/debrief.json", figures),
    Route("/tastings/{id}/marks.csv", marks),
    Route("/tastings/{id}/picks.csv", picks),
    Route("/seat/{key}/debrief", seat_page),
]
