"""Which kind of file a table of ratings is: delimited text, a workbook (XLSX) or Parquet."""

from twobowls.errors import InputError
from twobowls.interchange.delimited import Delimited, Source, first_bytes, sniff

_OLD_WORKBOOK = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def open_table(source: Source, sheet: str = "") -> Delimited:
    r"""Look at a file and tell how it is written.

    Parameters
    ----------
    source : Path or bytes
        A file, or the bytes of one.
    sheet : str
        Which sheet of a workbook; the first that holds a table when empty.

    Raises
    ------
    InputError
        When it cannot be read, when the package that reads it is not installed, or when a sheet
        is named and the file has none.

    Examples
    --------
    >>> open_table(b"judge;sample;score\nA;x;3,5\n").delimiter
    ';'
    """
    first = first_bytes(source, 8)
    if first.startswith(b"PK\x03\x04"):
        from twobowls.interchange.workbooks import open_workbook

        return open_workbook(source, sheet)
    if sheet:
        raise InputError("sheet", "only workbooks (XLSX) have sheets", "Leave it out")
    if first.startswith(b"PAR1"):
        from twobowls.interchange.parquet_files import open_parquet

        return open_parquet(source)
    if first.startswith(_OLD_WORKBOOK):
        raise InputError("file", "this is a workbook of the old kind", "Save it as XLSX or as CSV")
    return sniff(source)
