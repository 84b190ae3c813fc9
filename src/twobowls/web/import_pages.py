"""Importing a list of coffees: look at it first, then add what is right.

The list travels in the page itself, so that nothing is kept half-done on the server and a
reload, a restart or a wrong choice loses nothing.
"""

import asyncio
from collections.abc import Callable
from typing import ParamSpec, TypeVar

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from twobowls.counting import count_of
from twobowls.errors import InputError
from twobowls.interchange.shelf_csv import (
    FIELDS,
    MOST_BYTES,
    PreviewRow,
    Sheet,
    guess_columns,
    preview,
    read_sheet,
)
from twobowls.tasting.coffees import Coffee
from twobowls.web.access import require_host, store_of
from twobowls.web.forms import Form, check_charset, read_form
from twobowls.web.templates import render
from twobowls.web.wording import plain_number

P = ParamSpec("P")
T = TypeVar("T")

LABELS = {
    "name": "Name",
    "roaster": "Roaster",
    "origin": "Origin",
    "process": "Process",
    "roast_level": "Roast level",
    "roast_date": "Roasted on",
    "price_per_100g": "Price per 100 g",
    "seller_words": "What the seller says",
    "notes": "Your notes",
}


def import_page(request: Request) -> Response:
    """Ask for a list."""
    require_host(request)
    return render(request, "import.html", text="", errors={})


async def upload(request: Request) -> Response:
    """Take a list and show what it would become."""
    require_host(request)
    check_charset(request)
    async with request.form(max_part_size=MOST_BYTES * 2) as data:
        form = Form(data)
        file, text = form.file("file"), form.text("text")
        source = await file.read(MOST_BYTES + 1) if file else text.encode()
    try:
        sheet = await _apart(request, read_sheet, source)
    except InputError as error:
        form.refuse("file" if file or not text else "text", str(error))
        return render(request, "import.html", status=400, text=text, errors=form.errors)
    return await _preview(request, form, sheet, guess_columns(sheet.columns))


async def look_again(request: Request) -> Response:
    """Show the list with other columns, or add what is right in it."""
    require_host(request)
    form = await read_form(request, MOST_BYTES * 2)
    text = form.text("text")
    try:
        sheet = await _apart(request, read_sheet, text.encode())
    except InputError as error:
        errors = {"text": str(error)}
        return render(request, "import.html", status=400, text=text, errors=errors)
    columns = {field: form.text(f"column_{field}") for field in FIELDS}
    chosen = {field: column for field, column in columns.items() if column}
    if not form.text("confirm"):
        return await _preview(request, form, sheet, chosen)
    return await _add(request, form, sheet, chosen)


async def _apart(request: Request, work: Callable[P, T], *given: P.args, **named: P.kwargs) -> T:
    """Work on a list beside the event loop, one list at a time: phones are served meanwhile."""
    reading: asyncio.Semaphore = request.app.state.reading
    async with reading:
        return await run_in_threadpool(work, *given, **named)


async def _add(request: Request, form: Form, sheet: Sheet, columns: dict[str, str]) -> Response:
    store = store_of(request)
    shelf = await run_in_threadpool(store.coffees, True)
    try:
        rows = await _apart(request, preview, sheet, columns, shelf)
    except InputError:
        return await _preview(request, form, sheet, columns)
    wanted = [row.coffee for row in rows if _is_taken(row, form.ticked("same"))]
    if not wanted:
        return await _preview(request, form, sheet, columns)
    await run_in_threadpool(store.add_coffees, wanted)
    return RedirectResponse(f"/shelf?told=added-{len(wanted)}", 303)


def _is_taken(row: PreviewRow, add_same: bool) -> bool:
    return not row.problems and (add_same or not row.same_as)


async def _preview(request: Request, form: Form, sheet: Sheet, columns: dict[str, str]) -> Response:
    return await _apart(request, _show, request, form, sheet, columns)


def _show(request: Request, form: Form, sheet: Sheet, columns: dict[str, str]) -> Response:
    shelf = store_of(request).coffees(True)
    rows: tuple[PreviewRow, ...] = ()
    try:
        rows = preview(sheet, columns, shelf)
    except InputError as error:
        form.refuse_error(error)
    add_same = form.ticked("same")
    taken = sum(_is_taken(row, add_same) for row in rows)
    same = sum(row.same_as and not row.problems for row in rows)
    spoilt = sum(bool(row.problems) for row in rows)
    shown = [field for field in FIELDS if field in columns]
    return render(
        request,
        "import_preview.html",
        status=400 if form.errors else 200,
        text=sheet.text,
        errors=form.errors,
        columns=sheet.columns,
        fields=[
            {"key": field, "label": LABELS[field], "column": columns.get(field, "")}
            for field in FIELDS
        ],
        shown=[{"label": LABELS[field]} for field in shown],
        rows=[_shown(row, shown, add_same) for row in rows],
        summary=_summary(taken, same if not add_same else 0, spoilt),
        can_add=taken > 0 or same > 0,
        add_text=f"Add {count_of(taken, 'coffee')}" if taken else "Add",
        same=same,
        same_text=f"also add the {same} that the shelf has already",
        add_same=add_same,
    )


def _summary(taken: int, same: int, spoilt: int) -> str:
    parts = [f"{count_of(taken, 'coffee')} can be added"]
    if same:
        parts.append(f"{same} on the shelf already")
    if spoilt:
        parts.append(f"{count_of(spoilt, 'row')} left out because of an error")
    return ", ".join(parts)


def _shown(row: PreviewRow, fields: list[str], add_same: bool) -> dict[str, object]:
    same = row.same_as and not add_same
    return {
        "line": row.line,
        "kind": "spoilt" if row.problems else "same" if same else "taken",
        "outcome": "left out: on the shelf already" if same else "will be added",
        "problems": [
            f"{LABELS.get(p.field, p.field)}: {p.problem}. {p.cure}." for p in row.problems
        ],
        "cells": [_cell(row.coffee, field) for field in fields],
    }


def _cell(coffee: Coffee, field: str) -> str:
    value = getattr(coffee, field)
    return "" if value is None else plain_number(value) if isinstance(value, float) else str(value)


routes = [
    Route("/shelf/import", import_page, methods=["GET"]),
    Route("/shelf/import", upload, methods=["POST"]),
    Route("/shelf/import/preview", look_again, methods=["POST"]),
]
