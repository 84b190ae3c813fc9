"""Every route is in the route list."""

from pathlib import Path

from starlette.routing import Route

from twobowls.web.app import _routes

DOCS = Path(__file__).parents[2] / "docs" / "http.md"


def test_every_route_is_documented() -> None:
    text = DOCS.read_text()
    for route in _routes():
        if isinstance(route, Route):
            path = route.path
            for name in ("id", "key", "seat"):
                path = path.replace(f"{{{name}}}", "KEY" if name == "key" else name.upper())
            short = path if path in text else path[path.index("/ID") + 3 :]
            assert f"`{short}" in text or f" {short}" in text, path
