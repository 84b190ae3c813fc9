"""Ratings as columns: one row a mark, every label coded once. Knows no file and no tasting."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Scale = Literal["intensity", "liking"]
SCALES: tuple[Scale, ...] = ("intensity", "liking")

Codes = NDArray[np.int32]
Values = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Factor:
    """A column of labels: ``labels[codes[i]]`` is the label of row i; -1 is not given.

    Examples
    --------
    >>> brew = Factor.of(["Ayla", "Brisa", "Ayla"])
    >>> brew.labels, brew.codes.tolist()
    (('Ayla', 'Brisa'), [0, 1, 0])
    """

    labels: tuple[str, ...]
    codes: Codes

    @classmethod
    def of(cls, values: Iterable[str | None]) -> "Factor":
        """Code the labels in order of appearance; None is not given."""
        index: dict[str, int] = {}
        codes = [-1 if each is None else index.setdefault(each, len(index)) for each in values]
        return cls(tuple(index), np.array(codes, dtype=np.int32))

    def take(self, rows: NDArray[np.intp] | NDArray[np.bool_]) -> "Factor":
        """Return the factor at some rows, without the labels that no longer occur.

        Examples
        --------
        >>> Factor.of(["Ayla", "Brisa", "Ayla"]).take(np.array([0, 2])).labels
        ('Ayla',)
        """
        codes = self.codes[rows]
        used = np.unique(codes[codes >= 0])
        if len(used) == len(self.labels):
            return Factor(self.labels, codes)
        renumber = np.full(len(self.labels) + 1, -1, dtype=np.int32)
        renumber[used] = np.arange(len(used), dtype=np.int32)
        return Factor(tuple(self.labels[each] for each in used), renumber[codes])

    def values(self) -> list[str | None]:
        """Return the labels row by row."""
        return [None if each < 0 else self.labels[each] for each in self.codes.tolist()]


@dataclass(frozen=True, slots=True, kw_only=True)
class RatingTable:
    """Marks of any tasting or file, ready to be fitted.

    Parameters
    ----------
    taster, coffee : Factor
        Who marked, and what; given in every row.
    sensation : Factor or None
        None when the table has one sensation only; it is then called after ``names``.
    round, position, bowl, flight, repeat : Factor or None
        None when unknown.
    intensity, liking : array or None
        Values in ``limits`` units, NaN where not judged; None when nobody was asked.
    kept : array or None
        Which marks were kept from a former round; None where nobody could keep any, or where it
        is not known.
    limits : dict
        Lowest and highest value of each scale.
    names : dict
        What the only sensation is called, by scale, where ``sensation`` is None.
    """

    taster: Factor
    coffee: Factor
    sensation: Factor | None = None
    round: Factor | None = None
    position: Factor | None = None
    bowl: Factor | None = None
    flight: Factor | None = None
    repeat: Factor | None = None
    intensity: Values | None = None
    liking: Values | None = None
    kept: Flags | None = None
    limits: dict[Scale, tuple[float, float]] = field(default_factory=dict)
    names: dict[Scale, str] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.taster.codes)

    def values(self, scale: Scale) -> Values | None:
        """Return the column of one scale."""
        return self.intensity if scale == "intensity" else self.liking

    def without(self, names: Iterable[str]) -> "RatingTable":
        """Return the table without some of its optional factors."""
        gone = set(names)
        return replace(
            self,
            round=None if "round" in gone else self.round,
            position=None if "position" in gone else self.position,
            bowl=None if "bowl" in gone else self.bowl,
            flight=None if "flight" in gone else self.flight,
            repeat=None if "repeat" in gone else self.repeat,
        )

    def parts(self) -> Iterator["Part"]:
        """Yield each sensation on each scale that has any mark, sensation by sensation.

        A mark that was kept from a former round is no new evidence: it and the fresh one that it
        repeats are one placing, and the fresh one stands for both. A kept mark whose fresh one
        is not here (it was changed afterwards) stands for itself.
        """
        names = ("",) if self.sensation is None else self.sensation.labels
        for number, name in enumerate(names):
            for scale in SCALES:
                values = self.values(scale)
                if values is None:
                    continue
                there = ~np.isnan(values) & ~self._repeated(values)
                if self.sensation is not None:
                    there &= self.sensation.codes == number
                if there.any():
                    yield Part(self, name or self.names[scale], scale, np.flatnonzero(there))

    def _repeated(self, values: Values) -> Flags:
        """Which rows are kept from another row: of one taster, bowl, sensation and value.

        Of kept rows alike without a fresh one, the first stands.
        """
        if self.kept is None or not self.kept.any():
            return np.zeros(len(self), dtype=np.bool_)
        vessel = self.coffee if self.bowl is None else self.bowl
        factors = [self.taster, self.coffee, vessel]
        factors += [] if self.sensation is None else [self.sensation]
        columns = [*(each.codes.astype(np.float64) for each in factors), values]
        order = np.argsort(self.kept, kind="stable")  # the fresh ones first
        rows = np.column_stack(columns)[order]
        placing = np.unique(rows, axis=0, return_index=True)[1]
        first = np.zeros(len(self), dtype=np.bool_)
        first[order[placing]] = True
        return self.kept & ~first


@dataclass(frozen=True, slots=True)
class Part:
    """The rows of one sensation on one scale."""

    table: RatingTable
    sensation: str
    scale: Scale
    rows: NDArray[np.intp]

    @property
    def y(self) -> Values:
        """The marks themselves."""
        values = self.table.values(self.scale)
        assert values is not None
        return values[self.rows]

    @property
    def limits(self) -> tuple[float, float]:
        """Lowest and highest value that the scale has."""
        return self.table.limits[self.scale]

    def factor(self, name: str) -> Factor | None:
        """Return one of the table's factors at these rows; None if it says nothing here.

        A factor with the same label in every row, or without any, says nothing; ``taster``
        and ``coffee`` are always returned.
        """
        whole: Factor | None = getattr(self.table, name)
        if whole is None:
            return None
        here = whole.take(self.rows)
        if name in ("taster", "coffee"):
            return here
        return here if len(here.labels) > 1 and (here.codes >= 0).all() else None
