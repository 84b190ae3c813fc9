"""Names that may mean the same: Ines and ines, Brisa and Bri-sa. Knows nothing of models."""

import unicodedata
from collections.abc import Iterable

import numpy as np

_LIGHT = frozenset("-_\u2010\u2011\u2013'\u2019")


def near_doubles(names: Iterable[str], most: int = 5) -> tuple[tuple[str, str], ...]:
    """Return pairs of names that differ only by capitals, spaces, hyphens or accents.

    Parameters
    ----------
    names : iterable of str
        All different.
    most : int
        How many pairs at most: more would not be read.

    Returns
    -------
    tuple of pairs
        The earlier name first.

    Examples
    --------
    >>> near_doubles(["Inés", "ines ", "Tomas"])
    (('Inés', 'ines '),)
    >>> near_doubles(["1.1", "11"])
    ()
    """
    seen: dict[str, str] = {}
    pairs: list[tuple[str, str]] = []
    for name in names:
        plain = _plain(name)
        if plain in seen and len(pairs) < most:
            pairs.append((seen[plain], name))
        seen.setdefault(plain, name)
    return tuple(pairs)


def _plain(name: str) -> str:
    """Return what is left of a name without capitals, spaces, hyphens and accents."""
    parts = unicodedata.normalize("NFKD", name.casefold())
    kept = (each for each in parts if not (unicodedata.combining(each) or each.isspace()))
    return "".join(each for each in kept if each not in _LIGHT)


def is_missing(value: object) -> bool:
    """Return whether it is None, blank, or one of the kinds of NaN, which differ from themselves.

    Examples
    --------
    >>> [is_missing(each) for each in (None, " ", float("nan"), "nan", 0)]
    [True, True, True, False, False]
    """
    if value is None or (isinstance(value, str) and not value.strip()):
        return True
    same: object = value == value
    return not isinstance(same, bool | np.bool_) or not same
