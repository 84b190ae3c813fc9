"""What people may call themselves at a table."""

import unicodedata
from collections.abc import Collection

from twobowls.errors import ConflictError, InputError
from twobowls.store.lookalikes import BLANKS, looks

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
    if not nickname.isprintable() or not BLANKS.isdisjoint(nickname):
        raise InputError(
            "nickname",
            "it holds characters that cannot be seen",
            "Use letters, digits and ordinary signs",
        )
    return nickname


def check_distinct(nickname: str, taken: Collection[str]) -> None:
    """Refuse a nickname that somebody at this table has, or that looks like one.

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
    ours = looks(nickname)
    same = next((name for name in taken if not ours.isdisjoint(looks(name))), None)
    if same is None:
        return
    free = suggestion(nickname, taken)
    who = (
        f"Somebody here is called {same} already."
        if same.casefold() == nickname.casefold()
        else f"Somebody here is called {same}, which looks the same."
    )
    raise ConflictError(
        f'{who} Take "{free}", or add an initial. '
        "If this is you on another phone, ask the host for the link to your seat."
    )


def suggestion(nickname: str, taken: Collection[str]) -> str:
    """Return the nickname with the first number that makes it distinct."""
    seen = frozenset().union(*map(looks, taken))
    number = 2
    while True:
        tail = f" {number}"
        free = nickname[: LONGEST_NICKNAME - len(tail)] + tail
        if seen.isdisjoint(looks(free)):
            return free
        number += 1
