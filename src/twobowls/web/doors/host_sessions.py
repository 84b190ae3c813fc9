"""The host's browsers: what their cookie holds, until when, and that a sign-out is for good.

The cookie is not the key: who gets hold of one gets no more than this session. It is signed with
the key, so it outlives a restart without being stored, and dies when the key is changed. What is
stored is which sessions were signed out.
"""

import base64
import hashlib
import hmac
import secrets
import threading

from twobowls.store import Store
from twobowls.store.settings_table import SIGNED_OUT

LASTS_S = 180 * 86_400


def make_session(key: str, at_ms: int) -> str:
    """Return a new session: when it began, a random name, and the proof of both by the key."""
    named = f"{at_ms}.{secrets.token_urlsafe(12)}"
    return f"{named}.{_proof(key, named)}"


def began_ms(key: str, session: str) -> int | None:
    """Return when a session began; None for one that this key has not made.

    Examples
    --------
    >>> session = make_session("key", 12_000)
    >>> began_ms("key", session), began_ms("another", session), began_ms("key", "12000.x.y")
    (12000, None, None)
    """
    named, _, proof = session.rpartition(".")
    if not hmac.compare_digest(proof.encode(), _proof(key, named).encode()):
        return None
    return int(named.partition(".")[0])


def _proof(key: str, named: str) -> str:
    made = hmac.digest(key.encode(), f"host session {named}".encode(), hashlib.sha256)
    return base64.urlsafe_b64encode(made).decode().rstrip("=")


class HostSessions:
    """The sessions of one server; any thread may ask."""

    def __init__(self, store: Store, key: str) -> None:
        self._store = store
        self._key = key
        self._lock = threading.Lock()
        self._ended = set((store.known_setting(SIGNED_OUT) or "").split())

    def begin(self, now_ms: int) -> str:
        """Return the cookie of a browser that has shown the key."""
        return make_session(self._key, now_ms)

    def is_live(self, session: str, now_ms: int) -> bool:
        """Say whether a cookie is that of the host's browser."""
        began = began_ms(self._key, session)
        return (
            began is not None
            and now_ms - began < LASTS_S * 1000
            and session.rpartition(".")[0] not in self._ended
        )

    def end(self, session: str, now_ms: int) -> None:
        """Sign a session out, over restarts too; of those that end by themselves none is kept."""
        if not self.is_live(session, now_ms):
            return
        with self._lock:
            self._ended.add(session.rpartition(".")[0])
            lasting = [each for each in self._ended if not _is_over(each, now_ms)]
            self._store.change_setting(SIGNED_OUT, " ".join(sorted(lasting)))


def _is_over(named: str, now_ms: int) -> bool:
    return now_ms - int(named.partition(".")[0]) >= LASTS_S * 1000
