"""Cells of a column as labels or as numbers: what fits is taken, what does not is told.

Never guesses: a column of the wrong kind is refused with its name, a single bad cell is noted
with its row. Rows are counted from 0, as frames count them.
"""

import datetime
import math
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import narwhals as nw
import numpy as np

from twobowls.debrief.rating_table import Factor, Values
from twobowls.errors import InputError
from twobowls.interchange.ratings_encode import NO_LABEL
from twobowls.notebook.frames import Frame, is_missing

Note = Callable[[int, str, str], None]
"""Takes the row, the problem and the cure of one bad cell."""

_NUMBERS = (int, float, Decimal, np.integer, np.floating)
_BOOLEANS = (bool, np.bool_)
_DATES = (datetime.date, datetime.datetime, datetime.time, datetime.timedelta, np.datetime64)
_CURE = "Give a number, or leave the cell empty"
_LARGEST = 1e100  # its square is still a number


def labels(frame: Frame, column: str, field: str = "", *, dates: bool = False) -> Factor:
    """Return a column of names as a factor.

    Parameters
    ----------
    frame : Frame
        The frame.
    column : str
        One of its columns: text, categories, whole numbers or true/false.
    field : str
        What the column is called in messages, if not by its name.
    dates : bool
        Whether dates are labels too (rounds may be days).

    Returns
    -------
    Factor
        Missing cells have code -1. Ordered categories, numbers and dates are in their order,
        other labels in that of their first row.

    Raises
    ------
    InputError
        For cells that name nothing: numbers with decimals, lists, dates; and for a number and
        a text that look the same.

    Examples
    --------
    >>> from twobowls.notebook.frames import read_frame
    >>> found = labels(read_frame({"who": ["Ana", None, " Ana "]}), "who")
    >>> found.labels, found.codes.tolist()
    (('Ana',), [0, -1, 0])
    """
    cells = frame.cells(column)
    try:
        kinds = dict.fromkeys(cells)
    except TypeError:  # a list or a dict in a cell
        cells = [None if is_missing(each) else each for each in cells]
        bad = next(each for each in cells if not _hashable(each))
        raise _unfit(field or column, f"a {type(bad).__name__} in a cell is no name") from None
    _refuse_mixture(cells, field or column)
    texts = {each: _label(each, field or column, dates=dates) for each in kinds}
    _refuse_twins(texts, field or column)
    order = _order(frame, column, texts)
    place = {text: code for code, text in enumerate(order)}
    codes = {each: -1 if text is None else place[text] for each, text in texts.items()}
    coded = np.fromiter(map(codes.__getitem__, cells), np.int32, len(cells))
    return Factor(tuple(order), coded)


def numbers(frame: Frame, column: str, note: Note, field: str = "") -> Values:
    """Return a column of numbers, NaN where a cell is missing or bad.

    Parameters
    ----------
    frame : Frame
        The frame.
    column : str
        One of its columns.
    note : callable
        Is told each bad cell.
    field : str
        What the column is called in messages, if not by its name.

    Raises
    ------
    InputError
        When the whole column is of another kind: text, dates, true/false, categories.

    Examples
    --------
    >>> from twobowls.notebook.frames import read_frame
    >>> bad = []
    >>> numbers(read_frame({"mark": [61, None, "x"]}), "mark", lambda *each: bad.append(each[:2]))
    array([61., nan, nan])
    >>> bad
    [(2, "'x' is not a number")]
    """
    dtype = frame.dtype(column)
    if dtype is not None and dtype.is_numeric():
        values = frame.floats(column)
    else:
        _refuse_kind(dtype, field or column)
        values = _numbers(frame.cells(column), field or column, note)
    for row in np.flatnonzero(np.abs(values) > _LARGEST).tolist():
        what = "not a finite number" if np.isinf(values[row]) else "too large"
        note(row, f"{values[row]} is {what}", _CURE)
        values[row] = np.nan
    return values


def _label(cell: Any, field: str, *, dates: bool) -> str | None:
    if isinstance(cell, str):
        bare = " ".join(cell.split())
        if not bare.isascii() and any("\ud800" <= each <= "\udfff" for each in bare):
            raise _unfit(field, f"{bare!r} is no text: it was read in the wrong encoding")
        return None if bare in NO_LABEL else bare
    if is_missing(cell):
        return None
    if isinstance(cell, _BOOLEANS):
        return str(bool(cell))
    if isinstance(cell, _NUMBERS):
        if cell % 1 != 0:
            raise _unfit(field, f"{cell} is a number with decimals, not a name")
        return str(int(cell))
    if isinstance(cell, _DATES):
        if not dates:
            raise _unfit(field, f"it holds dates, such as {_dated(cell)}")
        return _dated(cell)
    raise _unfit(field, f"a {type(cell).__name__} in a cell is no name")


def _dated(cell: Any) -> str:
    text = str(cell)
    return text.removesuffix(" 00:00:00")


def _unfit(field: str, problem: str) -> InputError:
    return InputError(field, problem, "Name the column that has the labels, or make this one text")


def _hashable(cell: Any) -> bool:
    try:
        hash(cell)
    except TypeError:
        return False
    return True


def _refuse_mixture(cells: list[Any], field: str) -> None:
    """Refuse true/false beside other labels: in Python True and 1 are the same key."""
    kinds = {type(cell) for cell in cells}
    others = {kind for kind in kinds if kind is not bool and issubclass(kind, (str, *_NUMBERS))}
    if bool in kinds and others - {float}:  # a float may be a missing cell
        raise InputError(
            field,
            "it holds true or false beside other labels",
            "Make the column all text",
        )


def _refuse_twins(texts: dict[Any, str | None], field: str) -> None:
    """Refuse 1 beside "1": nobody can tell whether they are the same."""
    kinds: dict[str, bool] = {}
    for cell, text in texts.items():
        if text is not None and kinds.setdefault(text, isinstance(cell, str)) != isinstance(
            cell, str
        ):
            raise InputError(
                field,
                f"it holds {text} as a number and {text!r} as text",
                "Make the column all text or all numbers",
            )


def _order(frame: Frame, column: str, texts: dict[Any, str | None]) -> list[str]:
    used = dict.fromkeys(text for text in texts.values() if text is not None)
    dtype = frame.dtype(column)
    if isinstance(dtype, nw.Enum):
        known = [" ".join(str(each).split()) for each in dtype.categories]
        return [each for each in dict.fromkeys(known) if each in used]
    cells = [cell for cell, text in texts.items() if text is not None]
    sortable = (_NUMBERS, _DATES)
    if any(all(isinstance(cell, kind) for cell in cells) for kind in sortable):
        try:
            return list(dict.fromkeys(str(texts[cell]) for cell in sorted(cells)))
        except TypeError:  # days beside hours, or times with and without a zone
            return list(used)
    return list(used)


def _refuse_kind(dtype: nw.dtypes.DType | None, field: str) -> None:
    if dtype is None:
        return
    if isinstance(dtype, nw.Boolean):
        raise InputError(field, "it holds true and false", "Name a column of numbers")
    if isinstance(dtype, nw.Categorical | nw.Enum):
        raise InputError(
            field,
            "it holds categories",
            "Make them numbers if their distances mean something, or ask twobowls.categories",
        )
    if dtype.is_temporal():
        raise InputError(field, "it holds dates or times", "Name a column of numbers")


def _numbers(cells: list[Any], field: str, note: Note) -> Values:
    there = [cell for cell in cells if not is_missing(cell)]
    if there and not any(isinstance(cell, _NUMBERS) for cell in there):
        what = f"{str(there[0])[:40]!r}"
        raise InputError(
            field,
            f"it holds no numbers, but {what}",
            "Make it numbers first, for example with pandas.to_numeric",
        )
    return np.array([_number(row, cell, note) for row, cell in enumerate(cells)], dtype=np.float64)


def _number(row: int, cell: Any, note: Note) -> float:
    if is_missing(cell):
        return math.nan
    if isinstance(cell, _NUMBERS) and not isinstance(cell, _BOOLEANS):
        return float(cell)
    note(row, f"{str(cell)[:40]!r} is not a number", _CURE)
    return math.nan
