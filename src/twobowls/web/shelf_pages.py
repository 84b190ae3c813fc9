"""The shelf: list, add, edit, archive, save as CSV."""

from dataclasses import fields

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from twobowls.counting import count_of
from twobowls.errors import InputError
from twobowls.interchange.shelf_csv import parse_price, write_shelf
from twobowls.tasting.coffees import (
    LONGEST_NAME,
    LONGEST_TEXT,
    Coffee,
    coffee_problems,
)
from twobowls.web.access import require_host, store_of
from twobowls.web.forms import Form, read_form
from twobowls.web.templates import render
from twobowls.web.wording import plain_number

TEXTS = (
    "name",
    "roaster",
    "origin",
    "process",
    "roast_level",
    "roast_date",
    "seller_words",
    "notes",
)
TOLD = {
    "added": "It is on the shelf.",
    "saved": "Saved.",
    "archived": "Archived. Past tastings keep it, and it can be put back below.",
    "restored": "It is back on the shelf.",
}
ANOTHER_WAY = ", another way"
RECIPE = "Grind:\nWater:\nDose:\nTemperature:"


def shelf(request: Request) -> Response:
    """List the coffees."""
    require_host(request)
    coffees = store_of(request).coffees(include_archived=True)
    archived = [_listed(each) for each in coffees if each.archived]
    return render(
        request,
        "shelf.html",
        coffees=[_listed(each) for each in coffees if not each.archived],
        archived=archived,
        archived_text=f"{count_of(len(archived), 'coffee')} archived",
        told=_told(request.query_params.get("told", "")),
    )


def _told(key: str) -> str:
    if key.startswith("added-") and key[6:].isdigit():
        return f"{count_of(int(key[6:]), 'coffee')} added to the shelf."
    return TOLD.get(key, "")


def _listed(coffee: Coffee) -> dict[str, str]:
    return {
        "id": coffee.id,
        "name": coffee.name,
        "roaster": coffee.roaster,
        "origin": coffee.origin,
        "process": coffee.process,
        "roast": coffee.roast_level,
        "roasted": coffee.roast_date,
        "price": "" if coffee.price_per_100g is None else f"{coffee.price_per_100g:.2f}",
        "seller_words": coffee.seller_words,
    }


def new_coffee_page(request: Request) -> Response:
    """Show an empty form, or that of a coffee made another way."""
    require_host(request)
    like = request.query_params.get("like")
    if like:
        return _form(request, "", another_way(_values(store_of(request).coffee(like))))
    return _form(request, "", dict.fromkeys((*TEXTS, "price_per_100g"), ""))


def coffee_page(request: Request) -> Response:
    """Show a coffee's form."""
    require_host(request)
    coffee = store_of(request).coffee(request.path_params["id"])
    return _form(request, coffee.id, _values(coffee))


def _values(coffee: Coffee) -> dict[str, str]:
    values = {each.name: getattr(coffee, each.name) for each in fields(coffee)}
    price = coffee.price_per_100g
    values["price_per_100g"] = "" if price is None else plain_number(price)
    return values


def another_way(values: dict[str, str]) -> dict[str, str]:
    """Return the form of the same coffee by a second recipe, to be filled in below its notes."""
    name = values["name"][: LONGEST_NAME - len(ANOTHER_WAY)].rstrip() + ANOTHER_WAY
    notes = "\n".join(filter(None, [values["notes"], RECIPE]))
    return {**values, "name": name, "notes": notes if len(notes) <= LONGEST_TEXT else RECIPE}


def _form(
    request: Request,
    coffee_id: str,
    values: dict[str, str],
    errors: dict[str, str] | None = None,
) -> Response:
    return render(
        request,
        "coffee.html",
        status=400 if errors else 200,
        title=values["name"] if coffee_id and not errors else "A coffee for the shelf",
        action=f"/shelf/{coffee_id}" if coffee_id else "/shelf/new",
        is_new=not coffee_id,
        values=values,
        errors=errors or {},
    )


async def add_coffee(request: Request) -> Response:
    """Put a coffee on the shelf."""
    require_host(request)
    form = await read_form(request)
    coffee = _read(form, "")
    if form.errors:
        return _form(request, "", _typed(form), form.errors)
    await run_in_threadpool(store_of(request).add_coffee, coffee)
    return RedirectResponse("/shelf/new" if form.text("again") else "/shelf?told=added", 303)


async def change_coffee(request: Request) -> Response:
    """Save what was changed."""
    require_host(request)
    form = await read_form(request)
    store = store_of(request)
    before = await run_in_threadpool(store.coffee, request.path_params["id"])
    coffee = _read(form, before.id, before.archived)
    if form.errors:
        return _form(request, before.id, _typed(form), form.errors)
    await run_in_threadpool(store.change_coffee, coffee)
    return RedirectResponse("/shelf?told=saved", 303)


def _typed(form: Form) -> dict[str, str]:
    return {name: form.text(name) for name in (*TEXTS, "price_per_100g")}


def _read(form: Form, coffee_id: str, archived: bool = False) -> Coffee:
    price = None
    try:
        price = parse_price(form.text("price_per_100g"))
    except InputError as error:
        form.refuse_error(error)
    texts = {name: form.text(name) for name in TEXTS}
    coffee = Coffee(id=coffee_id, price_per_100g=price, archived=archived, **texts)
    for problem in coffee_problems(coffee):
        form.refuse_error(problem)
    return coffee


async def archive(request: Request) -> Response:
    """Take a coffee off the shelf, or put it back."""
    require_host(request)
    archived = (await read_form(request)).text("archived") != "0"
    store = store_of(request)
    await run_in_threadpool(store.archive_coffee, request.path_params["id"], archived)
    return RedirectResponse(f"/shelf?told={'archived' if archived else 'restored'}", 303)


def shelf_csv(request: Request) -> Response:
    """Give the shelf as a spreadsheet, archived coffees included."""
    require_host(request)
    text = "\ufeff" + write_shelf(store_of(request).coffees(include_archived=True))
    headers = {
        "content-disposition": 'attachment; filename="shelf.csv"',
        "cache-control": "no-store",
    }
    return Response(text.encode(), headers=headers, media_type="text/csv; charset=utf-8")


routes = [
    Route("/shelf", shelf),
    Route("/shelf.csv", shelf_csv),
    Route("/shelf/new", new_coffee_page, methods=["GET"]),
    Route("/shelf/new", add_coffee, methods=["POST"]),
]
# after the import pages, whose address would be taken for a coffee's
late_routes = [
    Route("/shelf/{id}", coffee_page, methods=["GET"]),
    Route("/shelf/{id}", change_coffee, methods=["POST"]),
    Route("/shelf/{id}/archive", archive, methods=["POST"]),
]
