"""Delimited text as people have it: finds the encoding, the delimiter and the decimal sign."""

import codecs
import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from io import BufferedIOBase, BytesIO, TextIOWrapper
from pathlib import Path
from typing import BinaryIO, Literal

from twobowls.errors import InputError

DELIMITERS = (",", ";", "\t", "|")
DELIMITER_NAMES = {",": "comma", ";": "semicolon", "\t": "tab", "|": "vertical bar"}
MISSING = frozenset({"", "na", "n/a", "nan", "null", "none", "-", ".", "?"})

SAMPLE_ROWS = 1000
MOST_COLUMNS = 2000
_POINT = re.compile(r"\s*[-+]?\d*\.\d+(e[-+]?\d+)?\s*", re.IGNORECASE)
_COMMA = re.compile(r"\s*[-+]?\d*,\d+(e[-+]?\d+)?\s*", re.IGNORECASE)

Source = Path | bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Delimited:
    """How a delimited file is written, its header, and its first rows."""

    source: Source
    encoding: str
    delimiter: str
    decimal: Literal[".", ","]
    columns: tuple[str, ...]
    sample: tuple[tuple[str, ...], ...]

    def rows(self) -> Iterator[tuple[int, list[str]]]:
        """Yield (line number, cells) of every row below the header; empty lines are skipped."""
        with _text(self.source, self.encoding) as text:
            reader = csv.reader(text, delimiter=self.delimiter)
            try:
                for number, row in enumerate(row for row in reader if _filled(row)):
                    if number:
                        yield reader.line_num, row
            except csv.Error as error:
                raise _unreadable(error, reader.line_num) from error

    def sample_of(self, column: str) -> list[str]:
        """Return the first values of one column, without the missing ones."""
        place = self.columns.index(column)
        cells = (row[place].strip() for row in self.sample if place < len(row))
        return [each for each in cells if not is_missing(each)]


def is_missing(cell: str) -> bool:
    """Tell whether a cell stands for "no value".

    Examples
    --------
    >>> is_missing(" N/A "), is_missing("0")
    (True, False)
    """
    return cell.strip().casefold() in MISSING


def sniff(source: Source) -> Delimited:
    r"""Look at a file and tell how it is written.

    Parameters
    ----------
    source : Path or bytes
        A file, or the bytes of one.

    Raises
    ------
    InputError
        When it is missing, empty, not delimited text, or has no usable header.

    Examples
    --------
    >>> told = sniff(b"judge;sample;score\nA;x;3,5\n")
    >>> told.delimiter, told.decimal, told.columns
    (';', ',', ('judge', 'sample', 'score'))
    """
    encoding = _encoding(source)
    with _text(source, encoding) as text:
        lines = [line for line, _ in zip(text, range(200), strict=False)]
    lines = [line for line in lines if line.strip()]
    if not lines:
        raise _nothing_in_it()
    delimiter = _delimiter(lines)
    columns, sample = _head(source, encoding, delimiter)
    if not sample:
        raise InputError("file", "it has a header but no rows", "Add a row for each mark")
    return Delimited(
        source=source,
        encoding=encoding,
        delimiter=delimiter,
        decimal=_decimal(sample, delimiter),
        columns=columns,
        sample=sample,
    )


def open_source(source: Source) -> BinaryIO | BufferedIOBase:
    """Open a file, or the bytes of one.

    Raises
    ------
    InputError
        When it is not there or may not be read.
    """
    if isinstance(source, bytes):
        return BytesIO(source)
    try:
        return source.open("rb")
    except FileNotFoundError:
        raise InputError("file", f"there is no {source}", "Check the name") from None
    except IsADirectoryError:
        raise InputError("file", f"{source} is a folder", "Name a file in it") from None
    except OSError as error:
        raise InputError(
            "file", f"{source} cannot be opened ({error.strerror})", "Check that you may read it"
        ) from None


def first_bytes(source: Source, count: int) -> bytes:
    """Return how a file begins."""
    with open_source(source) as binary:
        return binary.read(count)


def _text(source: Source, encoding: str) -> TextIOWrapper:
    return TextIOWrapper(open_source(source), encoding=encoding, errors="replace", newline="")  # type: ignore[arg-type]


def _encoding(source: Source) -> str:
    """Return utf-8-sig or utf-16 when the bytes say so, Windows-1252 when they are not UTF-8."""
    with open_source(source) as binary:
        first = binary.read(1 << 16)
        _refuse_binary(first)
        if first.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return "utf-16"
        decoder = codecs.getincrementaldecoder("utf-8")()
        try:
            while first:
                decoder.decode(first)
                first = binary.read(1 << 20)
            decoder.decode(b"", final=True)
        except UnicodeDecodeError:
            return "cp1252"
    return "utf-8-sig"


def _refuse_binary(first: bytes) -> None:
    wide = first.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    if first.startswith((b"PK\x03\x04", b"PAR1")) or (b"\x00" in first and not wide):
        raise InputError(
            "file", "this is not delimited text", "Save the sheet as CSV (comma separated) first"
        )


def _delimiter(lines: list[str]) -> str:
    """Return the delimiter that cuts the most lines into as many cells as the header."""

    def merit(delimiter: str) -> tuple[float, int]:
        reader = csv.reader(lines[:50], delimiter=delimiter)
        try:
            widths = [len(row) for row in reader if row]
        except csv.Error as error:
            raise _unreadable(error, reader.line_num) from error
        if not widths or widths[0] < 2:
            return (0.0, 0)
        return (sum(each == widths[0] for each in widths) / len(widths), widths[0])

    best = max(DELIMITERS, key=merit)
    if merit(best)[0] == 0.0:
        raise InputError(
            "file",
            f"its first line has one column only ({lines[0].strip()[:40]!r})",
            "Separate the columns by commas, semicolons, tabs or vertical bars",
        )
    return best


def _head(
    source: Source, encoding: str, delimiter: str
) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    with _text(source, encoding) as text:
        reader = csv.reader(text, delimiter=delimiter)
        try:
            filled = (row for row in reader if _filled(row))
            head = [tuple(row) for row, _ in zip(filled, range(SAMPLE_ROWS + 1), strict=False)]
        except csv.Error as error:
            raise _unreadable(error, reader.line_num) from error
    if not head:  # lines of separators alone
        raise _nothing_in_it()
    return header_names(head[0]), tuple(head[1:])


def _unreadable(error: csv.Error, line: int) -> InputError:
    return InputError(
        "file",
        f"this line cannot be read ({error})",
        "Look for a quotation mark that is never closed",
        line,
    )


def _nothing_in_it() -> InputError:
    return InputError("file", "it is empty", "Give a file with a header and at least one row")


def header_names(cells: tuple[str, ...]) -> tuple[str, ...]:
    """Return the names of the columns; empty ones get their number.

    Raises
    ------
    InputError
        When there are too many, they are numbers, or two are the same.
    """
    if len(cells) > MOST_COLUMNS:
        raise InputError(
            "file",
            f"it has {len(cells):,} columns, and at most {MOST_COLUMNS:,} are read",
            "Keep those of the marks",
        )
    names = tuple(
        cell.strip() or f"(column {number})" for number, cell in enumerate(cells, start=1)
    )
    if all(_POINT.fullmatch(name) or name.lstrip("-+").isdigit() for name in names):
        raise InputError(
            "file", "its first line has numbers only", "Put the names of the columns in line 1"
        )
    seen: set[str] = set()
    for name in names:
        if name in seen:
            raise InputError(
                "file", f"two columns are called {name!r}", "Give every column its own name"
            )
        seen.add(name)
    return names


def _decimal(sample: tuple[tuple[str, ...], ...], delimiter: str) -> Literal[".", ","]:
    if delimiter == ",":
        quoted = [cell for row in sample for cell in row if "," in cell]
        if not quoted:
            return "."
    commas = sum(1 for row in sample for cell in row if _COMMA.fullmatch(cell))
    points = sum(1 for row in sample for cell in row if _POINT.fullmatch(cell))
    return "," if commas > points else "."


def _filled(row: list[str]) -> bool:
    return any(cell.strip() for cell in row)
