"""What the statistics accept: whole counts, shares, tables of numbers, names from a list.

Every refusal names the field and the cure. Knows nothing of the methods that call it.
"""

import math
from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from twobowls.errors import InputError

MOST_COUNTED = 1e9
"""More than anybody counts; differences of larger numbers lose their last digits."""


def whole(field: str, value: object, low: int, high: int | None = None) -> int:
    """Return a whole number within its limits.

    Parameters
    ----------
    field : str
        What the number is called where it was given.
    value : object
        What was given; 12, 12.0 and numpy integers are whole, True and 12.5 are not.
    low, high : int
        The smallest and largest value allowed; no upper limit when ``high`` is None.

    Returns
    -------
    int

    Raises
    ------
    InputError
        When the value is not a whole number within the limits.

    Examples
    --------
    >>> whole("trials", 12.0, 1)
    12
    """
    limits = f"from {low} to {high}" if high is not None else f"of {low} or more"
    cure = f"Give a whole number {limits}"
    if isinstance(value, bool | np.bool_) or not isinstance(value, int | float | np.number):
        raise InputError(field, f"{value!r} is not a number", cure)
    number = float(value)
    if not math.isfinite(number) or number != math.floor(number):
        raise InputError(field, f"{value} is not a whole number", cure)
    if number < low or (high is not None and number > high):
        word = "few" if number < low else "many"
        raise InputError(field, f"{int(number)} is too {word}", cure)
    return int(number)


def between(field: str, value: object, low: float, high: float, *, ends: bool = False) -> float:
    """Return a number strictly between two limits (or on them, with ``ends``).

    Parameters
    ----------
    field : str
        What the number is called where it was given.
    value : object
        What was given.
    low, high : float
        The limits.
    ends : bool
        Whether the limits themselves are allowed.

    Returns
    -------
    float

    Raises
    ------
    InputError
        When the value is not a number within the limits.

    Examples
    --------
    >>> between("alpha", 0.05, 0, 1)
    0.05
    """
    limits = f"from {low:g} to {high:g}" if ends else f"between {low:g} and {high:g}"
    cure = f"Give a number {limits}"
    if isinstance(value, bool | np.bool_) or not isinstance(value, int | float | np.number):
        raise InputError(field, f"{value!r} is not a number", cure)
    number = float(value)
    inside = low <= number <= high if ends else low < number < high
    if not inside:  # NaN is never inside
        raise InputError(field, f"{number:g} is out of range", cure)
    return number


def scales(field: str, values: Mapping[str, float]) -> None:
    """Refuse scales of a prior that are not finite numbers above zero.

    Parameters
    ----------
    field : str
        What the prior is called where it was given.
    values : mapping of str to float
        The scales by their names.

    Raises
    ------
    InputError
        Naming the first that is none.

    Examples
    --------
    >>> scales("prior", {"spread": 0.0})
    Traceback (most recent call last):
    ...
    twobowls.errors.InputError: prior: spread is 0.0. Give a number above zero.
    """
    for name, value in values.items():
        if not (np.isfinite(value) and value > 0):
            raise InputError(field, f"{name} is {value}", "Give a number above zero")


def one_of(field: str, value: object, choices: Iterable[str]) -> str:
    """Return a name that is on the list.

    Parameters
    ----------
    field : str
        What the name is called where it was given.
    value : object
        What was given.
    choices : iterable of str
        The names allowed.

    Returns
    -------
    str

    Raises
    ------
    InputError
        When the name is not on the list.

    Examples
    --------
    >>> one_of("method", "triangle", ["triangle", "tetrad"])
    'triangle'
    """
    known = list(choices)
    if not isinstance(value, str) or value not in known:
        raise InputError(field, f"{value!r} is not known", f"Choose one of {', '.join(known)}")
    return value


def numbers(field: str, values: ArrayLike, shape: Sequence[int | None]) -> NDArray[np.float64]:
    """Return finite numbers as a float array of the shape asked for.

    Parameters
    ----------
    field : str
        What the values are called where they were given.
    values : array_like
        What was given.
    shape : sequence of int or None
        The length of every axis; None where any length of at least one will do.

    Returns
    -------
    ndarray of float

    Raises
    ------
    InputError
        When there is a gap (NaN), an infinity, text, or another shape.

    Examples
    --------
    >>> numbers("marks", [[1, 2], [3, 4]], (None, 2)).shape
    (2, 2)
    """
    try:
        array = np.asarray(values, dtype=float)
    except (TypeError, ValueError):
        raise InputError(
            field, "not every entry is a number", "Give a table of numbers with rows equally long"
        ) from None
    fits = array.ndim == len(shape) and all(
        have >= 1 if want is None else have == want
        for have, want in zip(array.shape, shape, strict=True)
    )
    if array.size == 0:
        raise InputError(field, "there is nothing in it", "Give at least one number")
    if not fits:
        asked = " × ".join("any" if want is None else str(want) for want in shape)
        had = " × ".join(map(str, array.shape)) or "a single number"
        raise InputError(field, f"the shape is {had}", f"Give numbers of shape {asked}")
    if not np.isfinite(array).all():
        where = ", ".join(str(i + 1) for i in np.argwhere(~np.isfinite(array))[0])
        raise InputError(
            field, f"entry {where} is missing or not finite", "Fill the gap or leave the row out"
        )
    return array


def counts(field: str, values: ArrayLike, shape: Sequence[int | None]) -> NDArray[np.float64]:
    """Return whole numbers of zero or more as a float array of the shape asked for.

    Parameters
    ----------
    field : str
        What the counts are called where they were given.
    values : array_like
        What was given.
    shape : sequence of int or None
        The length of every axis; None where any length of at least one will do.

    Returns
    -------
    ndarray of float

    Raises
    ------
    InputError
        When an entry is not a whole number of zero or more, or the shape is another.

    Examples
    --------
    >>> counts("words", [3, 0, 2], (None,)).sum()
    np.float64(5.0)
    """
    array = numbers(field, values, shape)
    wrong = (array < 0) | (array != np.floor(array))
    if wrong.any():
        first = float(array[wrong][0])
        raise InputError(field, f"{first:g} is not a count", "Give whole numbers of zero or more")
    if array.max() > MOST_COUNTED:
        raise InputError(field, f"{array.max():g} is too many", "Give counts of a billion at most")
    return array
