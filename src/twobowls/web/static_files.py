"""Scripts and styles: fresh after every change, kept by phones in between.

`/static/~DIGEST/...` changes its name with the content, so a phone may keep it for good;
`/static/...` is asked for again each time (and answered by an etag). Text is packed with gzip
once and kept so, and without the comments of scripts: a seat of sixty small modules must come
quickly over a poor network.
"""

import hashlib
import re
from functools import cache, lru_cache
from pathlib import Path

from starlette.datastructures import Headers
from starlette.responses import FileResponse, Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from twobowls.web.packing import pack, takes_gzip

FOLDER = Path(__file__).parent / "static"
FOREVER = "public, max-age=31536000, immutable"
ASK_AGAIN = "no-cache"
PACKED = frozenset({".js", ".css", ".svg"})
# Comments that have their lines to themselves, from the first sign on a line to the end of one.
_COMMENT = re.compile(rb"^[ \t]*(?://[^\n]*|/\*(?:(?!\*/).)*\*/[ \t]*)$", re.MULTILINE | re.DOTALL)


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
        if isinstance(response, FileResponse) and takes_gzip(Headers(scope=scope)):
            return _packed_answer(response, current)
        return response


def _packed_answer(plain: FileResponse, lasting: bool) -> Response:
    """Return the same answer with its body packed, if the file is of a kind that packs well."""
    path = Path(plain.path)
    if path.suffix not in PACKED or plain.status_code != 200:
        return plain
    headers = {
        "cache-control": plain.headers["cache-control"],
        "content-encoding": "gzip",
        "vary": "accept-encoding",
    }
    if not lasting:
        headers["etag"] = "W/" + plain.headers["etag"]
    body = _packed_file(path, path.stat().st_mtime_ns)
    return Response(body, headers=headers, media_type=plain.media_type)


@lru_cache(maxsize=512)
def _packed_file(path: Path, _changed_ns: int) -> bytes:
    body = path.read_bytes()
    return pack(without_comments(body) if path.suffix == ".js" else body)


def without_comments(script: bytes) -> bytes:
    r"""Return a script without the comments that stand on lines of their own.

    The empty lines stay, so that an error names the line it has in the file. No script of ours
    has a text over several lines in which something could look like a comment.

    Examples
    --------
    >>> without_comments(b"// what\n/** @param a */\nf(a); // why\n")
    b'\n\nf(a); // why\n'
    """
    return _COMMENT.sub(lambda found: b"\n" * found[0].count(b"\n"), script)
