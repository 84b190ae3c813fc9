"""From labels to whole numbers, and from marks to unique cells.

Owns the encoding of factors and the aggregation of repeated rows. Knows nothing of terms,
priors or fits.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray, IntArray

CHUNK = 1 << 16

Labels = Sequence[str] | Sequence[int] | Sequence[str | int] | NDArray[Any]


@dataclass(frozen=True, slots=True)
class Factor:
    """A factor: ``levels`` in order, and ``codes`` (n,), the level of each row."""

    name: str
    levels: tuple[str, ...]
    codes: IntArray


@dataclass(frozen=True, slots=True)
class Cells:
    """Rows with equal levels gathered: all that a linear model needs to know of them.

    ``counts``, ``sums`` and ``squares`` are (cells,); ``sums`` and ``squares`` are of the values
    minus ``centre``, and ``square_sum`` is the sum of squares of the same over all rows.
    """

    factors: dict[str, Factor]
    counts: FloatArray
    sums: FloatArray
    squares: FloatArray
    square_sum: float
    centre: float
    rows: int


class _Numbering(dict[object, int]):
    """Gives each new key the next whole number."""

    def __missing__(self, key: object) -> int:
        number = len(self)
        self[key] = number
        return number


def encode(name: str, labels: Labels) -> Factor:
    """Give the levels of a factor numbers, in natural order (whole numbers by size).

    Labels are read in chunks, so that a million of them in an array never become a million
    Python strings at once.

    Examples
    --------
    >>> encode("position", ["10", "9", "10"]).levels
    ('9', '10')
    """
    numbering = _Numbering()
    count = len(labels)
    codes = np.empty(count, dtype=np.intp)
    for start in range(0, count, CHUNK):
        chunk = labels[start : start + CHUNK]
        items = chunk.tolist() if isinstance(chunk, np.ndarray) else chunk
        codes[start : start + CHUNK] = np.fromiter(
            map(numbering.__getitem__, items), dtype=np.intp, count=len(items)
        )
    _refuse_blanks(name, numbering, codes)
    texts = [str(key) for key in numbering]
    levels = tuple(sorted(set(texts), key=_order(texts)))
    place = {text: index for index, text in enumerate(levels)}
    lookup = np.array([place[text] for text in texts], dtype=np.intp)
    return Factor(name, levels, lookup[codes] if count else codes)


def _refuse_blanks(name: str, numbering: dict[object, int], codes: IntArray) -> None:
    for key, number in numbering.items():
        blank = key is None or key != key or (isinstance(key, str) and not key.strip())
        if blank:
            row = int(np.argmax(codes == number)) + 1
            raise InputError(
                name, f"mark {row} does not say which {name}", f"Name the {name} of every mark"
            )


def _order(texts: list[str]) -> Callable[[str], tuple[int, str]]:
    """Return the sort key: by number if all levels are whole numbers, else by text."""
    if all(text.isdecimal() for text in texts):
        return lambda text: (int(text), text)
    return lambda text: (0, text)


def gather(values: FloatArray, factors: dict[str, Factor]) -> Cells:
    """Add up the rows that share all levels.

    Parameters
    ----------
    values : FloatArray
        (n,) finite numbers.
    factors : dict of Factor
        Each with n codes.
    """
    centre = float(values.mean())
    deviations = values - centre
    keys = np.zeros(len(values), dtype=np.intp)
    for factor in factors.values():
        keys = _compress(keys * len(factor.levels) + factor.codes)
    size = int(keys.max()) + 1
    counts: FloatArray = np.bincount(keys, minlength=size).astype(np.float64)
    sums = np.asarray(np.bincount(keys, deviations, size), dtype=np.float64)
    first = np.empty(size, dtype=np.intp)
    first[keys] = np.arange(len(keys))
    kept = {
        name: Factor(name, factor.levels, factor.codes[first]) for name, factor in factors.items()
    }
    square_sum = float(deviations @ deviations)
    deviations *= deviations  # in place: a million marks need no third array
    squares = np.asarray(np.bincount(keys, deviations, size), dtype=np.float64)
    return Cells(kept, counts, sums, squares, square_sum, centre, len(values))


def weighted(cells: Cells, weights: FloatArray) -> Cells:
    """Let the marks of each cell count ``weights`` (cells,) times.

    Slips of a weight w have the residual variance over w. ``rows`` stays the number of marks.
    """
    squares = cells.squares * weights
    return Cells(
        cells.factors,
        cells.counts * weights,
        cells.sums * weights,
        squares,
        float(squares.sum()),
        cells.centre,
        cells.rows,
    )


def _compress(keys: IntArray) -> IntArray:
    """Renumber keys 0, 1, ... in order, without sorting when the range is small."""
    span = int(keys.max()) + 1
    if span > 4 * len(keys) + 1024:
        return np.unique(keys, return_inverse=True)[1].astype(np.intp, copy=False)
    present = np.zeros(span, dtype=np.intp)
    present[keys] = 1
    return (np.cumsum(present) - 1)[keys]


def combine(factors: Sequence[Factor]) -> tuple[IntArray, int]:
    """Cross factors: the code of each row in the full grid, and the size of the grid."""
    size = 1
    codes: IntArray = np.zeros(len(factors[0].codes) if factors else 0, dtype=np.intp)
    for factor in factors:
        codes = codes * len(factor.levels) + factor.codes
        size *= len(factor.levels)
    return codes, size
