"""A part of a debrief that fails says so in its place, and everything else stands."""

import logging
import re
from dataclasses import replace

import httpx
import pytest
from tests.store.tables import MINUTE, mark
from tests.web.running import Running

from twobowls.debrief import analysis, tasting_debrief
from twobowls.debrief.rating_table import Part
from twobowls.interchange.chart_process import ChartError
from twobowls.store.coffee_table import update_coffee
from twobowls.tasting.records import Pick
from twobowls.tasting.tasting import Tasting
from twobowls.web import debrief_view

GUESTS = ("Ada", "Ben", "Cleo")
Table = tuple[Tasting, dict[str, str]]


def broken(*_given: object, **_named: object) -> object:
    raise ZeroDivisionError("made to fail")


@pytest.fixture
def table(server: Running, tasting: Tasting) -> Table:
    """A revealed tasting of three seats that marked and picked; their keys by nickname."""
    keys, now = {}, server.clock()
    codes = [bowl.code for bowl in tasting.plan.bowls]
    for number, nickname in enumerate(GUESTS):
        seat, keys[nickname] = server.store.join(tasting.id, nickname, now)
        made = [
            mark(
                seat.id,
                code,
                at_ms=now + place,
                sensation=sensation,
                intensity=20.0 * place + number,
                liking=90 - 20.0 * place,
            )
            for place, code in enumerate(codes)
            for sensation in ("acidity", "verdict")
        ]
        pick = Pick(
            id=f"{number:032x}",
            seat=seat.id,
            bowl_a=codes[0],
            bowl_b=codes[1],
            sensation="verdict",
            round="hot",
            question="better",
            answer=codes[0],
            at_ms=now,
        )
        server.store.add_records(seat.id, [*made, pick], now)
    server.clock.now_ms += MINUTE
    server.store.close(tasting.id, server.clock())
    return server.store.reveal(tasting.id, server.clock()), keys


# What is made to fail, the section that then says so, and what the JSON calls it.
PARTS = [
    ("find", "h-found", "findings"),
    ("pads", "h-pads", "pads"),
    ("table_marking", "h-marking", "marking"),
    ("model_checks", "h-checks", "checks"),
    ("join_picks", "h-picks", "joined"),
    ("pick_pairs", "h-picks", "picks"),
    ("consensus", "h-words", "words"),
    ("changes", "h-rounds", "changes"),
    ("repeatability", "h-repeats", "repeatability"),
    ("analyse", "h-found", "analysis"),
]


@pytest.mark.parametrize(("call", "section", "name"), PARTS)
def test_a_part_that_fails_says_so_in_its_place_and_the_rest_stands(
    table: Table,
    host: httpx.Client,
    guest: httpx.Client,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
    call: str,
    section: str,
    name: str,
) -> None:
    of, keys = table
    monkeypatch.setattr(tasting_debrief, call, broken)
    root = f"/tastings/{of.id}"
    with caplog.at_level(logging.ERROR):
        page = host.get(f"{root}/debrief")
    assert page.status_code == 200
    sections = dict(re.findall(r'<h2 id="([^"]+)">(.*?)</section>', page.text, re.DOTALL))
    told = {each for each, text in sections.items() if "could not be worked out" in text}
    assert section in told
    assert "The marks are safe" in sections[section]
    assert len(told) <= 2
    assert "Which bowl was which" in page.text
    assert f"{name} could not be worked out" in caplog.text
    assert "made to fail" in caplog.text
    assert "made to fail" not in page.text
    figures = host.get(f"{root}/debrief.json")
    assert figures.json()["failed"] == [name]
    assert figures.json()["rows"] == 3 * 2 * len(of.plan.bowls)
    assert host.get(f"{root}/debrief.html").status_code == 200
    assert host.get(f"{root}/marks.csv").text.count("\n") == 1 + 3 * 2 * len(of.plan.bowls)
    own = guest.get(f"/seat/{keys['Ben']}/debrief")
    assert own.status_code == 200
    assert "Ben, how you tasted" in own.text
    shown_to_seats = {"pads", "marking", "words", "analysis", "repeatability"}
    assert ("could not be worked out" in own.text) == (name in shown_to_seats)


def test_one_sensation_that_fails_leaves_the_others(
    table: Table, host: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    of, _ = table
    fit_part = analysis.fit_part

    def but_one(part: Part, model: analysis.Model) -> object:
        return broken() if part.sensation == "acidity" else fit_part(part, model)

    monkeypatch.setattr(analysis, "fit_part", but_one)
    page = host.get(f"/tastings/{of.id}/debrief").text
    assert "Acidity: how strong could not be analysed. Something went wrong in twobowls" in page
    assert 'id="verdict-liking"' in page
    figures = host.get(f"/tastings/{of.id}/debrief.json").json()
    assert figures["failed"] == ["acidity-intensity", "acidity-liking"]
    assert [fit["id"] for fit in figures["fits"]] == ["verdict-intensity", "verdict-liking"]


def test_a_section_that_cannot_be_written_out_says_so(
    table: Table, host: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    of, _ = table
    monkeypatch.setattr(debrief_view, "numbers", broken)
    page = host.get(f"/tastings/{of.id}/debrief").text
    assert page.count("could not be worked out") == 1
    assert re.search(r'id="h-numbers">The numbers</h2>\s*<div class="callout">', page)


def test_a_chart_that_cannot_be_drawn_has_a_sentence_in_its_place(
    table: Table, host: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_given: object) -> str:
        raise ChartError("no")

    of, _ = table
    monkeypatch.setattr(debrief_view, "chart_svg", refused)
    page = host.get(f"/tastings/{of.id}/debrief").text
    assert "This chart could not be drawn." in page
    assert "is the most liked" in page


def test_a_name_stored_before_it_was_refused_still_has_its_page(
    table: Table, server: Running, host: httpx.Client
) -> None:
    of, _ = table
    store = server.store
    old = replace(store.coffee(of.setup.coffee_ids[0]), name="A\x0bB")
    store._writer.run(lambda db: update_coffee(db, old))
    page = host.get(f"/tastings/{of.id}/debrief")
    assert page.status_code == 200
    assert "could not be" not in page.text
    assert "A\N{REPLACEMENT CHARACTER}B" in page.text
    assert host.get("/shelf").status_code == 200
