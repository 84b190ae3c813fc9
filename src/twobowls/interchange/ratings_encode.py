"""Turns the rows of a delimited file into coded columns, chunk by chunk, noting every bad cell.

Only the mapped columns are kept, as 4-byte codes and 8-byte numbers, so that a million rows
take seconds and little memory.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from twobowls.counting import count_of
from twobowls.debrief.rating_table import Factor, Values
from twobowls.errors import InputError
from twobowls.interchange.delimited import Delimited, is_missing

T = TypeVar("T", bound=np.generic)

# What R and pandas write for "no label". Not "none" or "Na": people and coffees have such names.
NO_LABEL = frozenset({"", "NA", "N/A", "NaN", "nan", "NULL", "null"})
_CHUNK = 20_000
_MOST_ERRORS = 200


@dataclass(slots=True)
class Columns:
    """The coded columns of a file.

    ``lines`` are line numbers in the file; ``copies`` tells rows that repeat an earlier row in
    every column, the unmapped ones too. ``bad`` marks rows with an error; ``errors`` lists the
    first 200 of them and ``error_count`` counts all.
    """

    factors: dict[str, Factor]
    values: dict[str, Values]
    lines: NDArray[np.int64]
    copies: NDArray[np.bool_]
    bad: NDArray[np.bool_]
    errors: list[InputError]
    error_count: int


def encode(told: Delimited, factors: dict[str, str], values: dict[str, str]) -> Columns:
    r"""Read all rows.

    Parameters
    ----------
    told : Delimited
        The file.
    factors : dict
        Column of labels by the name it gets.
    values : dict
        Column of numbers by the name it gets.

    Returns
    -------
    Columns
        Missing labels have code -1 and missing numbers are NaN; neither is an error here.

    Examples
    --------
    >>> from twobowls.interchange.delimited import sniff
    >>> told = sniff(b"who,what,mark\nA,x,3\nB,x,n/a\n")
    >>> read = encode(told, {"taster": "who"}, {"y": "mark"})
    >>> read.factors["taster"].labels, read.values["y"].tolist()
    (('A', 'B'), [3.0, nan])
    """
    reader = _Reader(told, factors, values)
    for lines, rows in _chunks(told.rows()):
        reader.take(lines, rows)
    return reader.columns()


def _chunks(
    rows: Iterator[tuple[int, list[str]]],
) -> Iterator[tuple[list[int], list[list[str]]]]:
    while chunk := list(islice(rows, _CHUNK)):
        yield [line for line, _ in chunk], [row for _, row in chunk]


@dataclass(slots=True)
class _Labels:
    """The codes of one column of labels; the same text always gets the same code."""

    seen: dict[str, int] = field(default_factory=dict)
    labels: dict[str, int] = field(default_factory=dict)
    codes: list[NDArray[np.int32]] = field(default_factory=list)

    def take(self, cells: Sequence[str]) -> None:
        for raw in dict.fromkeys(cells):
            if raw not in self.seen:
                bare = " ".join(raw.split())
                code = -1 if bare in NO_LABEL else self.labels.setdefault(bare, len(self.labels))
                self.seen[raw] = code
        self.codes.append(np.fromiter(map(self.seen.__getitem__, cells), np.int32, len(cells)))

    def factor(self) -> Factor:
        return Factor(tuple(self.labels), _joined(self.codes, np.int32))


class _Reader:
    def __init__(self, told: Delimited, factors: dict[str, str], values: dict[str, str]) -> None:
        self.width = len(told.columns)
        self.comma = told.decimal == ","
        self.places = {name: told.columns.index(column) for name, column in factors.items()}
        self.number_places = {name: told.columns.index(column) for name, column in values.items()}
        self.columns_of = {**factors, **values}
        self.labels = {name: _Labels() for name in factors}
        self.numbers: dict[str, list[Values]] = {name: [] for name in values}
        self.lines: list[NDArray[np.int64]] = []
        self.hashes: list[NDArray[np.int64]] = []
        self.bad: set[int] = set()
        self.errors: list[InputError] = []
        self.error_count = 0
        self.done = 0

    def take(self, lines: list[int], rows: list[list[str]]) -> None:
        self._square(lines, rows)
        cells = list(zip(*rows, strict=True))
        for name, labels in self.labels.items():
            labels.take(cells[self.places[name]])
        for name, place in self.number_places.items():
            self.numbers[name].append(self._parse(name, cells[place], lines))
        self.lines.append(np.array(lines, dtype=np.int64))
        self.hashes.append(np.fromiter(map(hash, map(tuple, rows)), np.int64, len(rows)))
        self.done += len(rows)

    def columns(self) -> Columns:
        lines = _joined(self.lines, np.int64)
        bad = np.zeros(len(lines), dtype=bool)
        bad[list(self.bad)] = True
        return Columns(
            factors={name: labels.factor() for name, labels in self.labels.items()},
            values={name: _joined(parts, np.float64) for name, parts in self.numbers.items()},
            lines=lines,
            copies=_repeated(_joined(self.hashes, np.int64)),
            bad=bad,
            errors=self.errors,
            error_count=self.error_count,
        )

    def _square(self, lines: list[int], rows: list[list[str]]) -> None:
        """Cut or fill rows of the wrong width, and note each as an error."""
        for number, row in enumerate(rows):
            if len(row) != self.width:
                if any(cell.strip() for cell in row[self.width :]) or len(row) < self.width:
                    self._note(
                        number,
                        "cells",
                        f"{count_of(len(row), 'cell')} where the header has {self.width}",
                        "Check the line for a missing or unquoted delimiter",
                        lines[number],
                    )
                rows[number] = [*row[: self.width], *[""] * (self.width - len(row))]

    def _parse(self, name: str, cells: Sequence[str], lines: list[int]) -> Values:
        if self.comma:
            cells = [cell.replace(",", ".") for cell in cells]
        try:
            parsed = np.fromiter(map(float, cells), np.float64, len(cells))
        except ValueError:
            parsed = np.full(len(cells), np.nan)
            for number, cell in enumerate(cells):
                parsed[number] = self._number(name, cell, number, lines[number])
        for number in np.flatnonzero(np.isinf(parsed)).tolist():
            parsed[number] = np.nan
            self._note(
                number,
                self.columns_of[name],
                f"{cells[number].strip()!r} is not a finite number",
                "Give a number, or leave the cell empty",
                lines[number],
            )
        return parsed

    def _number(self, name: str, cell: str, number: int, line: int) -> float:
        if is_missing(cell):
            return math.nan
        try:
            return float(cell)
        except ValueError:
            self._note(
                number,
                self.columns_of[name],
                f"{cell.strip()[:40]!r} is not a number",
                "Give a number, or leave the cell empty",
                line,
            )
            return math.nan

    def _note(self, number: int, field_name: str, problem: str, cure: str, line: int) -> None:
        self.bad.add(self.done + number)
        self.error_count += 1
        if len(self.errors) < _MOST_ERRORS:
            self.errors.append(InputError(field_name, problem, cure, line))


def _joined(parts: Iterable[NDArray[T]], kind: type[T]) -> NDArray[T]:
    pieces = list(parts)
    return np.concatenate(pieces) if pieces else np.empty(0, dtype=kind)


def _repeated(hashes: NDArray[np.int64]) -> NDArray[np.bool_]:
    _, first = np.unique(hashes, return_index=True)
    again = np.ones(len(hashes), dtype=bool)
    again[first] = False
    return again
