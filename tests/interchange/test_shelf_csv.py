import csv
from contextlib import suppress
from io import StringIO

import pytest
from hypothesis import given
from hypothesis import strategies as st

from twobowls.errors import InputError
from twobowls.interchange.shelf_csv import (
    guess_columns,
    parse_price,
    preview,
    read_sheet,
    write_shelf,
)
from twobowls.tasting.coffees import Coffee

COFFEE = Coffee(
    id="a",
    name="Alder Gate",
    roaster="Pell Lane",
    origin="Tarrowen",
    process="washed",
    roast_level="light",
    roast_date="2026-11-09",
    price_per_100g=5.2,
    seller_words="plum, tea",
    notes='two\nlines; and "quotes"',
)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_a_sheet_is_read_whatever_its_encoding_and_delimiter(encoding: str, delimiter: str) -> None:
    lines = [["Café", "Preis"], ["Müllers Ernte", "5.20"], ["Zweite", ""]]
    text = "\r\n".join(delimiter.join(line) for line in lines)
    sheet = read_sheet(text.encode(encoding))
    assert sheet.columns == ("Café", "Preis")
    assert [row for _line, row in sheet.rows] == [("Müllers Ernte", "5.20"), ("Zweite", "")]
    assert guess_columns(sheet.columns) == {"name": "Café", "price_per_100g": "Preis"}


def test_a_list_of_names_is_a_sheet() -> None:
    sheet = read_sheet(b"Coffee\nAlder Gate\n\nBellwether\n")
    rows = preview(sheet, guess_columns(sheet.columns))
    assert [(row.line, row.coffee.name) for row in rows] == [(2, "Alder Gate"), (4, "Bellwether")]


def test_what_we_write_we_read() -> None:
    sheet = read_sheet(write_shelf([COFFEE]).encode())
    columns = guess_columns(sheet.columns)
    assert set(columns) == set(sheet.columns)
    (row,) = preview(sheet, columns)
    assert row.problems == ()
    assert row.coffee == Coffee(**{field: getattr(COFFEE, field) for field in columns}, id="")


@given(st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), min_size=1))
def test_no_cell_that_we_write_starts_like_a_formula(text: str) -> None:
    written = write_shelf([Coffee(id="a", name="x", notes=text)])
    _header, row = csv.reader(StringIO(written, newline=""))
    assert not any(cell.startswith(("=", "+", "-", "@")) for cell in row)
    assert any(cell.endswith(text) for cell in row)


def test_rows_are_judged_one_by_one() -> None:
    text = "name;roast date;price\nGood;3.11.2026;1.234,50 €\n;2026-11-03;5\nBad;2026-02-30;x\n"
    sheet = read_sheet(text.encode())
    good, nameless, bad = preview(sheet, guess_columns(sheet.columns))
    assert (good.coffee.roast_date, good.coffee.price_per_100g) == ("2026-11-03", 1234.5)
    assert good.problems == ()
    assert [str(each) for each in nameless.problems] == [
        "row 3, name: it is empty. Give the coffee a name."
    ]
    assert [str(each) for each in bad.problems] == [
        "row 4, price_per_100g: 'x' is not a price. Give a number such as 5.20.",
        "row 4, roast_date: '2026-02-30' is not a date. Write year-month-day, such as 2026-03-14.",
    ]


@pytest.mark.parametrize(
    ("row", "same"),
    [
        ("alder gate,PELL LANE", True),
        ("Alder Gate,Other Roaster", False),
        ("Alder Gate,", True),
        ("Other,Pell Lane", False),
    ],
)
def test_what_the_shelf_has_is_pointed_out(row: str, same: bool) -> None:
    sheet = read_sheet(f"name,roaster\n{row}\n".encode())
    (found,) = preview(sheet, guess_columns(sheet.columns), [COFFEE])
    assert found.same_as is same


def test_a_row_that_comes_twice_is_pointed_out_the_second_time() -> None:
    sheet = read_sheet(b"name,roaster\nA,x\nA,x\nA,y\n")
    rows = preview(sheet, guess_columns(sheet.columns))
    assert [row.same_as for row in rows] == [False, True, False]


@pytest.mark.parametrize("typed", ["abc", "5,", "--5", "1/2", "5" * 40])
def test_what_is_no_price(typed: str) -> None:
    with pytest.raises(InputError, match="is not a price"):
        parse_price(typed)


def test_a_mapping_must_make_sense() -> None:
    sheet = read_sheet(b"name,price\nA,1\n")
    with pytest.raises(InputError, match="name: no column is chosen"):
        preview(sheet, {"price_per_100g": "price"})
    with pytest.raises(InputError, match="roaster: there is no column 'maker'"):
        preview(sheet, {"name": "name", "roaster": "maker"})


@given(st.binary(max_size=300))
def test_any_bytes_are_a_sheet_or_a_sentence(content: bytes) -> None:
    with suppress(InputError):
        sheet = read_sheet(content)
        preview(sheet, {"name": sheet.columns[0]})


@pytest.mark.parametrize("content", [b"", b" \n\n", b";", b",,\n,,\n", b"\t\n"])
def test_a_sheet_of_nothing_is_empty(content: bytes) -> None:
    with pytest.raises(InputError, match="file: it is empty"):
        read_sheet(content)


# What separates, quotes, ends lines and counts, which random bytes seldom bring together.
@given(st.text(",;\t|\n\r\"' \ufeff\0aé1.-", max_size=60))
def test_any_text_is_a_sheet_or_a_sentence(content: str) -> None:
    with suppress(InputError):
        sheet = read_sheet(content.encode())
        preview(sheet, {"name": sheet.columns[0]})
