"""Refused forms that can be looked at again: a page that answers a POST is asked for by a GET.

Otherwise going back to it, or reloading it, would make the browser ask whether to send the form
once more. What was refused is kept for a while under a name that nobody guesses.
"""

import secrets
import threading
from collections import OrderedDict

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

MOST_KEPT = 200


class KeptAnswers:
    """The newest refused forms, as pages; any thread may ask.

    Examples
    --------
    >>> kept = KeptAnswers()
    >>> token = kept.keep(Response("no", 404))
    >>> kept.get(token).body, kept.get("other")
    (b'no', None)
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._answers: OrderedDict[str, Response] = OrderedDict()

    def keep(self, answer: Response) -> str:
        """Keep a page; return the name that it is found by."""
        token = secrets.token_urlsafe(12)
        with self._lock:
            self._answers[token] = answer
            while len(self._answers) > MOST_KEPT:
                self._answers.popitem(last=False)
        return token

    def get(self, token: str) -> Response | None:
        """Return a page, if it is still there."""
        return self._answers.get(token)


def asked_by_person(request: Request) -> bool:
    """Say whether a browser asked for a page, rather than a program for an answer."""
    return "text/html" in request.headers.get("accept", "")


def led_to(kept: KeptAnswers, path: str, refused: Response) -> Response:
    """Return the way to a refused form, instead of the form itself."""
    return RedirectResponse(f"{path}?again={kept.keep(refused)}", 303)
