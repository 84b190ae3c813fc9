"""The page for the wall: large clocks while the table tastes, then the pads filling in."""

import msgspec
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from twobowls.debrief.tables import counting_records
from twobowls.errors import StateError
from twobowls.web.access import require_host, settings_of, store_of, tasting_of
from twobowls.web.addresses import join_address
from twobowls.web.packing import packed
from twobowls.web.templates import render
from twobowls.web.wall_view import SHOWN, wall_marks, wall_page


def projector(request: Request) -> Response:
    """Show the page for the wall."""
    require_host(request)
    tasting = tasting_of(request)
    return render(
        request,
        "projector.html",
        wall=wall_page(tasting),
        join=join_address(request, tasting),
        reachable=settings_of(request).phone_address is not None,
    )


def projector_json(request: Request) -> Response:
    """Give the table's marks; nobody sees another's before the tasting has closed."""
    require_host(request)
    tasting = tasting_of(request)
    if tasting.state not in SHOWN:
        raise StateError("The table's marks are shown once the tasting has closed.")
    store = store_of(request)
    names = {each.id: each.name for each in store.coffees(include_archived=True)}
    shown = wall_marks(tasting, counting_records(tasting, store.records(tasting.id)), names)
    headers = {"cache-control": "no-store"}
    answer = Response(msgspec.json.encode(shown), headers=headers, media_type="application/json")
    return packed(request.headers, answer)


routes = [
    Route("/tastings/{id}/projector", projector),
    Route("/tastings/{id}/projector.json", projector_json),
]
