"""The reveal, in two steps; with a form to fill in when the host has tasted too."""

import re

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from twobowls.counting import count_of
from twobowls.errors import InputError
from twobowls.store import Store
from twobowls.tasting.doses import doses
from twobowls.tasting.tasting import Tasting
from twobowls.web.access import now_ms, require_host, store_of, tasting_of
from twobowls.web.forms import read_form, sentence
from twobowls.web.templates import render


def reveal_page(request: Request) -> Response:
    """Ask once more, or ask what was under the bowls."""
    require_host(request)
    tasting = tasting_of(request)
    if tasting.state == "revealed":
        return RedirectResponse(f"/tastings/{tasting.id}/debrief", 303)
    if tasting.state != "closed":
        return RedirectResponse(f"/tastings/{tasting.id}/bench", 303)
    return _page(request, tasting, {})


def _page(
    request: Request,
    tasting: Tasting,
    chosen: dict[str, str],
    errors: dict[str, str] | None = None,
) -> Response:
    names = {each.id: each.name for each in store_of(request).coffees(include_archived=True)}
    need = doses(tasting.setup).coffees
    return render(
        request,
        "reveal.html",
        status=400 if errors else 200,
        tasting={"id": tasting.id, "name": tasting.setup.name},
        late=tasting.setup.host_tastes,
        bowls=[
            {
                "code": bowl.code,
                "chosen": chosen.get(bowl.code, bowl.coffee_id or ""),
                "error": (errors or {}).get(f"bowl {bowl.code}", ""),
            }
            for bowl in sorted(tasting.plan.bowls, key=lambda bowl: (bowl.flight, bowl.code))
        ],
        coffees=[
            {
                "id": each.coffee_id,
                "name": names.get(each.coffee_id, each.coffee_id),
                "bowls": count_of(each.bowls, "bowl"),
            }
            for each in need
        ],
        errors=errors or {},
    )


async def reveal(request: Request) -> Response:
    """Reveal the coffees."""
    require_host(request)
    form = await read_form(request)
    store = store_of(request)
    tasting = await run_in_threadpool(tasting_of, request)
    typed = {bowl.code: form.text(f"bowl_{bowl.code}") for bowl in tasting.plan.bowls}
    known = {bowl.code: bowl.coffee_id for bowl in tasting.plan.bowls}
    chosen = {code: coffee for code, coffee in typed.items() if coffee and coffee != known[code]}
    as_found = form.ticked("as_found")
    try:
        await run_in_threadpool(_reveal, store, tasting.id, now_ms(request), chosen, as_found)
    except InputError as error:
        told = await run_in_threadpool(_named, request, tasting, error)
        return _page(request, tasting, chosen, {error.field: told})
    return RedirectResponse(f"/tastings/{tasting.id}/debrief", 303)


def _reveal(
    store: Store, tasting_id: str, at_ms: int, chosen: dict[str, str], as_found: bool
) -> None:
    store.reveal(tasting_id, at_ms, chosen, as_found=as_found)


def _named(request: Request, tasting: Tasting, error: InputError) -> str:
    """Say an error with the names of the coffees; the domain knows only their ids."""
    store = store_of(request)
    problem = error.problem
    for coffee_id in tasting.setup.coffee_ids:
        name = store.coffee(coffee_id).name.replace("\\", r"\\")
        problem = re.sub(rf"\b{re.escape(coffee_id)}\b", name, problem)
    return sentence(InputError(error.field, problem, error.cure))


routes = [
    Route("/tastings/{id}/reveal", reveal_page, methods=["GET"]),
    Route("/tastings/{id}/reveal", reveal, methods=["POST"]),
]
