"""Putting the web application together: routes, errors, the shield around it."""

import asyncio
import importlib
import importlib.util
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.routing import BaseRoute, Mount

from twobowls.errors import TwobowlsError
from twobowls.store import Store
from twobowls.web import (
    bench_pages,
    corrections_pages,
    errors,
    import_pages,
    join_pages,
    openapi,
    plan_pages,
    projector_pages,
    reveal_pages,
    seat_api,
    shelf_pages,
    sign_in,
    tastings_pages,
    worker_pages,
)
from twobowls.web.answers_kept import KeptAnswers
from twobowls.web.doors.host_sessions import HostSessions
from twobowls.web.doors.host_ticket import HostTicket
from twobowls.web.limits import Limits
from twobowls.web.live import Live
from twobowls.web.news import News
from twobowls.web.progress import Progress
from twobowls.web.seat_api import PostRecords
from twobowls.web.settings import WebSettings
from twobowls.web.shield import Shield
from twobowls.web.static_files import KeptFiles
from twobowls.web.tickets import Tickets


def create_app(store: Store, settings: WebSettings) -> Shield:
    """Return the application that serves one store.

    The Starlette application inside is at ``.app``; its ``state`` holds the store, the settings
    and what is live.
    """
    app = Starlette(
        routes=_routes(),
        lifespan=_lifespan,
        exception_handlers={
            TwobowlsError: errors.on_twobowls_error,
            HTTPException: errors.on_http_error,
            ClientDisconnect: errors.on_leaving,
            Exception: errors.on_crash,
        },
    )
    live = Live()
    progress = Progress(store)
    app.state.store = store
    app.state.settings = settings
    app.state.live = live
    app.state.progress = progress
    app.state.news = News(store, live, progress, settings)
    app.state.reading = asyncio.Semaphore(1)
    app.state.sessions = HostSessions(store, settings.host_key)
    app.state.ticket = HostTicket(settings.ticket, settings.now_ms())
    app.state.limits = Limits(settings.one_address)
    app.state.tickets = Tickets()
    app.state.kept_answers = KeptAnswers()
    return Shield(app, PostRecords(store, settings), settings.names)


def _routes() -> list[BaseRoute]:
    """Return all routes, the busiest first: they are tried in order."""
    return [
        *seat_api.routes,
        *openapi.routes,
        Mount("/static", KeptFiles(), name="static"),
        *join_pages.routes,
        *worker_pages.routes,
        *_debrief_routes(),
        *sign_in.routes,
        *shelf_pages.routes,
        *import_pages.routes,
        *shelf_pages.late_routes,
        *plan_pages.routes,
        *bench_pages.routes,
        *projector_pages.routes,
        *reveal_pages.routes,
        *corrections_pages.routes,
        *tastings_pages.routes,
    ]


def _debrief_routes() -> list[BaseRoute]:
    name = "twobowls.web.debrief_pages"
    if importlib.util.find_spec(name) is None:
        return []
    routes: list[BaseRoute] = importlib.import_module(name).routes
    return routes


@asynccontextmanager
async def _lifespan(app: Starlette) -> AsyncIterator[None]:
    app.state.live.start()
    yield
    app.state.live.stop()
