"""What is shown: escaped, without scripts, told to everyone, and plain in a terminal."""

import re
from html.parser import HTMLParser
from typing import Any

import pandas as pd
import pytest
from tests.notebook.calls import CALLS, Call, marks, whole

import twobowls
from twobowls.notebook.tables import show

HOSTILE = "<script>alert('&\"x')</script><img src=x onerror=alert(1)>"
TEXT = {"div", "p", "ul", "li", "style", "section", "figure", "details", "summary"}
TABLE = {"table", "caption", "thead", "tbody", "tr", "th", "td"}
PICTURE = {
    "svg",
    "title",
    "defs",
    "g",
    "path",
    "rect",
    "line",
    "circle",
    "ellipse",
    "text",
    "clippath",
}
FETCHING = re.compile(r"(href|src|xlink:href|action|formaction|data)$", re.IGNORECASE)


class Page(HTMLParser):
    """Reads a page and keeps what matters for its safety and its readers."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.text: list[str] = []
        self.open: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.open.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def _others() -> tuple[Any, ...]:
    """Return results that came from no frame."""
    return (
        twobowls.discrimination("triangle", correct=12, trials=20),
        twobowls.preference(for_a=15, trials=20),
        twobowls.similarity("triangle", correct=22, trials=60),
        twobowls.a_not_a(14, 20, 6, 20),
        twobowls.serving_orders([HOSTILE, "862"], 4),
        twobowls.blocks([HOSTILE, "Oro", "Brisa"], [2, 2]),
        twobowls.power(coffees=2, tasters=4, difference=40, runs=2),
        twobowls.plan_tasting([HOSTILE, "Oro"], name=HOSTILE),
        twobowls.cooling(probes=[(300, 66)]),
    )


def _spoilt(call: Call) -> pd.DataFrame:
    """Return the call's frame with hostile labels wherever there are labels, and column names."""
    frame = call.frame
    for column in frame.columns:
        if frame[column].dtype not in ("float64", "int64"):
            first = frame[column].iloc[0]
            frame = frame.assign(**{column: frame[column].replace({first: HOSTILE})})
    if "a" in frame:  # the answers and both sides of a pair speak of the same coffees
        frame = call.frame.replace({"Oro": HOSTILE, "Ana": HOSTILE + "2"})
    return frame.assign(**{HOSTILE: 1})


@pytest.mark.parametrize("call", CALLS, ids=lambda call: call.name)
def test_hostile_labels_are_only_text(call: Call) -> None:
    found = call(_spoilt(call))
    page = Page(found._repr_html_())
    _check_safe(page)
    shown = "".join(page.text)
    if call.name not in ("discrimination", "similarity", "agreement"):  # they name nobody
        assert "<script>alert('&" in shown  # it is there to be read, whole or cut short


def test_results_without_a_frame_are_safe_and_shown() -> None:
    for found in _others():
        _check_safe(Page(found._repr_html_()))
        assert found.title.splitlines()[0] in repr(found)


def _check_safe(page: Page) -> None:
    assert set(page.tags) <= TEXT | TABLE | PICTURE
    assert page.open == []
    for tag, name, value in page.attributes:
        assert not name.startswith("on"), (tag, name)
        assert not FETCHING.search(name), (tag, name)
        assert "javascript:" not in value
    style = "".join(page.text)
    assert "@import" not in style
    assert "url(http" not in style


@pytest.mark.parametrize("call", CALLS, ids=lambda call: call.name)
def test_pictures_and_tables_are_told_to_everyone(call: Call) -> None:
    page = Page(whole(call.name)._repr_html_())
    assert page.tags.count("table") == page.tags.count("caption") >= 1
    assert page.tags.count("svg") == page.tags.count("title")
    roles = [value for tag, name, value in page.attributes if (tag, name) == ("svg", "role")]
    assert roles == ["img"] * page.tags.count("svg")
    heads = [name for tag, name, _ in page.attributes if tag == "th" and name == "scope"]
    assert len(heads) == page.tags.count("th")


def test_ids_differ_between_results_on_one_page() -> None:
    first = Page(twobowls.ratings(marks(1))._repr_html_())
    second = Page(twobowls.ratings(marks(2))._repr_html_())
    ids = [
        {value for _, name, value in page.attributes if name == "id"} for page in (first, second)
    ]
    assert ids[0]
    assert not ids[0] & ids[1]
    for page, own in zip((first, second), ids, strict=True):
        assert sum(name == "id" for _, name, _ in page.attributes) == len(own)
        pointed = {value for _, name, value in page.attributes if name == "aria-labelledby"}
        assert pointed <= own


def test_both_scales_make_pads_and_one_makes_rankings() -> None:
    both = twobowls.ratings(marks())._repr_html_()
    assert both.count('class="pad-drawing"') == 1
    one = twobowls.ratings(marks().drop(columns="liking"))._repr_html_()
    assert one.count('class="chart"') == 1
    assert "pad-drawing" not in one.split("</style>")[1]


def test_many_sensations_do_not_make_an_endless_page() -> None:
    frame = pd.concat([marks(seed).assign(sensation=f"s{seed}") for seed in range(10)])
    html = twobowls.ratings(frame, prior="flat")._repr_html_()
    assert html.count('class="pad-drawing"') == 8
    assert "2 more pictures are not shown: keep fewer sensations." in html


def test_long_tables_say_where_the_rest_is() -> None:
    found = twobowls.serving_orders(5, 200)
    assert 'and 170 more rows: .to_frame("orders")' in repr(found)
    assert "and 170 more rows: .to_frame(&quot;orders&quot;)" in found._repr_html_()
    assert len(found.to_frame(backend="dict")["seat"]) == 1000


@pytest.mark.parametrize("call", CALLS, ids=lambda call: call.name)
def test_a_terminal_gets_plain_text(call: Call) -> None:
    found = whole(call.name)
    text = repr(found)
    assert text == str(found)
    assert text.startswith(f"{found.title}\n{'=' * len(found.title)}\n")
    assert "<" not in text.replace("< 0.0001", "")
    assert max(map(len, text.splitlines())) <= 100
    for caution in found.cautions[:1]:
        assert caution[:40] in text


def test_results_do_not_change() -> None:
    found = twobowls.ratings(marks())
    with pytest.raises(AttributeError):
        found.title = "another"  # type: ignore[misc]
    assert found._repr_html_() == twobowls.ratings(marks())._repr_html_()


@pytest.mark.parametrize(
    ("cell", "places", "expected"),
    [
        (12345.6, None, "12346"),
        (-0.0004, 2, "0.00"),
        (0.00005, "p", "< 0.0001"),
        (float("-inf"), 1, "−∞"),
        (float("nan"), 1, ""),
        (False, None, "no"),
        (-5, None, "−5"),
    ],
)
def test_cells_are_written_for_the_eye(cell: Any, places: Any, expected: str) -> None:
    assert show(cell, places) == expected


def test_what_being_the_first_bowl_adds_is_told_where_it_was_asked_for() -> None:
    picked = {"a": ["Oro", "Brisa", "Niebla"] * 8, "b": ["Brisa", "Niebla", "Oro"] * 8}
    answers = {**picked, "answer": picked["a"][:21] + picked["b"][21:]}
    found = twobowls.picks(answers, first_bowl=True)
    assert found.result.order is not None
    assert found.result.order.mean > 0.5
    said = "Being the first of the two adds to the log-odds of being picked: +"
    assert said in " ".join(repr(found).split())
    assert said not in " ".join(repr(twobowls.picks(answers)).split())
