"""What `serve --open` gives to the browser in place of the key.

A browser is started with the address on its command line, which every user of the computer can
list. A ticket is good for one use, and not for long.
"""

import hmac
import threading

GOOD_FOR_MS = 120_000


class HostTicket:
    """One ticket, or none; any thread may show one.

    Examples
    --------
    >>> ticket = HostTicket("abc", 0)
    >>> ticket.use("abd", 1), ticket.use("abc", 2), ticket.use("abc", 3)
    (False, True, False)
    """

    def __init__(self, ticket: str | None, made_ms: int) -> None:
        self._ticket = ticket
        self._until_ms = made_ms + GOOD_FOR_MS
        self._lock = threading.Lock()

    def use(self, shown: str, now_ms: int) -> bool:
        """Take a ticket; say whether it is the one, in time, and had not been used."""
        with self._lock:
            if self._ticket is None or now_ms > self._until_ms:
                return False
            if not hmac.compare_digest(shown.encode(), self._ticket.encode()):
                return False
            self._ticket = None
            return True
