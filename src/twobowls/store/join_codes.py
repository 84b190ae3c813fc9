"""The codes by which guests find a tasting: short, and told over a noisy table without mistake."""

import secrets
import sqlite3

from twobowls.errors import ConflictError
from twobowls.store import tasting_tables

# Nothing in it is read as something else, by eye or aloud: no 0 O 1 I L 5 S, and no vowels that
# would make words.
JOIN_ALPHABET = "BCDFGHJKMNPQRTVWXYZ2346789"
JOIN_LENGTH = 4
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
    >>> clean_join_code(" k7-qm ")
    'K7QM'
    """
    return "".join(typed.split()).replace("-", "").upper()
