"""Names or a number of things: ``["Oro", "Brisa"]`` or 2."""

from collections.abc import Iterable
from typing import Any

from twobowls.errors import InputError
from twobowls.statistics.inputs import whole


def listed(field: str, given: object, example: str) -> list[Any]:
    """Return the parts of a list; one text, or one number, is none.

    Parameters
    ----------
    field : str
        What it is called in messages.
    given : sequence
        What the caller gave.
    example : str
        How to write it.

    Raises
    ------
    InputError
        When it is one text, or nothing that has parts.

    Examples
    --------
    >>> listed("repeats", ("Oro", "Brisa"), 'Give a list, as ["Oro"]')
    ['Oro', 'Brisa']
    """
    if isinstance(given, str):
        raise InputError(field, f"{given!r} is one text", example)
    if not isinstance(given, Iterable):
        raise InputError(field, f"{given!r} is not a list", example)
    return list(given)


def names_of(field: str, given: object, least: int, most: int) -> tuple[str, ...]:
    """Return names; a number stands for names that are numbers, from 1.

    Parameters
    ----------
    field : str
        What they are called in messages.
    given : int or sequence of str
        How many, or which.
    least, most : int
        How few and how many there may be.

    Raises
    ------
    InputError
        When there are too few or too many, one is empty, or two are the same.

    Examples
    --------
    >>> names_of("coffees", 3, 2, 40), names_of("coffees", ["Oro", "Brisa"], 2, 40)
    (('1', '2', '3'), ('Oro', 'Brisa'))
    """
    if isinstance(given, str):
        raise InputError(field, f"{given!r} is one text", 'Give a list, as ["Oro", "Brisa"]')
    if not isinstance(given, Iterable):
        return tuple(str(each + 1) for each in range(whole(field, given, least, most)))
    names = tuple(str(each).strip() for each in given)
    whole(f"number of {field}", len(names), least, most)
    if not all(names):
        raise InputError(field, "one has no name", "Name it")
    twice = next((each for each in names if names.count(each) > 1), None)
    if twice is not None:
        raise InputError(field, f"{twice!r} is there twice", "Name each once")
    return names
