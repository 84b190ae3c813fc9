"""The script that lets a trusted browser keep the seat's page: its files come from that page."""

import re
from functools import cache

import msgspec
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from twobowls.web.static_files import FOLDER, digest
from twobowls.web.templates import environment

SCRIPT = FOLDER / "js" / "worker" / "seat-worker.js"


@cache
def seat_files() -> tuple[str, ...]:
    """Return the address of every file that the seat's page names."""
    page = environment().get_template("seat.html").render(key="", address="", tasting_name="")
    return tuple(sorted(set(re.findall(r'(?:href|src)="(/static/[^"]+)"', page))))


@cache
def worker_script() -> bytes:
    """Return the script, with what it keeps written above it."""
    kept = msgspec.json.encode({"version": digest(), "files": seat_files()})
    return b"const KEPT = " + kept + b";\n" + SCRIPT.read_bytes()


def seat_worker(_request: Request) -> Response:
    """Give the script; browsers look for a newer one at each visit."""
    headers = {"cache-control": "no-cache"}
    return Response(worker_script(), headers=headers, media_type="text/javascript")


routes = [Route("/seat-worker.js", seat_worker)]
