"""How a browser becomes the host's: the address with the key, which the terminal shows."""

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from twobowls.web.access import is_host_key, keep_host_cookie
from twobowls.web.forms import read_form
from twobowls.web.templates import render

WRONG = "That is not this server's key. Copy the whole address from the terminal."


def _let_in(request: Request, key: str) -> Response:
    """Let the host in; wrong keys cost nothing, as no number of tries finds one of 144 bits."""
    if not is_host_key(request, key):
        return render(request, "sign_in.html", status=403, error=WRONG)
    response = RedirectResponse("/", 303)
    keep_host_cookie(request, response)
    return response


def sign_in_page(request: Request) -> Response:
    """Take the key from the address, or ask for it."""
    key = request.query_params.get("key")
    if key is None:
        return render(request, "sign_in.html", error="")
    return _let_in(request, key)


async def sign_in(request: Request) -> Response:
    """Take the key from the form."""
    form = await read_form(request)
    return _let_in(request, form.text("key"))


routes = [
    Route("/host", sign_in_page, methods=["GET"]),
    Route("/host", sign_in, methods=["POST"]),
]
