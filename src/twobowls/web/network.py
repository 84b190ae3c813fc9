"""The addresses and names of this computer."""

import socket

LOOPBACK = "127.0.0.1"
EVERYWHERE = "0.0.0.0"
# An address from the block kept for documentation: routes are asked, nothing is sent to it.
_ELSEWHERE = ("192.0.2.1", 9)


def address(host: str, port: int, scheme: str = "http") -> str:
    """Return the address of a server.

    Examples
    --------
    >>> address("192.0.2.7", 8417), address("::1", 8417, "https")
    ('http://192.0.2.7:8417', 'https://[::1]:8417')
    """
    return f"{scheme}://[{host}]:{port}" if ":" in host else f"{scheme}://{host}:{port}"


def lan_ip() -> str | None:
    """Return this computer's address in its network, or None when it is in none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_ELSEWHERE)
        except OSError:
            return None
        found: str = probe.getsockname()[0]
    return None if found.startswith("127.") or found == EVERYWHERE else found


def own_names() -> frozenset[str]:
    """Return the names by which the local network may know this computer."""
    name = socket.gethostname().lower()
    return frozenset({name, f"{name.partition('.')[0]}.local"}) if name else frozenset()
