"""The codes by which guests find a tasting: short, and told over a noisy table without mistake."""

import secrets
import sqlite3

from twobowls.errors import ConflictError
from twobowls.store import tasting_tables

# Nothing in it is read as something else, by eye or aloud: no 0 O 1 I L 5 S, and no vowels that
# would make words. Six of these 26 make 309 million codes; `twobowls.web.limits` says why so many.
JOIN_ALPHABET = "BCDFGHJKMNPQRTVWXYZ2346789"
JOIN_LENGTH = 6
TRIES = 100


def free_join_code(database: sqlite3.Connection) -> str:
    """Draw a code that no tasting of this store has.

    Raises
    ------
    ConflictError
        None was found.
    """
    for _ in range(TRIES):
        code = "".join(secrets.choice(JOIN_ALPHABET) for _ in range(JOIN_LENGTH))
        if tasting_tables.tasting_id_by_code(database, code) is None:
            return code
    raise ConflictError("No join code is free; start with a new store.")


def clean_join_code(typed: str) -> str:
    """Return a join code as it is stored, however it was typed.

    Examples
    --------
    >>> clean_join_code(" k7q-mxw ")
    'K7QMXW'
    """
    return "".join(typed.split()).replace("-", "").upper()
