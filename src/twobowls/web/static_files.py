"""Scripts and styles: fresh after every change, kept by phones in between.

`/static/~DIGEST/...` changes its name with the content, so a phone may keep it for good;
`/static/...` is asked for again each time (and answered by an etag).
"""

import hashlib
from functools import cache
from pathlib import Path

from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

FOLDER = Path(__file__).parent / "static"
FOREVER = "public, max-age=31536000, immutable"
ASK_AGAIN = "no-cache"


@cache
def digest() -> str:
    """Return a short name for the content of all static files."""
    total = hashlib.sha256()
    for path in sorted(FOLDER.rglob("*")):
        if path.is_file():
            total.update(str(path.relative_to(FOLDER)).encode())
            total.update(path.read_bytes())
    return total.hexdigest()[:12]


def static_url(path: str) -> str:
    """Return the lasting address of a static file, such as ``static_url("css/base.css")``."""
    return f"/static/~{digest()}/{path}"


class KeptFiles(StaticFiles):
    """The static folder under both kinds of names."""

    def __init__(self) -> None:
        super().__init__(directory=FOLDER)

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Serve a file; say how long it may be kept."""
        lasting = path.startswith("~")
        real = path.partition("/")[2] if lasting else path
        response = await super().get_response(real, scope)
        current = lasting and path.startswith(f"~{digest()}/")
        response.headers["cache-control"] = FOREVER if current else ASK_AGAIN
        return response
