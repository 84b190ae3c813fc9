import csv
import io
import threading
from concurrent.futures import ThreadPoolExecutor

import httpx
import pytest
from tests.web.running import Running

from twobowls.interchange import shelf_csv
from twobowls.tasting.coffees import LONGEST_NAME, Coffee
from twobowls.web import import_pages
from twobowls.web.shelf_pages import another_way


def test_a_name_is_enough(server: Running, host: httpx.Client) -> None:
    answer = host.post("/shelf/new", data={"name": " Alder Gate "})
    assert (answer.status_code, answer.headers["location"]) == (303, "/shelf?told=added")
    assert server.store.coffees()[-1].name == "Alder Gate"
    page = host.get("/shelf?told=added").text
    assert "It is on the shelf." in page
    assert "Alder Gate" in page


@pytest.mark.parametrize("sign", ["%0B", "%01", "%1B", "%EF%BF%BE", "%00"])
def test_what_cannot_be_seen_is_no_part_of_a_name(
    server: Running, host: httpx.Client, sign: str
) -> None:
    form = {"content-type": "application/x-www-form-urlencoded"}
    answer = host.post("/shelf/new", content=f"name=Alder{sign}+Gate", headers=form)
    assert answer.status_code == 303
    assert server.store.coffees()[-1].name == "Alder Gate"


def test_one_after_the_other(host: httpx.Client) -> None:
    answer = host.post("/shelf/new", data={"name": "Alder Gate", "again": "1"})
    assert answer.headers["location"] == "/shelf/new"


def test_every_field_is_kept(server: Running, host: httpx.Client) -> None:
    fields = {
        "name": "Alder Gate",
        "roaster": "Pell Lane",
        "origin": "Tarrowen",
        "process": "washed",
        "roast_level": "light",
        "roast_date": "2026-11-09",
        "price_per_100g": "5,20 €",
        "seller_words": "plum & tea",
        "notes": "line one\r\nline two",
    }
    host.post("/shelf/new", data=fields)
    made = server.store.coffees()[-1]
    assert made.price_per_100g == 5.2
    assert made.notes == "line one\nline two"
    page = host.get(f"/shelf/{made.id}").text
    for text in ("Pell Lane", "2026-11-09", 'value="5.2"', "plum &amp; tea"):
        assert text in page
    host.post(f"/shelf/{made.id}", data={**fields, "name": "Alder Gate II", "price_per_100g": ""})
    changed = server.store.coffee(made.id)
    assert (changed.name, changed.price_per_100g) == ("Alder Gate II", None)


@pytest.mark.parametrize(
    ("field", "typed", "text"),
    [
        ("name", "", "It is empty. Give the coffee a name."),
        ("name", "x" * 121, "It has 121 characters. Use at most 120."),
        ("roast_date", "soon", "&#39;soon&#39; is not a date. Write year-month-day"),
        ("price_per_100g", "cheap", "&#39;cheap&#39; is not a price. Give a number such as 5.20."),
        ("price_per_100g", "-3", "-3 is not a price. Give a number from 0 up"),
    ],
)
def test_an_error_stands_beside_its_field_and_nothing_is_lost(
    server: Running, host: httpx.Client, field: str, typed: str, text: str
) -> None:
    before = server.store.coffees(include_archived=True)
    fields = {"name": "Alder Gate", "notes": "<b>keep & me</b>", field: typed}
    answer = host.post("/shelf/new", data=fields)
    assert answer.status_code == 400
    assert text in answer.text
    assert f'id="{field}-error"' in answer.text
    assert "&lt;b&gt;keep &amp; me&lt;/b&gt;" in answer.text
    assert "Nothing that you typed is lost." in answer.text
    assert server.store.coffees(include_archived=True) == before


def test_a_coffee_is_archived_and_put_back(server: Running, host: httpx.Client) -> None:
    made = server.store.add_coffee(Coffee(id="", name="Alder Gate"))
    host.post(f"/shelf/{made.id}/archive", data={"archived": "1"})
    assert server.store.coffee(made.id).archived
    assert "archived" in host.get("/shelf").text
    host.post(f"/shelf/{made.id}/archive", data={"archived": "0"})
    assert not server.store.coffee(made.id).archived


def test_the_shelf_as_a_spreadsheet_runs_nothing(server: Running, host: httpx.Client) -> None:
    server.store.add_coffee(Coffee(id="", name='=HYPERLINK("http://x")', notes="@SUM(1)"))
    answer = host.get("/shelf.csv")
    assert answer.headers["content-disposition"] == 'attachment; filename="shelf.csv"'
    rows = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert rows[0][0] == "name"
    assert rows[-1][0] == '\'=HYPERLINK("http://x")'
    assert rows[-1][-1] == "'@SUM(1)"


LIST = "Coffee;Price per 100 g;Comment\nRillstone;5,20 €;round\n;7;\nBad;abc;\nRillstone;6;again\n"


def preview(host: httpx.Client, text: str = LIST) -> httpx.Response:
    return host.post("/shelf/import", data={"text": text}, files={"file": ("", b"")})


def test_a_list_is_shown_before_anything_is_added(server: Running, host: httpx.Client) -> None:
    before = server.store.coffees(include_archived=True)
    page = preview(host).text
    assert '<option value="Coffee" selected>' in page
    assert '<option value="Price per 100 g" selected>' in page
    assert "1 coffee can be added, 1 on the shelf already, 2 rows left out because" in page
    assert "Name: it is empty. Give the coffee a name." in page
    assert "Price per 100 g: &#39;abc&#39; is not a price." in page
    assert server.store.coffees(include_archived=True) == before


def test_what_is_right_in_a_list_is_added(server: Running, host: httpx.Client) -> None:
    columns = {"column_name": "Coffee", "column_price_per_100g": "Price per 100 g"}
    text = LIST.replace("Rillstone", "Quernby")
    answer = host.post("/shelf/import/preview", data={"text": text, **columns, "confirm": "1"})
    assert answer.headers["location"] == "/shelf?told=added-1"
    made = server.store.coffees()[-1]
    assert (made.name, made.price_per_100g, made.notes) == ("Quernby", 5.2, "")
    assert "1 coffee added to the shelf." in host.get("/shelf?told=added-1").text
    again = host.post("/shelf/import/preview", data={"text": text, **columns, "confirm": "1"})
    assert again.status_code == 200  # it is there already, so the list is shown again
    answer = host.post(
        "/shelf/import/preview", data={"text": text, **columns, "confirm": "1", "same": "1"}
    )
    assert answer.headers["location"] == "/shelf?told=added-2"


def test_other_columns_can_be_chosen(host: httpx.Client) -> None:
    columns = {"column_name": "Comment", "column_notes": "Coffee"}
    page = host.post("/shelf/import/preview", data={"text": LIST, **columns}).text
    assert '<option value="Comment" selected>' in page
    assert "round" in page


def test_a_list_needs_a_column_of_names(host: httpx.Client) -> None:
    answer = host.post("/shelf/import/preview", data={"text": LIST, "confirm": "1"})
    assert answer.status_code == 400
    assert "No column is chosen. Choose the column that names the coffees." in answer.text
    assert "Rillstone;5,20" in answer.text  # the list itself is still there


@pytest.mark.parametrize(
    ("content", "text"),
    [
        (b"", "it is empty. Give a file with a header"),
        (b"PK\x03\x04" + b"\0" * 40, "this is not delimited text. Save the sheet as CSV"),
        (b"name,price\n", "it has a header but no rows"),
        (b"x" * 500_001, "it has 0.5 MB. Give at most 500 kB"),
        (b"name\n" + b"a\n" * 2001, "it has more than 2000 rows. Import it in parts."),
    ],
    ids=["empty", "excel", "header", "big", "rows"],
)
def test_a_file_that_cannot_be_read_says_why(host: httpx.Client, content: bytes, text: str) -> None:
    answer = host.post("/shelf/import", data={"text": ""}, files={"file": ("a.csv", content)})
    assert answer.status_code == 400
    assert text in answer.text


def test_a_file_of_another_encoding_is_read(host: httpx.Client) -> None:
    content = "Kaffee;Preis\nMüller’s Café;5,20\n".encode("cp1252")
    answer = host.post("/shelf/import", data={"text": ""}, files={"file": ("a.csv", content)})
    assert "Müller’s Café" in answer.text
    assert '<option value="Kaffee" selected>' in answer.text


def test_the_same_coffee_made_another_way_is_a_coffee_of_its_own(
    server: Running, host: httpx.Client
) -> None:
    first = {"name": "Alder Gate", "roaster": "Pell Lane", "notes": "a gift"}
    host.post("/shelf/new", data=first)
    coffee = server.store.coffees()[-1]
    assert f'href="/shelf/new?like={coffee.id}"' in host.get("/shelf").text
    page = host.get(f"/shelf/new?like={coffee.id}").text
    for text in (
        'value="Alder Gate, another way"',
        'value="Pell Lane"',
        "a gift\nGrind:\nWater:\nDose:\nTemperature:",
        'action="/shelf/new"',
    ):
        assert text in page
    before = server.store.coffees()
    host.post("/shelf/new", data={**first, "name": "Alder Gate, another way"})
    assert len(server.store.coffees()) == len(before) + 1
    assert server.store.coffee(coffee.id) == coffee
    assert host.get("/shelf/new?like=nothing").status_code == 404


def test_a_long_name_leaves_room_for_another_way() -> None:
    values = another_way({"name": "x" * LONGEST_NAME, "notes": ""})
    assert len(values["name"]) == LONGEST_NAME
    assert values["name"].endswith("x, another way")


def test_a_list_with_a_cell_of_any_length_is_refused_in_words(host: httpx.Client) -> None:
    answer = host.post("/shelf/import", data={"text": "name,notes\nA," + "x" * 140_000})
    assert answer.status_code == 400
    assert "field larger than field limit" in answer.text


def test_a_list_of_too_many_columns_is_refused(host: httpx.Client) -> None:
    columns = ",".join(f"c{n}" for n in range(201))
    answer = host.post("/shelf/import", data={"text": f"{columns}\n{columns}x"})
    assert answer.status_code == 400
    assert "It has 201 columns." in answer.text or "it has 201 columns" in answer.text


@pytest.mark.parametrize("charset", ["idna", "undefined", "utf-7", "a%00b", "raw_unicode_escape"])
@pytest.mark.parametrize("path", ["/shelf/import", "/join", "/host"])
def test_forms_in_odd_charsets_are_refused(host: httpx.Client, path: str, charset: str) -> None:
    body = b'--x\r\ncontent-disposition: form-data; name="text"\r\n\r\n\\ud800\xff..\r\n--x--\r\n'
    kind = f'multipart/form-data; boundary=x; charset="{charset}"'
    answer = host.post(path, content=body, headers={"content-type": kind})
    assert answer.status_code == 400
    assert "Send UTF-8." in answer.text


def test_lists_are_read_beside_the_event_loop(
    server: Running, host: httpx.Client, guest: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, go_on = threading.Event(), threading.Event()

    def slow(source: bytes) -> shelf_csv.Sheet:
        begun.set()
        assert go_on.wait(60)
        return shelf_csv.read_sheet(source)

    monkeypatch.setattr(import_pages, "read_sheet", slow)
    with ThreadPoolExecutor(1) as pool:
        waiting = pool.submit(host.post, "/shelf/import", data={"text": "name,notes\nA,b"})
        try:
            assert begun.wait(60)
            assert guest.get("/join", timeout=30).status_code == 200
        finally:
            go_on.set()
        assert waiting.result().status_code == 200
