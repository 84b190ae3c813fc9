"""The host's home: all tastings, newest first."""

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from twobowls.counting import count_of
from twobowls.tasting.tasting import State, Tasting
from twobowls.web.access import is_host, require_host, store_of, tasting_of
from twobowls.web.templates import render
from twobowls.web.wording import STATE_TEXTS, day

# What a host most likely wants next: (address under the tasting, text), the first one first.
LINKS: dict[State, list[tuple[str, str]]] = {
    "planned": [("bench", "To the bench"), ("sheet", "Plan sheet")],
    "open": [("bench", "To the bench"), ("sheet", "Plan sheet")],
    "closed": [("bench", "Reveal"), ("debrief", "Debrief")],
    "revealed": [("debrief", "Debrief"), ("sheet", "Plan sheet"), ("bench", "Bench")],
}


def home(request: Request) -> Response:
    """List the tastings; send a guest to the join page."""
    if not is_host(request):
        return RedirectResponse("/join", 303)
    store = store_of(request)
    coffees = len(store.coffees())
    return render(
        request,
        "tastings.html",
        tastings=[_listed(each) for each in store.tastings()],
        coffees=coffees,
        coffees_text=count_of(coffees, "coffee"),
    )


def _listed(tasting: Tasting) -> dict[str, object]:
    root = f"/tastings/{tasting.id}"
    links = [{"href": f"{root}/{end}", "text": text} for end, text in LINKS[tasting.state]]
    return {
        "name": tasting.setup.name,
        "href": links[0]["href"],
        "state": tasting.state,
        "state_text": STATE_TEXTS[tasting.state],
        "summary": _summary(tasting),
        "links": links,
    }


def _summary(tasting: Tasting) -> str:
    seats = (
        f"{count_of(tasting.setup.seats, 'seat')} planned"
        if tasting.state == "planned" and not tasting.seats
        else f"{count_of(len(tasting.seats), 'seat')} taken"
    )
    parts = [
        day(tasting.opened_ms or tasting.created_ms),
        count_of(len(tasting.setup.coffee_ids), "coffee"),
        count_of(len(tasting.plan.bowls), "bowl"),
        seats,
    ]
    return " · ".join(parts)


def tasting_page(request: Request) -> Response:
    """Send the host to where this tasting is."""
    require_host(request)
    tasting = tasting_of(request)
    return RedirectResponse(f"/tastings/{tasting.id}/{LINKS[tasting.state][0][0]}", 303)


routes = [Route("/", home), Route("/tastings/{id}", tasting_page)]
