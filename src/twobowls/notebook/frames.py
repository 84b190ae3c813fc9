"""Data frames of any library, as columns that can be asked for; and tables made into frames.

Owns the messages about frames as a whole. Knows no statistics and no roles of columns.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import PurePath
from typing import Any

import narwhals as nw
import numpy as np
from narwhals.exceptions import DuplicateError, NarwhalsError
from numpy.typing import NDArray

from twobowls.counting import count_of
from twobowls.errors import InputError
from twobowls.interchange.ratings_columns import near

BACKENDS = ("pandas", "polars", "pyarrow", "modin", "cudf", "dict")
_GIVE = "Give a data frame (pandas, polars, pyarrow, ...) or a dict of lists"
_SAMPLE = 1000


@dataclass(frozen=True, slots=True)
class Frame:
    """A frame as it was given: its columns by name, and which library it came from.

    Exactly one of ``native`` and ``plain`` holds the columns. ``index`` has the names of a
    pandas index: they look like columns and are not read.
    """

    columns: tuple[str, ...]
    rows: int
    backend: str
    native: "nw.DataFrame[Any] | None" = None
    plain: Mapping[str, Sequence[Any]] = field(default_factory=dict)
    index: tuple[str, ...] = ()

    def dtype(self, column: str) -> nw.dtypes.DType | None:
        """Return the type of a column; None for a list, whose cells may be of any type."""
        return None if self.native is None else self.native.schema[column]

    def cells(self, column: str, most: int | None = None) -> list[Any]:
        """Return a column as Python objects, or the first of them."""
        if self.native is None:
            return list(self.plain[column][:most])
        series = self.native[column]
        return list((series if most is None else series.head(most)).to_list())

    def floats(self, column: str) -> NDArray[np.float64]:
        """Return a column of a numeric type; missing cells are NaN."""
        assert self.native is not None
        array = self.native[column].cast(nw.Float64).to_numpy()
        return np.array(array, dtype=np.float64)

    def sample_of(self, column: str) -> list[str]:
        """Return the first values of a column as text, without the missing ones."""
        return [str(each).strip() for each in self.cells(column, _SAMPLE) if not is_missing(each)]

    def require(self, role: str, column: object) -> str:
        """Return the name of a column that must be there.

        Raises
        ------
        InputError
            When it is not; the one that was probably meant is offered.
        """
        if isinstance(column, str) and column in self.columns:
            return column
        if not isinstance(column, str):
            raise InputError(
                role, f"{column!r} is not the name of a column", near("", self.columns)
            )
        if column in self.index:
            raise InputError(
                role,
                f"{column!r} is in the index, which is not read",
                "Make it a column first, with reset_index()",
            )
        raise InputError(role, f"the frame has no column {column!r}", near(column, self.columns))

    def copies(self) -> NDArray[np.bool_]:
        """Tell the rows that are the same as an earlier one in every column."""
        try:
            if self.native is not None:
                return self._native_copies(self.native)
            return self._plain_copies()
        except (TypeError, NotImplementedError, NarwhalsError):  # cells such as lists
            return np.zeros(self.rows, dtype=bool)

    def _plain_copies(self) -> NDArray[np.bool_]:
        hashes = np.fromiter(map(hash, zip(*self.plain.values(), strict=True)), np.int64, self.rows)
        _, at, times = np.unique(hashes, return_inverse=True, return_counts=True)
        again = np.zeros(self.rows, dtype=bool)
        first: dict[tuple[Any, ...], int] = {}
        for row in np.flatnonzero(times[at] > 1).tolist():  # -1 and -2 have one hash in Python
            cells = tuple(column[row] for column in self.plain.values())
            again[row] = first.setdefault(cells, row) != row
        return again

    def _native_copies(self, frame: "nw.DataFrame[Any]") -> NDArray[np.bool_]:
        if self.backend == "pyarrow":
            return self._arrow_copies(frame)
        if not frame.is_duplicated().any():
            return np.zeros(self.rows, dtype=bool)
        number = "row"
        while number in self.columns:
            number += "_"
        kept = frame.with_row_index(number).unique(subset=list(self.columns), keep="first")
        return _all_but(kept[number].to_numpy(), self.rows)

    def _arrow_copies(self, frame: "nw.DataFrame[Any]") -> NDArray[np.bool_]:
        """Tell copies by codes of each column: a third of what a grouping of the rows takes."""
        cells = np.zeros(self.rows, dtype=np.int64)
        for name in self.columns:
            column = frame[name].to_native().combine_chunks()
            if isinstance(frame.schema[name], nw.Categorical | nw.Enum):
                column = column.cast(column.type.value_type)
            column = column.dictionary_encode("encode")
            codes = column.indices.to_numpy(zero_copy_only=False).astype(np.int64)
            cells = cells * (len(column.dictionary) + 1) + codes
            if cells.max() > 2**32:
                cells = np.unique(cells, return_inverse=True)[1].astype(np.int64)
        _, first = np.unique(cells, return_index=True)
        return _all_but(first, self.rows)


def read_frame(frame: object) -> Frame:
    """Take a frame of any library that narwhals knows, or a dict of columns.

    Parameters
    ----------
    frame : data frame or dict
        pandas, polars, pyarrow, modin, cudf, and lazy frames, which are collected.

    Raises
    ------
    InputError
        When it is no frame, has no rows or no usable names of columns.

    Examples
    --------
    >>> read_frame({"taster": ["Ana", "Ben"], "mark": [61, 40]}).columns
    ('taster', 'mark')
    >>> read_frame([1, 2])
    Traceback (most recent call last):
    ...
    twobowls.errors.InputError: frame: a list cannot be read. Give a data frame (pandas, polars, \
pyarrow, ...) or a dict of lists.
    """
    if isinstance(frame, Frame):
        return frame
    if isinstance(frame, str | PurePath):
        raise InputError(
            "frame", f"{str(frame)!r} is not a data frame", "Read it first, as pandas.read_csv does"
        )
    read = _from_dict(frame) if isinstance(frame, Mapping) else _from_library(frame)
    if not read.columns:
        raise InputError("frame", "it has no columns", _GIVE)
    if not read.rows:
        raise InputError("frame", "it has no rows", "Add a row for each mark")
    return read


def _from_dict(columns: Mapping[Any, Any]) -> Frame:
    plain: dict[str, Sequence[Any]] = {}
    for name, cells in columns.items():
        _check_name(name)
        if isinstance(cells, str | bytes) or not hasattr(cells, "__iter__"):
            raise InputError(name, f"{cells!r} is not a list of cells", _GIVE)
        plain[name] = cells.tolist() if isinstance(cells, np.ndarray) else list(cells)
    lengths = {name: len(cells) for name, cells in plain.items()}
    rows = max(lengths.values(), default=0)
    for name, length in lengths.items():
        if length != rows:
            raise InputError(
                name,
                f"it has {count_of(length, 'cell')} where another column has {rows}",
                "Make all columns equally long; None stands for a missing cell",
            )
    return Frame(tuple(plain), rows, "dict", plain=plain)


def _from_library(frame: object) -> Frame:
    try:
        read = nw.from_native(frame)  # type: ignore[call-overload]
        if isinstance(read, nw.LazyFrame):
            read = read.collect()
        names = tuple(read.columns)
    except DuplicateError as error:
        twice = str(error).splitlines()[-1].strip("- ")
        raise InputError(
            "frame", f"columns have the same name ({twice})", "Give every column its own name"
        ) from None
    except (TypeError, AttributeError, NarwhalsError):
        raise InputError("frame", f"a {type(frame).__name__} cannot be read", _GIVE) from None
    for name in names:
        _check_name(name)
    backend = str(read.implementation.value)
    return Frame(names, len(read), backend, native=read, index=_index_names(frame))


def _check_name(name: object) -> None:
    if not isinstance(name, str):
        raise InputError(
            "frame", f"a column is called {name!r}, which is not text", "Give columns names of text"
        )


def _index_names(frame: object) -> tuple[str, ...]:
    names = getattr(getattr(frame, "index", None), "names", ())
    return tuple(each for each in names if isinstance(each, str))


def _all_but(first: NDArray[Any], rows: int) -> NDArray[np.bool_]:
    again = np.ones(rows, dtype=bool)
    again[first] = False
    return again


def is_missing(cell: object) -> bool:
    """Tell whether a cell is empty: None, NaN, NaT or NA.

    Examples
    --------
    >>> is_missing(None), is_missing(float("nan")), is_missing("")
    (True, True, False)
    """
    if cell is None:
        return True
    try:
        return bool(cell != cell)
    except (TypeError, ValueError):  # NA has no truth; neither has an array
        return not hasattr(cell, "__len__")


def make_frame(columns: Mapping[str, Sequence[Any]], backend: str) -> Any:
    """Make a frame of some library from columns of Python objects.

    Parameters
    ----------
    columns : mapping of name to sequence
        Equally long columns; None is a missing cell.
    backend : {"pandas", "polars", "pyarrow", "modin", "cudf", "dict"}
        Which library; ``dict`` gives a dict of lists.

    Raises
    ------
    InputError
        When the library is not known or not installed.

    Examples
    --------
    >>> make_frame({"coffee": ("Oro", "Brisa")}, "dict")
    {'coffee': ['Oro', 'Brisa']}
    """
    if backend == "dict":
        return {name: list(cells) for name, cells in columns.items()}
    if backend not in BACKENDS:
        raise InputError(
            "backend", f"{backend!r} is not known", f"Choose one of {', '.join(BACKENDS)}"
        )
    if find_spec(backend) is None:
        raise InputError(
            "backend", f"{backend} is not installed", f"Install it, or choose one that is: {_any()}"
        )
    named: Any = backend  # checked above
    return nw.from_dict(
        {name: list(cells) for name, cells in columns.items()}, backend=named
    ).to_native()


def usual_backend() -> str:
    """Return the library for tables that came from no frame: the first one installed."""
    return next((each for each in BACKENDS[:3] if find_spec(each)), "dict")


def _any() -> str:
    return ", ".join(each for each in BACKENDS if each == "dict" or find_spec(each))
