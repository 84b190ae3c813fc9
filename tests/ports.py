"""Ports for servers that are stopped and started again at the same address."""

import secrets
import socket
from pathlib import Path

RANGE = Path("/proc/sys/net/ipv4/ip_local_port_range")
LOWEST = 12_000  # above all that browsers will not open
SPAN = 12_000


def lasting_port() -> int:
    """Return a free port that nobody is given by chance while the server is away.

    A port that the system hands out (``--port 0``) may go to any program's next connection as
    soon as the server has stopped; those below the system's range may not.
    """
    first_given = int(RANGE.read_text().split()[0]) if RANGE.exists() else LOWEST + SPAN
    span = max(1000, min(SPAN, first_given - LOWEST))
    while True:
        port = LOWEST + secrets.randbelow(span)
        with socket.socket() as probe:
            try:
                probe.bind(("127.0.0.1", port))
            except OSError:
                continue
            return port
