"""Ratings in a Parquet file, read batch by batch; needs pyarrow."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from itertools import islice
from typing import Any

from twobowls.errors import InputError
from twobowls.interchange.delimited import SAMPLE_ROWS, Delimited, Source, header_names

MOST_ROWS = 20_000_000
MOST_UNPACKED = 2 << 30  # bytes
_BATCH = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class ParquetFile(Delimited):
    """A Parquet file, seen as text; its first row counts as line 2, as in a CSV file."""

    def rows(self) -> Iterator[tuple[int, list[str]]]:
        """Yield (line number, cells) of every row."""
        with _opened(self.source) as file:
            yield from enumerate(_rows(file), start=2)


def open_parquet(source: Source) -> ParquetFile:
    """Look at a Parquet file.

    Parameters
    ----------
    source : Path or bytes
        A file, or the bytes of one.

    Raises
    ------
    InputError
        When pyarrow is missing, the file is damaged, too large or empty, or a column holds
        lists or groups.
    """
    with _opened(source) as file:
        sizes = [
            file.metadata.row_group(each).total_byte_size for each in range(file.num_row_groups)
        ]
        if file.metadata.num_rows > MOST_ROWS or sum(sizes) > MOST_UNPACKED:
            raise InputError(
                "file", f"{file.metadata.num_rows:,} rows are too many", "Give a part of them"
            )
        for name, kind in zip(file.schema_arrow.names, file.schema_arrow.types, strict=True):
            if kind.num_fields:
                raise InputError(
                    name, f"it holds {kind}, not single values", "Leave that column out of the file"
                )
        sample = tuple(tuple(row) for row in islice(_rows(file), SAMPLE_ROWS))
        if not sample:
            raise InputError("file", "it has no rows", "Add a row for each mark")
        return ParquetFile(
            source=source,
            encoding="Parquet",
            delimiter="",
            decimal=".",
            columns=header_names(tuple(file.schema_arrow.names)),
            sample=sample,
        )


@contextmanager
def _opened(source: Source) -> Iterator[Any]:
    try:
        from pyarrow import ArrowException
        from pyarrow.parquet import ParquetFile as Reader
    except ImportError:
        raise InputError(
            "file",
            "Parquet files are read by the package pyarrow, which is not installed",
            "Install it with: pip install 'twobowls[parquet]', or save the table as CSV",
        ) from None
    try:
        with Reader(BytesIO(source) if isinstance(source, bytes) else source) as file:
            yield file
    except (ArrowException, OSError) as error:
        raise InputError(
            "file", f"the Parquet file is damaged ({type(error).__name__})", "Write it anew"
        ) from None


def _rows(file: Any) -> Iterator[list[str]]:
    for batch in file.iter_batches(batch_size=_BATCH):
        columns = [[_text(cell) for cell in column.to_pylist()] for column in batch.columns]
        yield from map(list, zip(*columns, strict=True))


def _text(cell: object) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bytes):
        return cell.decode("utf-8", errors="replace")
    return str(cell).removesuffix(" 00:00:00")
