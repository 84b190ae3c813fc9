"""The least that a server can do: read a request, answer 200 with a body of a given size."""

import socket
import sys

from starlette.types import Receive, Scope, Send
from uvicorn import Server

from twobowls.web.server import server_config


class Bare:
    """Answer everything with the same body; read nothing in what is sent, store nothing."""

    def __init__(self, answer_bytes: int) -> None:
        self._body = b" " * answer_bytes
        self._head = [
            (b"content-type", b"application/json"),
            (b"content-length", str(answer_bytes).encode()),
        ]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            return
        while (await receive()).get("more_body"):
            pass
        await send({"type": "http.response.start", "status": 200, "headers": self._head})
        await send({"type": "http.response.body", "body": self._body})


def main(answer_bytes: int) -> None:
    listener = socket.create_server(("127.0.0.1", 0))
    print(f"http://127.0.0.1:{listener.getsockname()[1]}\nStop it with a signal.", flush=True)
    config = server_config(Bare(answer_bytes))
    config.lifespan = "off"
    Server(config).run([listener])


if __name__ == "__main__":
    main(int(sys.argv[1]))
