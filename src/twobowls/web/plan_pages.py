"""Planning a tasting: the form, and the sheet that comes of it."""

from collections.abc import Callable

import numpy as np
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from twobowls.store import Store
from twobowls.tasting.asking import asked_in
from twobowls.tasting.coffees import Coffee
from twobowls.tasting.planning import make_plan
from twobowls.tasting.sensations import sensations_in
from twobowls.tasting.setup import ALL_ROUNDS, DEFAULT_ROUNDS, Setup
from twobowls.web.access import now_ms, require_host, settings_of, store_of, tasting_of
from twobowls.web.forms import Form, read_form
from twobowls.web.plan_form import (
    ASKING,
    NUMBERS,
    RANGES,
    WALKING,
    default_values,
    read_setup,
    typed_values,
    values_of,
)
from twobowls.web.plan_view import plan_sheet
from twobowls.web.templates import render
from twobowls.web.wording import day

ROUND_HINTS = {
    "dry": "the ground coffee, before any water",
    "wet": "when the crust is broken",
    "hot": "when most aromas rise",
    "warm": "when sweetness and acidity show",
    "cool": "when nothing hides any more",
}


def new_page(request: Request) -> Response:
    """Show the form, with the choices of an earlier tasting if one is named."""
    require_host(request)
    store = store_of(request)
    like = request.query_params.get("like")
    if like:
        setup = store.tasting(like).setup
        return _form(request, store.coffees(), values_of(setup), _ticks_of(setup))
    name = f"Tasting of {day(now_ms(request))}"
    chosen = set(request.query_params.getlist("coffee"))
    ticks = {
        "coffee": chosen,
        "asking": {"fits"},
        "walk": {"proposed"},
        "round": {each.key for each in DEFAULT_ROUNDS},
    }
    return _form(request, store.coffees(), default_values(name), ticks)


def _ticks_of(setup: Setup) -> dict[str, set[str]]:
    return {
        "coffee": set(setup.coffee_ids),
        "twice": set(setup.repeats),
        "round": {each.key for each in setup.rounds},
        "host_tastes": {"1"} if setup.host_tastes else set(),
        "asking": {"own"},
        "walk": {setup.walk},
        **{f"asked_{key}": {each.key for each in pads} for key, pads in asked_in(setup).items()},
        "names_in_files": {"1"} if setup.names_in_files else set(),
    }


async def plan(request: Request) -> Response:
    """Draw the plan and store the tasting."""
    require_host(request)
    form = await read_form(request)
    store = store_of(request)
    made = await run_in_threadpool(_plan, store, form, now_ms(request))
    if made is None:
        own = (f"asked_{each.key}" for each in ALL_ROUNDS)
        names = (
            "coffee",
            "twice",
            "round",
            "host_tastes",
            "names_in_files",
            "asking",
            "walk",
            *own,
        )
        ticks = {name: set(form.all(name)) for name in names}
        shelf = await run_in_threadpool(store.coffees)
        return _form(request, shelf, typed_values(form), ticks, form.errors)
    return RedirectResponse(f"/tastings/{made}/sheet", 303)


def _plan(store: Store, form: Form, at_ms: int) -> str | None:
    rng = np.random.default_rng()
    setup = read_setup(form, store.coffees(), rng)
    if setup is None:
        return None
    return store.add_tasting(setup, make_plan(setup, rng), at_ms).id


def _form(
    request: Request,
    shelf: tuple[Coffee, ...],
    values: dict[str, str],
    ticks: dict[str, set[str]],
    errors: dict[str, str] | None = None,
) -> Response:
    def ticked(name: str, value: str) -> bool:
        return value in ticks.get(name, ())

    shown = errors or {}
    return render(
        request,
        "plan_form.html",
        status=400 if shown else 200,
        values=values,
        errors=shown,
        coffees=[
            {
                "id": coffee.id,
                "name": coffee.name,
                "about": ", ".join(filter(None, [coffee.roaster, coffee.origin, coffee.process])),
                "chosen": ticked("coffee", coffee.id),
                "twice": ticked("twice", coffee.id),
            }
            for coffee in shelf
        ],
        rounds=[
            {
                "key": each.key,
                "name": each.name,
                "hint": ROUND_HINTS[each.key],
                "chosen": ticked("round", each.key),
                "target": f"target_{each.key}" if each.target_c is not None else "",
            }
            for each in ALL_ROUNDS
        ],
        asking=_options(ASKING, "asking", ticked),
        walking=_options(WALKING, "walk", ticked),
        own=[
            {
                "name": each.name,
                "pads": [
                    {
                        "field": f"asked_{each.key}",
                        "key": pad.key,
                        "name": pad.name,
                        "chosen": ticked(f"asked_{each.key}", pad.key),
                    }
                    for pad in sensations_in(each)
                ],
            }
            for each in ALL_ROUNDS
        ],
        own_open=ticked("asking", "own") or "asked" in shown,
        numbers=[
            {"name": name, "label": label, "hint": hint, "unit": RANGES[name].unit}
            for name, (label, hint) in NUMBERS.items()
        ],
        host_tastes=ticked("host_tastes", "1"),
        names_in_files=ticked("names_in_files", "1"),
        twice_open=bool(ticks.get("twice")),
        more_open=any(name in shown for name in (*NUMBERS, "most_per_flight"))
        or any(name.startswith("target_") for name in shown),
    )


def _options(
    choices: dict[str, tuple[str, str]], field: str, ticked: Callable[[str, str], bool]
) -> list[dict[str, object]]:
    return [
        {"value": value, "name": name, "hint": hint, "chosen": ticked(field, value)}
        for value, (name, hint) in choices.items()
    ]


def sheet(request: Request) -> Response:
    """Show the plan sheet."""
    require_host(request)
    tasting = tasting_of(request)
    names = {each.id: each.name for each in store_of(request).coffees(include_archived=True)}
    return render(
        request,
        "sheet.html",
        sheet=plan_sheet(tasting, names),
        tasting={"id": tasting.id, "name": tasting.setup.name, "state": tasting.state},
        is_reachable=settings_of(request).phone_address is not None,
    )


routes = [
    Route("/tastings/new", new_page, methods=["GET"]),
    Route("/tastings/new", plan, methods=["POST"]),
    Route("/tastings/{id}/sheet", sheet),
]
