"""Rendering pages. Templates get everything formatted, and every value is escaped."""

from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse

from twobowls.web.static_files import static_url

FOLDER = Path(__file__).parent / "templates"
NO_STORE = {"cache-control": "no-store"}


class _Errors(dict[str, str]):
    """Errors by field; a field that has none may be asked for too."""

    def __missing__(self, _field: str) -> str:
        return ""


@cache
def environment() -> Environment:
    """Return the one template environment."""
    made = Environment(
        loader=FileSystemLoader(FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["static_url"] = static_url
    return made


def render(
    request: Request,
    name: str,
    *,
    status: int = 200,
    headers: dict[str, str] | None = None,
    **context: Any,
) -> HTMLResponse:
    """Return a page. ``is_host`` tells templates whether to show the host's navigation."""
    from twobowls.web.access import is_host

    context["errors"] = _Errors(context.get("errors", {}))
    context.setdefault("is_host", is_host(request))
    context.setdefault("path", request.url.path)
    text = environment().get_template(name).render(context)
    return HTMLResponse(text, status_code=status, headers=headers or NO_STORE)
