"""Ratings in a workbook (XLSX), read row by row; needs openpyxl.

A workbook is a ZIP file: what it unpacks to is measured first, and its elements are counted, so
that a small file cannot fill the memory: openpyxl holds a row as a whole, and whatever is not a
row until the sheet ends. Formulas give the values that they had when the workbook was saved.
"""

import datetime
import re
import zipfile
from bisect import bisect_left
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from itertools import pairwise
from typing import Any

from twobowls.errors import InputError
from twobowls.interchange.delimited import (
    MOST_COLUMNS,
    SAMPLE_ROWS,
    Delimited,
    Source,
    open_source,
)
from twobowls.interchange.delimited import header_names as names_of

MOST_UNPACKED = 400 << 20  # bytes; a million rows of five columns unpack to about 200 MB
MOST_PARTS = 2000
MOST_ROWS = 1 << 20  # what a sheet can have (ECMA-376)
MOST_IN_A_ROW = 100 * MOST_COLUMNS  # tags; a cell has four, more where its text has many styles
MOST_TEXTS = 5_000_000
MOST_OTHERS = 200_000  # elements that are neither rows, cells nor texts, such as merged cells
_STEP = 1 << 20
_OVERLAP = 64  # bytes; longer than any tag's beginning that is looked for

# A beginning or an end of an element; of two-byte text the zero is seen.
_TAG = re.compile(rb"<[\w/\x00]")
_GROUP = re.compile(rb"<(?:\w+:)?(row|si)\b")
_MARKUP = (b"<", b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff", b"\x00")
_USUAL = (b"</", b"<row", b"<c ", b"<c>", b"<v>", b"<f>", b"<is>", b"<si>", b"<t>", b"<t ", b"<r>")
_FEW = 100  # in a piece
_OTHER = re.compile(rb"<(?=[\w\x00])(?!(?:\w+:)?(?:row|c|v|f|is|si|t|r)\b)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Workbook(Delimited):
    """A sheet of a workbook, seen as text. ``others`` are the sheets that are not read."""

    sheet: str
    others: tuple[str, ...]

    def rows(self) -> Iterator[tuple[int, list[str]]]:
        """Yield (row number, cells) of every row below the header; empty rows are skipped."""
        with _sheets(self.source) as book:
            for number, (line, row) in enumerate(_filled(book[self.sheet])):
                if number:
                    yield line, [*row, *[""] * (len(self.columns) - len(row))]


def open_workbook(source: Source, sheet: str = "") -> Workbook:
    """Look at a workbook.

    Parameters
    ----------
    source : Path or bytes
        A file, or the bytes of one.
    sheet : str
        Which sheet; the first with a header and a row below it when empty.

    Raises
    ------
    InputError
        When openpyxl is missing, the file is damaged or unpacks to too much, or there is no
        such sheet or no table.
    """
    _check_size(source)
    with _sheets(source) as book:
        names = tuple(each.title for each in book.worksheets)
        if sheet and sheet not in names:
            raise InputError(
                "sheet", f"there is no sheet {sheet!r}", f"Use one of: {', '.join(names)}"
            )
        for name in (sheet,) if sheet else names:
            head = _head(book[name])
            if len(head) > 1 and len(head[0]) > 1:
                return Workbook(
                    source=source,
                    encoding=f"XLSX, sheet {name!r}",
                    delimiter="",
                    decimal=".",
                    columns=names_of(tuple(head[0])),
                    sample=tuple(map(tuple, head[1:])),
                    sheet=name,
                    others=tuple(each for each in names if each != name),
                )
    what = f"the sheet {sheet!r}" if sheet else "no sheet"
    raise InputError(
        "file",
        f"{what} has a line of names and a row below it" if not sheet else f"{what} has no table",
        "Put the names of the columns in the first row, and a row for each mark below",
    )


def _check_size(source: Source) -> None:
    """Unpack everything once, keeping nothing, and stop where it is too much."""
    try:
        with open_source(source) as packed, zipfile.ZipFile(packed) as archive:
            parts = archive.infolist()
            if len(parts) > MOST_PARTS or "[Content_Types].xml" not in archive.namelist():
                raise InputError("file", "this ZIP file is no workbook", "Give an XLSX or CSV file")
            unpacked = 0
            for part in parts:
                counts = _Counts()
                with archive.open(part) as stream:
                    while piece := stream.read(_STEP):
                        unpacked += len(piece)
                        if unpacked > MOST_UNPACKED:
                            raise _too_much(f"it unpacks to more than {MOST_UNPACKED >> 20} MB")
                        counts.take(piece)
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, OSError) as error:
        raise _damaged(error) from None


class _Counts:
    """How many elements one part of a workbook has so far, whatever the part is called."""

    def __init__(self) -> None:
        self.rows = self.texts = self.others = self.in_group = 0
        self.rest = b""
        self.markup: bool | None = None

    def take(self, piece: bytes) -> None:
        """Count what begins in this piece, but for its last bytes, which wait for the next.

        Raises
        ------
        InputError
            There are more elements of a kind than a table of ratings can need.
        """
        if self.markup is None:
            self.markup = piece.lstrip().startswith(_MARKUP)
        if not self.markup:  # a picture, say
            return
        whole = self.rest + piece
        cut = max(0, len(whole) - _OVERLAP)
        if b"<!DOCTYPE" in whole or b"<!ENTITY" in whole:  # a few bytes may then stand for many
            raise InputError("file", "the workbook has a DTD", "Save it anew, or as CSV")
        self.rest = whole[cut:]
        groups = [each for each in _GROUP.finditer(whole) if each.start() < cut]
        self._count_in_groups(whole, [each.start() for each in groups], cut)
        rows = sum(each[1] == b"row" for each in groups)
        self.rows += rows
        self.texts += len(groups) - rows
        self.others += _others(whole, cut)
        if self.rows > MOST_ROWS or self.texts > MOST_TEXTS or self.others > MOST_OTHERS:
            raise _too_much("it has far more parts than a table of ratings")

    def _count_in_groups(self, whole: bytes, starts: list[int], cut: int) -> None:
        last = starts[-1] if starts else 0
        if self.in_group + whole.count(b"<", 0, cut) <= MOST_IN_A_ROW:  # as nearly always
            before = 0 if starts else self.in_group
            self.in_group = before + whole.count(b"<", last, cut)
            return
        tags = [each.start() for each in _TAG.finditer(whole)]
        upto = [bisect_left(tags, place) for place in (0, *starts, cut)]
        for number, (before, after) in enumerate(pairwise(upto)):
            self.in_group = after - before + (0 if number else self.in_group)
            if self.in_group > MOST_IN_A_ROW:
                raise _too_much(f"it has a row with more than {MOST_COLUMNS:,} columns")


def _others(whole: bytes, cut: int) -> int:
    """Return how many unusual elements begin before ``cut``; a few too many where they are few."""
    usual = sum(whole.count(each, 0, cut) for each in _USUAL)
    rough = whole.count(b"<", 0, cut) - usual
    if rough <= _FEW:
        return rough
    return sum(each.start() < cut for each in _OTHER.finditer(whole))


def _too_much(what: str) -> InputError:
    return InputError("file", what, "Save the sheet as CSV or Parquet")


@contextmanager
def _sheets(source: Source) -> Iterator[Any]:
    """Open a workbook for reading row by row."""
    try:
        from openpyxl import load_workbook
    except ImportError:
        raise InputError(
            "file",
            "workbooks (XLSX) are read by the package openpyxl, which is not installed",
            "Install it with: pip install 'twobowls[xlsx]', or save the sheet as CSV",
        ) from None
    with open_source(source) as packed:
        try:
            book = load_workbook(
                BytesIO(packed.read()), read_only=True, data_only=True, keep_links=False
            )
        except Exception as error:  # noqa: BLE001 - a damaged part may raise anything
            raise _damaged(error) from None
    try:
        yield book
    finally:
        book.close()


def _damaged(error: Exception) -> InputError:
    return InputError(
        "file", f"the workbook is damaged ({type(error).__name__})", "Save it anew, or as CSV"
    )


def _head(sheet: Any) -> list[list[str]]:
    return [row for (_, row), _ in zip(_filled(sheet), range(SAMPLE_ROWS + 1), strict=False)]


def _filled(sheet: Any) -> Iterator[tuple[int, list[str]]]:
    """Yield the rows that are not empty, cut after their last cell that is not."""
    sheet.reset_dimensions()  # what the file says of its size need not be true
    rows = sheet.iter_rows(values_only=True)
    line = 0
    while True:
        try:
            cells = next(rows)
        except StopIteration:
            return
        except Exception as error:  # noqa: BLE001 - a damaged part may raise anything
            raise _damaged(error) from None
        line += 1
        if line > MOST_ROWS:  # rows may be numbered with gaps, which are read as empty rows
            raise _too_much(f"its rows are numbered beyond {MOST_ROWS:,}")
        if len(cells) > MOST_COLUMNS:
            raise InputError(
                "file", f"row {line} has {len(cells):,} columns", "Keep those of the marks"
            )
        texts = [_text(cell) for cell in cells]
        while texts and not texts[-1]:
            texts.pop()
        if texts:
            yield line, texts


def _text(cell: object) -> str:
    if cell is None:
        return ""
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    if isinstance(cell, datetime.datetime):
        return cell.isoformat(sep=" ").removesuffix(" 00:00:00")
    return str(cell).strip()
