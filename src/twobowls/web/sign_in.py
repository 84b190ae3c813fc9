"""How a browser becomes the host's: the address with the key, which the terminal shows."""

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from twobowls.web.access import drop_host_cookie, is_host_key, keep_host_cookie, now_ms
from twobowls.web.doors.host_ticket import HostTicket
from twobowls.web.forms import read_form
from twobowls.web.templates import render

WRONG = "That is not this server's key. Copy the whole address from the terminal."

USED = (
    "This address was good for one use, within two minutes of the start. Open the one that the "
    "terminal shows. If your browser never got in by it, another user of this computer has: stop "
    "twobowls and start it once with --new-key."
)


def _let_in(request: Request, key: str) -> Response:
    """Let the host in; wrong keys cost nothing, as no number of tries finds one of 144 bits."""
    if not is_host_key(request, key):
        return render(request, "sign_in.html", status=403, error=WRONG)
    return _signed_in(request)


def _signed_in(request: Request) -> Response:
    response = RedirectResponse("/", 303)
    keep_host_cookie(request, response)
    return response


def sign_in_page(request: Request) -> Response:
    """Take the key from the address, or ask for it."""
    ticket, key = request.query_params.get("ticket"), request.query_params.get("key")
    if ticket is not None:
        known: HostTicket = request.app.state.ticket
        if known.use(ticket, now_ms(request)):
            return _signed_in(request)
        return render(request, "sign_in.html", status=403, error=USED)
    if key is None:
        return render(request, "sign_in.html", error="")
    return _let_in(request, key)


async def sign_in(request: Request) -> Response:
    """Take the key from the form."""
    form = await read_form(request)
    return _let_in(request, form.text("key"))


def sign_out(request: Request) -> Response:
    """End the session of this browser."""
    response = RedirectResponse("/host", 303)
    drop_host_cookie(request, response)
    return response


routes = [
    Route("/host/sign-out", sign_out, methods=["POST"]),
    Route("/host", sign_in_page, methods=["GET"]),
    Route("/host", sign_in, methods=["POST"]),
]
