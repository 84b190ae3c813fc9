"""The columns that one call asks for: found by name, checked cell by cell, kept row by row.

Owns the messages about columns that are missing, doubled, half empty or of several sensations.
Knows no statistics.
"""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

import numpy as np
from numpy.typing import NDArray

from twobowls.counting import counts_are
from twobowls.debrief.rating_table import Factor, Values
from twobowls.errors import InputError
from twobowls.interchange.ratings_columns import WHOLE_NAME, name_match, near
from twobowls.interchange.ratings_labels import apply_merges, likely_merges
from twobowls.interchange.ratings_wording import CALL
from twobowls.notebook.cells import labels, numbers
from twobowls.notebook.frames import read_frame
from twobowls.notebook.marks import first_of, merges
from twobowls.notebook.tables import Table, rows_table

Rows = NDArray[np.bool_]

# Everyday names of columns that only these calls know, in the order in which they are believed.
_NAMES: dict[str, tuple[str, ...]] = {
    "category": ("category", "rating", "score", "points", "response"),
    "mark": ("mark", "intensity", "liking", "score", "rating", "value", "response"),
    "rank": ("rank", "ranking"),
    "answer": ("answer", "pick", "picked", "choice", "chosen", "winner"),
    "right": ("right", "correct", "hit", "success"),
    "word": ("word", "term", "descriptor", "family", "flavour", "flavor"),
    "strength": ("strength", "concentration", "dose", "level"),
    "question": ("question",),
    "for_a": ("for_a", "wins_a"),
    "for_b": ("for_b", "wins_b"),
    "same": ("same", "ties"),
    "trials": ("trials", "n", "of", "answers"),
    "a": ("a", "bowl_a", "coffee_a", "first", "left"),
    "b": ("b", "bowl_b", "coffee_b", "second", "right"),
}
_MOST_OFFERED = 8


class Asked:
    """What one call wants of a frame.

    Parameters
    ----------
    frame : data frame or dict
        As it was given.
    merge : mapping of text to text, optional
        Spellings to be read as others.
    """

    def __init__(self, frame: object, merge: Mapping[str, str] | None = None) -> None:
        self.frame = read_frame(frame)
        self.merge = merges(merge)
        self.merged: set[str] = set()
        self.seen: dict[str, tuple[str, ...]] = {}
        self.used: dict[str, str] = {}
        self.told: set[str] = set()
        self.cautions: list[str] = []
        self.offers: dict[str, str] = {}

    def find(self, role: str, stated: str | None, *, needed: bool = True) -> str | None:
        """Return the column of a role: the stated one, or one that is called like it."""
        if stated is not None:
            self.told.add(role)
            return self._take(role, self.frame.require(role, stated))
        free = [each for each in self.frame.columns if each not in self.used.values()]
        found = _called(role, free)
        if len(found) > 1 and role in _NAMES:
            raise InputError(
                role, f"it could be {' or '.join(map(repr, found))}", f"Say which with {role}="
            )
        if len(found) > 1:
            others = " or ".join(map(repr, found[1:]))
            self.cautions.append(
                f"The {role} was taken from {found[0]!r}; it could also be {others}. "
                f"Say which with {role}=."
            )
        if found:
            return self._take(role, found[0])
        if needed:
            raise InputError(
                role,
                f"no column looks like it among {', '.join(self.frame.columns[:30])}",
                f"Name it with {role}=",
            )
        return None

    def _take(self, role: str, column: str) -> str:
        for other, taken in self.used.items():
            if taken == column:
                raise InputError(
                    role, f"the column {column!r} is already the {other}", "Name another column"
                )
        self.used[role] = column
        return column

    def labels(self, role: str, stated: str | None, *, dates: bool = False) -> Factor:
        """Return a column of labels that must be there."""
        column = self.find(role, stated)
        assert column is not None
        return self._labels(role, column, dates=dates)

    def maybe_labels(self, role: str, stated: str | None, *, dates: bool = False) -> Factor | None:
        """Return a column of labels, or None when there is none like it."""
        column = self.find(role, stated, needed=False)
        return None if column is None else self._labels(role, column, dates=dates)

    def _labels(self, role: str, column: str, *, dates: bool) -> Factor:
        factor = labels(self.frame, column, dates=dates)
        self.seen[role] = factor.labels
        for merge in self.merge:
            if merge.old in factor.labels:
                self.merged.add(merge.old)
                factor = apply_merges({role: factor}, [merge])[role]
        return factor

    def numbers(self, role: str, stated: str | None) -> Values:
        """Return a column of numbers that must be there."""
        column = self.find(role, stated)
        assert column is not None
        return self.only_numbers(column)

    def maybe_numbers(self, role: str, stated: str | None) -> Values | None:
        """Return a column of numbers, or None when there is none like it."""
        column = self.find(role, stated, needed=False)
        return None if column is None else self.only_numbers(column)

    def only_numbers(self, column: str) -> Values:
        """Return a column that must hold numbers and gaps only."""
        errors: list[InputError] = []

        def note(row: int, problem: str, cure: str) -> None:
            errors.append(InputError(column, problem, cure, row))

        values = numbers(self.frame, column, note)
        if errors:
            raise first_of(errors, len(errors), "filter the frame")
        return values

    def whether(self, role: str, stated: str | None) -> Values:
        """Return a column of true/false (or 1/0) as 1.0 and 0.0, NaN where missing."""
        column = self.find(role, stated)
        assert column is not None
        cells = self.frame.cells(column)
        read = [_whether(cell) for cell in cells]
        for row, (cell, value) in enumerate(zip(cells, read, strict=True)):
            if value is None:
                raise InputError(
                    column,
                    f"{str(cell)[:40]!r} is neither true nor false",
                    "Give true or false, or 1 or 0",
                    row,
                )
        return np.array(read, dtype=np.float64)

    def one_of_each(self, role: str = "sensation") -> None:
        """Refuse a frame that holds several sensations in one column."""
        free = [each for each in self.frame.columns if each not in self.used.values()]
        column = next(iter(_called(role, free)), None)
        if column is None:
            return
        kinds = labels(self.frame, column, dates=True).labels
        if len(kinds) > 1:
            listed = ", ".join(kinds[:8]) + (", ..." if len(kinds) > 8 else "")
            raise InputError(
                role,
                f"the column {column!r} holds {len(kinds)} of them ({listed})",
                "Keep one, and call once for each",
            )

    def keep(
        self,
        judged: Mapping[str, Values | Factor],
        given: Mapping[str, Factor | None],
        *,
        once: bool = False,
    ) -> Rows:
        """Return the rows that count: what is judged is there, and changed marks are out.

        ``given`` must be there wherever something is judged. With ``once`` it does no harm
        that rows are there twice.

        Raises
        ------
        InputError
            When a row is judged but does not say who or what, or no row is left.
        """
        there = np.ones(self.frame.rows, dtype=bool)
        for role, column in judged.items():
            gone = ~_there(column)
            if gone.any():
                self.cautions.append(
                    f"{role}: {counts_are(int(gone.sum()), 'row')} without one, left out."
                )
            there &= ~gone
        there &= self._standing()
        for role, factor in given.items():
            if factor is None:
                continue
            for row in np.flatnonzero(there & (factor.codes < 0))[:1].tolist():
                raise InputError(
                    self.used.get(role, role),
                    f"the {role} is missing",
                    f"Say which {role} it is, or leave the row out",
                    row,
                )
        self._check_merges()
        if given.get("taster") is not None and not once:
            self._copies(there)
        if not there.any():
            raise InputError("frame", "no row can be used", f"Fill in {' and '.join(judged)}")
        return there

    def _standing(self) -> Rows:
        """Leave out marks that were changed later, in a frame of our own export."""
        if "counts" not in self.frame.columns or "counts" in self.used.values():
            return np.ones(self.frame.rows, dtype=bool)
        counts = self.only_numbers("counts")
        old = int((counts == 0).sum())
        if not np.isin(counts, (0, 1)).all():
            return np.ones(self.frame.rows, dtype=bool)
        if old:
            self.cautions.append(
                f"{counts_are(old, 'row')} left out: those marks were changed later (counts is 0)."
            )
        return np.asarray(counts == 1)

    def _copies(self, there: Rows) -> None:
        """Caution of rows that somebody may have pasted twice."""
        copies = int((self.frame.copies() & there).sum())
        if copies:
            self.cautions.append(
                f"{counts_are(copies, 'row')} the same as an earlier one in every column. "
                "Counted as made "
                "again; if they are copies, drop them first."
            )

    @contextmanager
    def naming(self, **roles: str) -> Iterator[None]:
        """Give errors of the core, which speak of arrays, the names of this frame's columns."""
        try:
            yield
        except InputError as error:
            role = roles.get(error.field)
            if role is None:
                raise
            field = self.used.get(role, role)
            raise InputError(field, error.problem, error.cure, error.row) from None

    def _check_merges(self) -> None:
        known = [each for found in self.seen.values() for each in found]
        for merge in self.merge:
            if merge.old not in self.merged:
                raise InputError("merge", f"no label is {merge.old!r}", near(merge.old, known))

    def spellings(self, role: str, factor: Factor, cells: NDArray[Any] | None = None) -> None:
        """Caution of names that may be one in two spellings."""
        for old, new in likely_merges(factor, cells)[:_MOST_OFFERED]:
            self.offers[old] = new
            self.cautions.append(
                f"{role}: {old!r} and {new!r} may be one {role} in two spellings. They are kept "
                f"apart; to join them, add {CALL.merge(old, new)}."
            )

    def columns_table(self) -> Table:
        """Return which column was taken for what."""
        rows = [
            (
                role,
                column,
                "as you said" if role in self.told else f"by its name; change with {role}=",
            )
            for role, column in self.used.items()
        ]
        return rows_table("columns", "Columns", ("what", "column", "how"), rows)


def refuse_doubles(first: str, one: Factor, second: str, two: Factor, rows: Rows) -> None:
    """Refuse a frame in which somebody has two rows for the same thing.

    Raises
    ------
    InputError
        Naming both rows, counted from 0.
    """
    places = np.flatnonzero(rows)
    cells = one.codes[places].astype(np.int64) * (len(two.labels) + 1) + two.codes[places]
    _, firsts, inverse = np.unique(cells, return_index=True, return_inverse=True)
    again = np.flatnonzero(firsts[inverse] != np.arange(len(cells)))
    if again.size:
        row = int(places[again[0]])
        earlier = int(places[firsts[inverse[again[0]]]])
        raise InputError(
            first,
            f"{one.labels[one.codes[row]]!r} has two rows for the {second} "
            f"{two.labels[two.codes[row]]!r} (rows {earlier} and {row})",
            f"Keep one row for each {first} and {second}: one round, or the mean",
        )


def texts(factor: Factor, rows: Rows) -> list[str]:
    """Return the labels of some rows."""
    return [factor.labels[code] for code in factor.codes[rows].tolist()]


def pivot(one: Factor, two: Factor, values: Values, rows: Rows) -> Values:
    """Return a table of values, one factor down, the other across, NaN for gaps."""
    table = np.full((len(one.labels), len(two.labels)), np.nan)
    table[one.codes[rows], two.codes[rows]] = values[rows]
    return table


def _called(role: str, columns: Sequence[str]) -> list[str]:
    """Return the columns that are called like a role, the likeliest name first."""
    if role in _NAMES:
        lower = {each.casefold(): each for each in reversed(columns)}
        return [lower[name] for name in _NAMES[role] if name in lower]
    marks: dict[str, float] = {each: name_match(each, role) for each in columns}  # type: ignore[arg-type]
    fitting = [each for each in columns if marks[each] >= WHOLE_NAME]
    return sorted(fitting, key=lambda each: -marks[each])


def _there(column: Values | Factor) -> Rows:
    if isinstance(column, Factor):
        return np.asarray(column.codes >= 0)
    return ~np.isnan(column)


def _whether(cell: Any) -> float | None:
    if isinstance(cell, bool | np.bool_):
        return float(cell)
    if isinstance(cell, int | float | np.number) and cell in (0, 1):
        return float(cell)
    try:
        return float("nan") if cell is None or bool(cell != cell) else None
    except (TypeError, ValueError):
        return float("nan")
