"""What people may call themselves at a table. Pure."""

import unicodedata
from collections.abc import Collection

from twobowls.errors import ConflictError, InputError

LONGEST_NICKNAME = 24


def clean_nickname(typed: str) -> str:
    """Return a nickname with its spaces tidied.

    Raises
    ------
    InputError
        It is empty, too long, or holds characters that cannot be seen.

    Examples
    --------
    >>> clean_nickname("  Ana   B ")
    'Ana B'
    """
    nickname = " ".join(unicodedata.normalize("NFC", typed).split())
    if not nickname:
        raise InputError("nickname", "it is empty", "Give any name that the others know you by")
    if len(nickname) > LONGEST_NICKNAME:
        raise InputError(
            "nickname",
            f"it has {len(nickname)} characters",
            f"Use at most {LONGEST_NICKNAME}",
        )
    if not nickname.isprintable():
        raise InputError(
            "nickname",
            "it holds characters that cannot be seen",
            "Use letters, digits and ordinary signs",
        )
    return nickname


def check_distinct(nickname: str, taken: Collection[str]) -> None:
    """Refuse a nickname that somebody at this table has.

    Raises
    ------
    ConflictError
        The sentence offers one that is free.

    Examples
    --------
    >>> check_distinct("ana", ["Ana", "Ben"])
    Traceback (most recent call last):
    twobowls.errors.ConflictError: Somebody here is called Ana already. Take "ana 2", or add \
an initial. If this is you on another phone, ask the host for the link to your seat.
    """
    folded = {name.casefold(): name for name in taken}
    same = folded.get(nickname.casefold())
    if same is None:
        return
    free = suggestion(nickname, taken)
    raise ConflictError(
        f'Somebody here is called {same} already. Take "{free}", or add an initial. '
        "If this is you on another phone, ask the host for the link to your seat."
    )


def suggestion(nickname: str, taken: Collection[str]) -> str:
    """Return the nickname with the first number that makes it distinct."""
    folded = {name.casefold() for name in taken}
    number = 2
    while True:
        tail = f" {number}"
        free = nickname[: LONGEST_NICKNAME - len(tail)] + tail
        if free.casefold() not in folded:
            return free
        number += 1
