"""From the columns a caller has to codes and levels: what was given, checked and named.

Owns every message about bad ratings, factors and numeric columns. Knows nothing of models.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import cast

import numpy as np
from numpy.typing import ArrayLike, NDArray

from twobowls.counting import entries_for
from twobowls.errors import InputError
from twobowls.statistics.doubtful_names import is_missing

Codes = NDArray[np.int64]
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Factor:
    """One column of labels: which level each row has, levels in order."""

    name: str
    levels: tuple[str, ...]
    codes: Codes


@dataclass(frozen=True, slots=True)
class Ratings:
    """The ratings as numbers 0, 1, ... and what the categories are called, lowest first."""

    categories: tuple[str, ...]
    codes: Codes

    @property
    def counts(self) -> NDArray[np.int64]:
        """How often each category was given."""
        return np.bincount(self.codes, minlength=len(self.categories))


def _read_column(field: str, values: Iterable[object]) -> tuple[list[str], Codes]:
    """Return the labels that occur, and which of them each entry is."""
    if isinstance(values, np.ndarray):
        if values.ndim != 1:
            raise InputError(field, "It is not one column", "Give one entry for every rating")
        if values.dtype.kind in "iu":
            found, codes = np.unique(values, return_inverse=True)
            return [str(each) for each in found.tolist()], codes
    labels = _as_labels(field, values)
    distinct = list(dict.fromkeys(labels))
    place = {label: code for code, label in enumerate(distinct)}
    codes = np.fromiter(map(place.__getitem__, labels), dtype=np.int64, count=len(labels))
    return distinct, codes


def _as_labels(field: str, values: Iterable[object]) -> list[str]:
    """Return the labels as text; whole numbers lose a trailing ``.0``."""
    if isinstance(values, str):
        raise InputError(field, "It is one text, not a column", "Give one entry for every rating")
    listed = values.tolist() if isinstance(values, np.ndarray) else list(values)
    kinds = {type(each) for each in listed}
    if kinds <= {str} and all(map(str.strip, cast("set[str]", set(listed)))):
        return cast("list[str]", listed)
    if kinds <= {int}:
        return [str(each) for each in listed]
    return [_as_label(field, row, each) for row, each in enumerate(listed)]


def _as_label(field: str, row: int, value: object) -> str:
    if is_missing(value):
        raise InputError(field, f"entry {row + 1} is missing", "Leave that rating out, or name it")
    if isinstance(value, float | np.floating) and float(value).is_integer():
        return str(int(value))
    return str(value)


def _value(label: str) -> float | None:
    """Return the number that a label is, be it infinite or NaN written out; None for a word."""
    try:
        return float(label)
    except ValueError:
        return None


def _is_number(label: str) -> bool:
    value = _value(label)
    return value is not None and isfinite(value)


def _in_order(labels: Iterable[str]) -> tuple[str, ...]:
    """Sort labels: as numbers when all of them are, else as text."""
    found = list(labels)
    return tuple(sorted(found, key=float) if all(map(_is_number, found)) else sorted(found))


def _recode(codes: Codes, found: Sequence[str], levels: Sequence[str]) -> Codes:
    """Turn codes into the labels found to codes into the levels."""
    place = {level: code for code, level in enumerate(levels)}
    return np.array([place[each] for each in found], dtype=np.int64)[codes]


def read_ratings(values: Iterable[object], categories: Sequence[str] | None) -> Ratings:
    """Code the ratings.

    Without ``categories`` the categories are the values found, in the order of their
    numbers; text that is not numbers needs them spelled out.

    Examples
    --------
    >>> read = read_ratings([10, 9, 10], None)
    >>> read.categories, read.codes.tolist()
    (('9', '10'), [1, 0, 1])
    """
    found, codes = _read_column("ratings", values)
    if not found:
        raise InputError("ratings", "There is not one rating", "Give at least one")
    if categories is None:
        word = next((each for each in found if not _is_number(each)), None)
        if word is not None and _value(word) is not None:
            row = int(np.flatnonzero(codes == found.index(word))[0]) + 1
            raise InputError(
                "ratings",
                f"entry {row} is {word}, which is no category",
                "Correct that rating, or leave it out",
            )
        if word is not None:
            raise InputError(
                "ratings",
                f'"{word}" is not a number, so the order of the categories is not known',
                "Give categories, lowest first",
            )
        # "3", "3.0" and " 3" are one category
        found = [_plain_number(each) for each in found]
        ordered = _in_order(dict.fromkeys(found))
    else:
        ordered = tuple(str(each) for each in categories)
        _check_categories(ordered, found)
    return Ratings(ordered, _recode(codes, found, ordered))


def _plain_number(label: str) -> str:
    number = float(label)
    return str(int(number)) if number.is_integer() else str(number)


def _check_categories(ordered: Sequence[str], found: Iterable[str]) -> None:
    twice = next((each for each in ordered if ordered.count(each) > 1), None)
    if twice is not None:
        raise InputError("categories", f'"{twice}" is there twice', "Name each category once")
    stray = next((each for each in found if each not in ordered), None)
    if stray is not None:
        raise InputError(
            "ratings",
            f'"{stray}" is not one of the categories {", ".join(ordered)}',
            "Correct the rating, or add the category",
        )


def read_factors(
    field: str,
    columns: Mapping[str, Iterable[object]],
    rows: int,
    reference: Mapping[str, str] | None = None,
) -> tuple[Factor, ...]:
    """Code each column; ``reference`` moves one level to the front, where it is the base.

    Examples
    --------
    >>> coffee, = read_factors("fixed", {"coffee": ["B", "A"]}, 2, {"coffee": "B"})
    >>> coffee.levels, coffee.codes.tolist()
    (('B', 'A'), [0, 1])
    """
    factors = []
    for name, values in columns.items():
        found, codes = _read_column(f"{field} {name}", values)
        _check_length(f"{field} {name}", codes.size, rows)
        levels = _in_order(found)
        if reference and name in reference:
            levels = _move_to_front(name, levels, str(reference[name]))
        factors.append(Factor(name, levels, _recode(codes, found, levels)))
    _check_references(reference, columns)
    return tuple(factors)


def _check_length(field: str, found: int, rows: int) -> None:
    if found != rows:
        raise InputError(
            field, entries_for(found, rows, "rating"), "Give one entry for every rating"
        )


def _move_to_front(name: str, levels: tuple[str, ...], first: str) -> tuple[str, ...]:
    if first not in levels:
        raise InputError(
            "reference",
            f'"{first}" is not a level of {name} ({", ".join(levels[:8])})',
            "Name a level that is in the data",
        )
    return (first, *(each for each in levels if each != first))


def _check_references(
    reference: Mapping[str, str] | None, columns: Mapping[str, Iterable[object]]
) -> None:
    stray = next((each for each in reference or {} if each not in columns), None)
    if stray is not None:
        raise InputError(
            "reference",
            f'"{stray}" is not a factor of fixed',
            f"Choose from {', '.join(columns) or 'none: there are no factors'}",
        )


def read_numbers(columns: Mapping[str, ArrayLike], rows: int) -> dict[str, Array]:
    """Check the numeric columns: one finite number a rating, and not all the same.

    Examples
    --------
    >>> read_numbers({"age": [1, 2]}, 2)
    {'age': array([1., 2.])}
    """
    read = {}
    for name, values in columns.items():
        field = f"X {name}"
        try:
            column = np.asarray(values, dtype=np.float64)
        except (TypeError, ValueError):
            raise InputError(field, "Not every entry is a number", "Give numbers only") from None
        if column.ndim != 1:
            raise InputError(field, "It is not one column of numbers", "Give one number a rating")
        _check_length(field, column.size, rows)
        if not np.isfinite(column).all():
            row = int(np.flatnonzero(~np.isfinite(column))[0]) + 1
            raise InputError(field, f"entry {row} is not a finite number", "Leave that rating out")
        if np.ptp(column) == 0.0:
            raise InputError(field, "Every entry is the same", "Leave the column out")
        read[name] = column
    return read
