"""The codes by which guests find a tasting: short, and told over a noisy table without mistake.

Letters only, as bowls have codes of figures only: nobody takes the one for the other. Codes of
older tastings, which had figures too, go on being valid; see `clean_join_code`.
"""

import secrets
import sqlite3

from twobowls.errors import ConflictError
from twobowls.store import tasting_tables

# No vowels, which would make words; no I, L or O, which are read as figures; no S or V, which are
# heard as F and B.
JOIN_ALPHABET = "BCDFGHJKMNPQRTWXYZ"
JOIN_LENGTH = 7
# Letters that people read as something rude or grim.
UNWELCOME = ("BJ", "CNT", "CP", "DCK", "FCK", "FK", "KZ", "NGR", "TWT", "WTF")
TRIES = 100


def free_join_code(database: sqlite3.Connection) -> str:
    """Draw a code that no tasting of this store has.

    Raises
    ------
    ConflictError
        None was found.
    """
    for _ in range(TRIES):
        code = draw_join_code()
        if is_welcome(code) and tasting_tables.tasting_id_by_code(database, code) is None:
            return code
    raise ConflictError("No join code is free; start with a new store.")


def draw_join_code() -> str:
    """Draw seven letters, none of them twice in a row.

    Notes
    -----
    A letter that follows itself is easily told once too often or too seldom. That leaves
    18 x 17^6 = 434,476,242 codes, 399,191,765 of which hold no unwelcome letters: 28.6 bits.
    Four letters and figures were 26^4 = 456,976 codes, 18.8 bits; six would be 26^6 =
    308,915,776, 28.2 bits.
    """
    code = ""
    for _ in range(JOIN_LENGTH):
        code += secrets.choice(JOIN_ALPHABET.replace(code[-1:], "") if code else JOIN_ALPHABET)
    return code


def is_welcome(code: str) -> bool:
    """Tell whether a code holds no letters that are better not on a wall.

    Examples
    --------
    >>> is_welcome("HMRTWXK"), is_welcome("HWTFRBK")
    (True, False)
    """
    return not any(each in code for each in UNWELCOME)


def clean_join_code(typed: str) -> str:
    """Return a join code as it is stored, however it was typed.

    Examples
    --------
    >>> clean_join_code(" k7-qm ")
    'K7QM'
    """
    return "".join(typed.split()).replace("-", "").upper()
