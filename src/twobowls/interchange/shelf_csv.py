"""The shelf as a spreadsheet: reading one that somebody made, and writing our own.

Reading is in two steps, so that a person can look in between: `read_sheet` finds the columns,
`preview` says row by row what would be added and what is wrong.
"""

import csv
import io
import re
import unicodedata
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from itertools import islice

from twobowls.errors import InputError
from twobowls.interchange.delimited import DELIMITERS, is_missing, sniff
from twobowls.interchange.formula_guard import unguarded
from twobowls.interchange.marks_csv import cell
from twobowls.tasting.coffees import Coffee, coffee_problems

MOST_BYTES = 500_000
MOST_ROWS = 2000
MOST_COLUMNS = 200

# What people call the columns of such a list; compared without case, accents and signs.
NAMES: dict[str, tuple[str, ...]] = {
    "name": (
        "name",
        "coffee",
        "coffee name",
        "title",
        "product",
        "kaffee",
        "cafe",
        "nom",
        "nombre",
    ),
    "roaster": ("roaster", "roastery", "roasted by", "brand", "rosterei", "torrefacteur"),
    "origin": ("origin", "country", "region", "farm", "herkunft", "origine", "origen"),
    "process": ("process", "processing", "method", "aufbereitung", "traitement", "proceso"),
    "roast_level": ("roast level", "roast", "level", "rostgrad", "torrefaction"),
    "roast_date": ("roast date", "roasted on", "roasted", "date", "rostdatum"),
    "price_per_100g": (
        "price per 100 g",
        "price per 100g",
        "price 100g",
        "price 100 g",
        "price",
        "preis",
        "prix",
        "precio",
    ),
    "seller_words": (
        "seller words",
        "sellers words",
        "tasting notes",
        "flavours",
        "flavors",
        "description",
        "beschreibung",
    ),
    "notes": ("notes", "note", "comment", "comments", "remarks", "notizen"),
}
FIELDS = tuple(NAMES)
_MONEY = r"[\sA-Za-z$€£¥₩₹]*"
_CURRENCY = re.compile(_MONEY + r"(?P<number>-?[\d.,'\s]*\d)" + _MONEY)
LONGEST_PRICE = 30
_DAY_FIRST = re.compile(r"(?P<day>\d{1,2})\.(?P<month>\d{1,2})\.(?P<year>\d{4})")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A spreadsheet's text: its header and its rows with their line numbers."""

    text: str
    columns: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PreviewRow:
    """One row as it would be taken: the coffee, or what is wrong with it.

    ``same_as`` is True when the shelf, or an earlier row, has this name already, of the same
    roaster or where the row names none.
    """

    line: int
    coffee: Coffee
    problems: tuple[InputError, ...]
    same_as: bool


def read_sheet(source: bytes) -> Sheet:
    r"""Read a spreadsheet saved as text, whatever its encoding and delimiter.

    Raises
    ------
    InputError
        It is too big, empty, no text, or has no header.

    Examples
    --------
    >>> read_sheet("Café;Preis\nNight Ferry;5,20\n".encode("latin-1")).columns
    ('Café', 'Preis')
    """
    if len(source) > MOST_BYTES:
        raise InputError(
            "file",
            f"it has {len(source) / 1e6:.1f} MB",
            f"Give at most {MOST_BYTES // 1000} kB, or import it in parts",
        )
    single = _single_column(source)
    if single is not None:
        return single
    told = sniff(source)
    rows = tuple((line, tuple(row)) for line, row in islice(told.rows(), MOST_ROWS + 1))
    text = source.decode(told.encoding, errors="replace")
    return _bounded(Sheet(text=text, columns=told.columns, rows=rows))


def _bounded(sheet: Sheet) -> Sheet:
    if len(sheet.columns) > MOST_COLUMNS:
        raise InputError(
            "file",
            f"it has {len(sheet.columns)} columns",
            f"Keep those that say something about the coffees, at most {MOST_COLUMNS}",
        )
    if len(sheet.rows) > MOST_ROWS:
        line = sheet.rows[-1][0]
        raise InputError("file", f"it has more than {MOST_ROWS} rows", "Import it in parts", line)
    return sheet


def _single_column(source: bytes) -> Sheet | None:
    """Take a plain list of names as a sheet of one column."""
    try:
        text = source.decode("utf-8-sig")
    except UnicodeDecodeError:
        return None
    lines = [(n, line.strip()) for n, line in enumerate(text.splitlines(), 1) if line.strip()]
    if len(lines) < 2 or "\0" in text or any(mark in text for mark in DELIMITERS):
        return None
    rows = tuple((number, (line.strip('"'),)) for number, line in lines[1 : MOST_ROWS + 2])
    return _bounded(Sheet(text=text, columns=(lines[0][1],), rows=rows))


def guess_columns(columns: Iterable[str]) -> dict[str, str]:
    """Return which column is which field, as far as the names tell.

    Examples
    --------
    >>> guess_columns(["Coffee", "Röster", "Price per 100 g"])
    {'name': 'Coffee', 'price_per_100g': 'Price per 100 g'}
    """
    plain = {_plain(column): column for column in reversed(list(columns))}
    guessed: dict[str, str] = {}
    for field, names in NAMES.items():
        for name in names:
            column = plain.get(name)
            if column is not None and column not in guessed.values():
                guessed[field] = column
                break
    return guessed


def _plain(text: str) -> str:
    bare = unicodedata.normalize("NFKD", text.casefold())
    letters = "".join(each for each in bare if not unicodedata.combining(each))
    return " ".join(re.sub(r"[^0-9a-z]+", " ", letters.replace("'", "")).split())


def preview(
    sheet: Sheet, columns: Mapping[str, str], shelf: Collection[Coffee] = ()
) -> tuple[PreviewRow, ...]:
    """Say what each row would become.

    Parameters
    ----------
    sheet : Sheet
        What `read_sheet` returned.
    columns : mapping
        Field to column name, as from `guess_columns`; ``name`` is needed.
    shelf : collection of Coffee
        What is there already, to point out rows that would add it a second time.

    Raises
    ------
    InputError
        ``columns`` names no column for the name, or one that is not in the sheet.
    """
    if not columns.get("name"):
        raise InputError("name", "no column is chosen", "Choose the column that names the coffees")
    for field, column in columns.items():
        if column not in sheet.columns:
            raise InputError(field, f"there is no column {column!r}", "Choose one of the list")
    places = {field: sheet.columns.index(column) for field, column in columns.items()}
    seen = {each for coffee in shelf for each in _identities(coffee)}
    rows = []
    for line, cells in sheet.rows:
        texts = {field: _cell(cells, place) for field, place in places.items()}
        coffee, problems = _coffee(texts, line)
        same = not seen.isdisjoint(_identities(coffee)[: 1 if coffee.roaster else 2])
        rows.append(PreviewRow(line=line, coffee=coffee, problems=problems, same_as=same))
        if not problems:
            seen.update(_identities(coffee))
    return tuple(rows)


def _identities(coffee: Coffee) -> list[tuple[str, str]]:
    """Return the coffee as its roaster's, and as one of whatever roaster: a list may name none."""
    name = coffee.name.casefold().strip()
    return [(name, coffee.roaster.casefold().strip()), (name, "*")]


def _cell(cells: tuple[str, ...], place: int) -> str:
    return unguarded(cells[place].strip()) if place < len(cells) else ""


def _coffee(texts: Mapping[str, str], line: int) -> tuple[Coffee, tuple[InputError, ...]]:
    problems: list[InputError] = []
    price = None
    try:
        price = parse_price(texts.get("price_per_100g", ""))
    except InputError as error:
        problems.append(error)
    coffee = Coffee(
        id="",
        name=texts.get("name", ""),
        roaster=texts.get("roaster", ""),
        origin=texts.get("origin", ""),
        process=texts.get("process", ""),
        roast_level=texts.get("roast_level", ""),
        roast_date=parse_date(texts.get("roast_date", "")),
        price_per_100g=price,
        seller_words=texts.get("seller_words", ""),
        notes=texts.get("notes", ""),
    )
    problems += coffee_problems(coffee)
    return coffee, tuple(_at(problem, line) for problem in problems)


def _at(problem: InputError, line: int) -> InputError:
    return InputError(problem.field, problem.problem, problem.cure, line)


def parse_price(text: str) -> float | None:
    """Return the number in a price, with a decimal comma or point and a currency, or None.

    Raises
    ------
    InputError
        There is no number in it.

    Examples
    --------
    >>> [parse_price(each) for each in ("5,20 €", "$ 5.20", "1.234,50", "1,234.50", "12", "")]
    [5.2, 5.2, 1234.5, 1234.5, 12.0, None]
    """
    if is_missing(text):
        return None
    match = _CURRENCY.fullmatch(text.strip()) if len(text) <= LONGEST_PRICE else None
    if match is None:
        raise InputError(
            "price_per_100g", f"{text[:30]!r} is not a price", "Give a number such as 5.20"
        )
    return float(_with_point(re.sub(r"['\s]", "", match["number"])))


def _with_point(number: str) -> str:
    """Write a decimal point: the sign that comes last, or the only one, is the decimal one."""
    comma, point = number.rfind(","), number.rfind(".")
    if comma >= 0 and point >= 0:
        thousands = "." if comma > point else ","
        return number.replace(thousands, "").replace(",", ".")
    if number.count(",") == 1:
        return number.replace(",", ".")
    if number.count(",") > 1 or number.count(".") > 1:
        return number.replace(",", "").replace(".", "")
    return number


def parse_date(text: str) -> str:
    """Return an ISO date where the text is one, or day.month.year; other text as it is.

    Examples
    --------
    >>> parse_date("3.11.2026"), parse_date("2026-11-03"), parse_date("soon")
    ('2026-11-03', '2026-11-03', 'soon')
    """
    if is_missing(text):
        return ""
    match = _DAY_FIRST.fullmatch(text.strip())
    if match is None:
        return text.strip()
    try:
        return date(int(match["year"]), int(match["month"]), int(match["day"])).isoformat()
    except ValueError:
        return text.strip()


def write_shelf(coffees: Iterable[Coffee]) -> str:
    r"""Return the shelf as CSV that a spreadsheet can open without running anything in it.

    A text that a spreadsheet would take for a formula gets an apostrophe in front; `read_sheet`
    and `preview` take it off again.

    Examples
    --------
    >>> write_shelf([Coffee(id="a", name="=1+1", price_per_100g=5.2)]).splitlines()[1]
    "'=1+1,,,,,,5.2,,"
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(FIELDS)
    for coffee in coffees:
        writer.writerow([cell(getattr(coffee, field)) for field in FIELDS])
    return out.getvalue()
