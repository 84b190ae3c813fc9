"""Workbooks and Parquet files give what the same table gives as CSV; odd ones are refused."""

import datetime
import io
import sys
import zipfile
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from twobowls import cli
from twobowls.errors import InputError
from twobowls.interchange import parquet_files, workbooks
from twobowls.interchange.ratings_file import Choices, read_ratings

ROWS = [
    ("taster", "coffee", "day", "intensity"),
    ("Ana", "Oro", datetime.date(2026, 3, 1), 61),
    ("Ana", "Brisa", datetime.date(2026, 3, 2), 40.5),
    ("Ben", "Oro", datetime.date(2026, 3, 1), None),
    ("Ben", "Brisa", datetime.date(2026, 3, 2), 38.0),
]
CSV = b"""taster,coffee,day,intensity
Ana,Oro,2026-03-01,61
Ana,Brisa,2026-03-02,40.5
Ben,Oro,2026-03-01,
Ben,Brisa,2026-03-02,38
"""
Fill = Callable[[openpyxl.Workbook], None]


def workbook(fill: Fill) -> bytes:
    book = openpyxl.Workbook()
    fill(book)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def table(book: openpyxl.Workbook) -> None:
    book.active.title = "Marks"
    for row in ROWS:
        book.active.append(row)


def parquet(frame: pd.DataFrame) -> bytes:
    out = io.BytesIO()
    frame.to_parquet(out, index=False)
    return out.getvalue()


def frame() -> pd.DataFrame:
    return pd.DataFrame(ROWS[1:], columns=list(ROWS[0]))


def said(data: bytes, choices: Choices | None = None) -> str:
    with pytest.raises(InputError) as caught:
        read_ratings(data, choices)
    return str(caught.value)


@pytest.mark.parametrize("data", [workbook(table), parquet(frame())], ids=["XLSX", "Parquet"])
def test_a_table_is_the_same_in_every_kind_of_file(data: bytes, tmp_path: Path) -> None:
    expected = read_ratings(CSV).table
    (tmp_path / "marks").write_bytes(data)
    for source in (data, tmp_path / "marks"):
        found = read_ratings(source).table
        assert found.taster.values() == expected.taster.values()
        assert found.coffee.values() == expected.coffee.values()
        assert found.round is not None
        assert expected.round is not None
        assert found.round.values() == expected.round.values()
        assert found.intensity is not None
        assert found.intensity[[0, 1, 3]].tolist() == [61.0, 40.5, 38.0]
        assert found.limits == expected.limits


def test_rows_are_numbered_as_the_sheet_numbers_them() -> None:
    def gap(book: openpyxl.Workbook) -> None:
        table(book)
        book.active.append([])
        book.active.append(["Ciro", "Oro", None, "much"])

    assert said(workbook(gap)).startswith("file: 1 row of 5 cannot be read")
    read = read_ratings(workbook(gap), Choices(skip_errors=True))
    assert [(each.row, each.problem) for each in read.errors] == [(7, "'much' is not a number")]


def test_the_first_sheet_with_a_table_is_read_and_the_others_told() -> None:
    def several(book: openpyxl.Workbook) -> None:
        book.active.title = "Cover"
        book.active.append(["Sunday tasting"])
        for name in ("Marks", "Old marks"):
            sheet = book.create_sheet(name)
            for row in ROWS:
                sheet.append(row)
        book["Old marks"].append(["Ciro", "Oro", None, 50])

    data = workbook(several)
    read = read_ratings(data)
    assert read.rows == 4
    assert read.cautions[0] == (
        "Read was XLSX, sheet 'Marks'. There is also 'Cover', 'Old marks': --sheet reads another."
    )
    assert read_ratings(data, Choices(sheet="Old marks")).rows == 5
    assert said(data, Choices(sheet="Marx")) == (
        "sheet: there is no sheet 'Marx'. Use one of: Cover, Marks, Old marks."
    )
    assert "the sheet 'Cover' has no table" in said(data, Choices(sheet="Cover"))
    assert said(CSV, Choices(sheet="Marks")) == (
        "sheet: only workbooks (XLSX) have sheets. Leave it out."
    )


def test_a_workbook_without_a_table_is_refused() -> None:
    assert said(workbook(lambda _: None)).startswith("file: no sheet has a line of names and a row")


def test_two_columns_of_one_name_are_refused() -> None:
    def twice(book: openpyxl.Workbook) -> None:
        book.active.append(["coffee", "coffee"])
        book.active.append(["Oro", "Oro"])

    assert "two columns are called 'coffee'" in said(workbook(twice))


def test_cells_far_apart_do_not_fill_the_memory() -> None:
    def far(book: openpyxl.Workbook) -> None:
        table(book)
        book.active.cell(row=40_000, column=3, value="x")
        book.active.cell(row=7, column=16_384, value="x")

    assert said(workbook(far)) == "file: row 7 has 16,384 columns. Keep those of the marks."


def test_a_workbook_that_unpacks_to_too_much_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workbooks, "MOST_UNPACKED", 3 << 20)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", "<x/>")
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * (8 << 20))
    assert len(out.getvalue()) < 20_000
    assert said(out.getvalue()) == (
        "file: it unpacks to more than 3 MB. Save the sheet as CSV or Parquet."
    )


def with_sheet(body: bytes) -> bytes:
    """Put a sheet of one's own into a sound workbook."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(workbook(table))) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for part in old.infolist():
            ours = part.filename == "xl/worksheets/sheet1.xml"
            new.writestr(part.filename, body if ours else old.read(part))
    return out.getvalue()


_SHEET = (
    b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    b"%s</sheetData></worksheet>"
)
_TOO_MANY = "file: it has far more parts than a table of ratings. Save the sheet as CSV or Parquet."
_TOO_WIDE = "file: it has a row with more than 2,000 columns. Save the sheet as CSV or Parquet."


@pytest.mark.parametrize(
    ("body", "refusal"),
    [
        (_SHEET % (b"<row>" + b"<c/>" * 1_000_000 + b"</row>"), _TOO_WIDE),
        (_SHEET % (b"<c/>" * 1_000_000), _TOO_WIDE),
        (_SHEET % (b"<row><c><is>" + b"<r/>" * 1_000_000 + b"</is></c></row>"), _TOO_WIDE),
        (_SHEET % (b"<row/>" * 1_100_000), _TOO_MANY),
        (_SHEET % b"<row><c/></row><x/>" * 300_000, _TOO_MANY),
        (b"<x:row>" + b"<x:c/>" * 1_000_000, _TOO_WIDE),
        ("<c/>".encode("utf-16-be") * 300_000, _TOO_WIDE),
    ],
    ids=["one row", "no row", "one cell", "rows", "between rows", "prefix", "two bytes a sign"],
)
def test_a_small_workbook_of_many_elements_is_refused_before_it_is_read(
    body: bytes, refusal: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = with_sheet(body)
    assert len(data) < 200_000
    monkeypatch.setattr(openpyxl, "load_workbook", None)  # it would hold them all
    assert said(data) == refusal


def test_what_is_counted_does_not_depend_on_where_the_pieces_are_cut(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    data = with_sheet(_SHEET % (b"<row>" + b"<c><v>1</v></c>" * 600 + b"</row>") + b" " * 70)
    monkeypatch.setattr(workbooks, "MOST_IN_A_ROW", 2404)  # cells of four tags, and their frame
    for step in (7, 64, 65, 1000):
        monkeypatch.setattr(workbooks, "_STEP", step)
        with pytest.raises(InputError, match="has a line of names and a row below it"):
            read_ratings(data)
    monkeypatch.setattr(workbooks, "MOST_IN_A_ROW", 2403)
    for step in (7, 64, 65, 1000):
        monkeypatch.setattr(workbooks, "_STEP", step)
        assert said(data) == _TOO_WIDE


def test_rows_numbered_with_wide_gaps_end() -> None:
    body = _SHEET % (
        b'<row r="1"><c r="A1"><v>1</v></c></row><row r="999999999"><c r="A999999999"/></row>'
    )
    assert said(with_sheet(body)) == (
        "file: its rows are numbered beyond 1,048,576. Save the sheet as CSV or Parquet."
    )


@pytest.mark.parametrize("count", [2001, 20_000])
def test_a_table_of_very_many_columns_is_refused_at_once(count: int) -> None:
    head = ",".join(f"c{number}" for number in range(count))
    told = said(f"{head}\n{head}\n".encode())
    assert told == (
        f"file: it has {count:,} columns, and at most 2,000 are read. Keep those of the marks."
    )


def test_a_zip_file_that_is_no_workbook_is_refused() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("marks.csv", CSV)
    assert said(out.getvalue()) == "file: this ZIP file is no workbook. Give an XLSX or CSV file."


@pytest.mark.parametrize("cut", [30, 400, 2000, -30])
def test_a_damaged_workbook_is_refused(cut: int) -> None:
    assert said(workbook(table)[:cut]).startswith("file: the workbook is damaged (")


def test_entities_in_a_workbook_are_not_expanded() -> None:
    names = ["a", *(f"a{number}" for number in range(9))]
    entities = "".join(f'<!ENTITY {name} "{f"&{inner};" * 10}">' for inner, name in pairwise(names))
    bomb = f'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">{entities}]><x>&a8;</x>'
    data = workbook(table)
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        for part in old.infolist():
            hostile = part.filename == "xl/worksheets/sheet1.xml"
            new.writestr(part.filename, bomb if hostile else old.read(part))
    assert said(out.getvalue()).startswith("file: ")


def test_an_old_workbook_is_told() -> None:
    assert said(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(100)) == (
        "file: this is a workbook of the old kind. Save it as XLSX or as CSV."
    )


@pytest.mark.parametrize(
    ("data", "package", "extra"),
    [
        (workbook(table), "openpyxl", "pip install 'twobowls[xlsx]'"),
        (parquet(frame()), "pyarrow", "pip install 'twobowls[parquet]'"),
    ],
)
def test_a_missing_package_is_told_with_the_cure(
    data: bytes, package: str, extra: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in [each for each in sys.modules if each.split(".")[0] == package]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, package, None)
    message = said(data)
    assert f"read by the package {package}, which is not installed" in message
    assert extra in message


def test_parquet_that_cannot_be_used_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    assert said(parquet(frame())[:200]).startswith("file: the Parquet file is damaged (")
    assert said(parquet(frame().iloc[:0])) == "file: it has no rows. Add a row for each mark."
    nested = frame().assign(intensity=[[1], [2], [3], [4]])
    assert "intensity: it holds list<" in said(parquet(nested))
    monkeypatch.setattr(parquet_files, "MOST_ROWS", 3)
    assert said(parquet(frame())) == "file: 4 rows are too many. Give a part of them."


def test_the_command_reads_a_workbook(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "marks.xlsx").write_bytes(workbook(table))
    file = str(tmp_path / "marks.xlsx")
    assert cli.main(["analyse", file, "--sheet", "Marks"]) == 0
    assert "marks.xlsx: 4 rows, 4 marks (XLSX, sheet 'Marks')" in capsys.readouterr().out
