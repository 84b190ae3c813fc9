"""Three-digit codes for bowls that say nothing and are hard to mix up.

Knows digits only; not which coffee a bowl holds.
"""

from collections.abc import Callable, Collection, Iterable
from itertools import product
from operator import eq

import numpy as np

from twobowls.errors import InputError

_SAME_UPSIDE_DOWN = set("01689")
_RUNS = ("0123456789", "9876543210")
# Emergency and telephone numbers, the year, the circle, the unlucky and the rude: nobody
# should wonder why this bowl has that number.
_MEANINGFUL = {137, 187, 247, 314, 365, 369, 386, 404, 411, 486, 502, 503, 512, 521, 527}
_MEANINGFUL |= {538, 613, 714, 741, 748, 786, 813, 911, 918}


def _is_plain(code: str) -> bool:
    """Tell whether a code is fit for a bowl."""
    return (
        code[0] != "0"
        and code[-1] != "0"  # a round number looks like a measure
        and len(set(code)) == 3
        and not any(code in run for run in _RUNS)
        and not set(code) <= _SAME_UPSIDE_DOWN  # reads as another code from across the table
        and int(code) not in _MEANINGFUL
    )


PLAIN_CODES = tuple(
    code
    for code in ("".join(digits) for digits in product("0123456789", repeat=3))
    if _is_plain(code)
)


def confusable(a: str, b: str) -> bool:
    """Tell whether two codes could be mixed up: same digits, or only one digit apart.

    Parameters
    ----------
    a, b : str
        Two codes.

    Returns
    -------
    bool

    Examples
    --------
    >>> confusable("417", "471"), confusable("417", "427"), confusable("417", "862")
    (True, True, False)
    """
    differing = sum(x != y for x, y in zip(a, b, strict=True))
    return differing <= 1 or sorted(a) == sorted(b)


def draw_codes(
    count: int, rng: np.random.Generator, taken: Collection[str] = frozenset()
) -> tuple[str, ...]:
    """Draw random codes, all different, none confusable with another while that is possible.

    Parameters
    ----------
    count : int
        How many codes.
    rng : numpy.random.Generator
        Source of chance.
    taken : collection of str
        Codes that must not be drawn again.

    Returns
    -------
    tuple of str
        Three digits each: no leading or final zero, three different digits, no run such as
        456 or 654, nothing that reads as a number upside down, no number with a meaning.
        No two of them have the same digits or differ in only one digit, as long as there are
        such codes left (about fifty); beyond that first the digits may be the same, then only
        the codes differ.

    Raises
    ------
    InputError
        When there are not so many codes.

    Notes
    -----
    Random three-digit codes, new for every session, are the common practice of sensory tests
    (ISO 6658, from memory).

    Examples
    --------
    >>> draw_codes(4, np.random.default_rng(7))
    ('104', '697', '267', '673')
    """
    free = [code for code in PLAIN_CODES if code not in taken]
    if count > len(free):
        raise InputError(
            "bowls",
            f"{count} codes are wanted and only {len(free)} are free",
            "Use fewer bowls or free some codes",
        )
    order = [free[i] for i in rng.permutation(len(free))]
    chosen: list[str] = []
    for refuse in (confusable, _one_digit_apart, eq):
        chosen = _greedy(order, count, refuse)
        if len(chosen) == count:
            break
    return tuple(chosen)


def bowl_tones(codes: Iterable[str]) -> dict[str, int]:
    """Return the number of the tone that each bowl has on every pad, wall and chart.

    Parameters
    ----------
    codes : iterable of str
        The codes of all bowls of one tasting, in any order.

    Returns
    -------
    dict of str to int
        The place of each code among all of them in ascending order, from 0. Codes are drawn at
        random, so it tells nothing of the coffees.

    Examples
    --------
    >>> bowl_tones(["862", "417"])
    {'417': 0, '862': 1}
    """
    return {code: place for place, code in enumerate(sorted(codes))}


def _one_digit_apart(a: str, b: str) -> bool:
    return sum(x != y for x, y in zip(a, b, strict=True)) <= 1


def _greedy(order: list[str], count: int, refuse: Callable[[str, str], bool]) -> list[str]:
    chosen: list[str] = []
    for code in order:
        if len(chosen) == count:
            break
        if not any(refuse(code, other) for other in chosen):
            chosen.append(code)
    return chosen
