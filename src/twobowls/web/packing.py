"""Packing answers with gzip for those who take it: phones on a poor network."""

import gzip

from starlette.datastructures import Headers
from starlette.responses import Response


def takes_gzip(headers: Headers) -> bool:
    """Say whether whoever asks can unpack gzip.

    Examples
    --------
    >>> takes_gzip(Headers({"accept-encoding": "gzip, deflate"})), takes_gzip(Headers({}))
    (True, False)
    """
    return "gzip" in headers.get("accept-encoding", "")


def pack(body: bytes) -> bytes:
    """Return a body packed; the same body always gives the same bytes.

    Examples
    --------
    >>> gzip.decompress(pack(b"warm")) == b"warm", pack(b"warm") == pack(b"warm")
    (True, True)
    """
    return gzip.compress(body, 6, mtime=0)


def packed(headers: Headers, response: Response) -> Response:
    """Return an answer with its body packed, if whoever asks takes that.

    Parameters
    ----------
    headers : starlette.datastructures.Headers
        Of the request.
    response : starlette.responses.Response
        An answer with a body of its own; it is changed in place.
    """
    response.headers["vary"] = "accept-encoding"
    if takes_gzip(headers):
        response.body = pack(bytes(response.body))
        response.headers["content-encoding"] = "gzip"
        response.headers["content-length"] = str(len(response.body))
    return response
