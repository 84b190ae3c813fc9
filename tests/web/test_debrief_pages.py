"""The debrief pages: not before the close, no coffee before the reveal, nobody else's marks."""

import csv
import io
import json
import re
from dataclasses import replace

import httpx
import numpy as np
import pytest
from tests.store.tables import MINUTE, NOON, add_table, mark
from tests.web.running import Running

from twobowls.interchange.ratings_file import read_ratings
from twobowls.tasting.planning import make_plan
from twobowls.tasting.records import Note, Pick, Record, Word
from twobowls.tasting.sensations import SENSATIONS
from twobowls.tasting.tasting import Tasting

GUESTS = ("Ada", "Ben", "Cleo")
COFFEES = ("Alder Gate", "Bellwether", "Copper Lane")


@pytest.fixture
def keys(server: Running, tasting: Tasting) -> dict[str, str]:
    """Three seats that have marked everything, by nickname."""
    rng = np.random.default_rng(3)
    found = {}
    now = server.clock.now_ms
    for nickname in GUESTS:
        seat, key = server.store.join(tasting.id, nickname, now)
        found[nickname] = key
        server.store.add_records(seat.id, _records(tasting, seat.id, rng, now), now)
    return found


def _records(tasting: Tasting, seat: str, rng: np.random.Generator, now: int) -> list[Record]:
    made: list[Record] = []
    for round_ in tasting.setup.rounds:
        for bowl in tasting.plan.bowls:
            place = tasting.setup.coffee_ids.index(bowl.coffee_id or "")
            for sensation in SENSATIONS:
                x, y = np.clip(rng.normal([25 + 25 * place, 80 - 25 * place], 5), 0, 100)
                made.append(
                    mark(
                        seat,
                        bowl.code,
                        at_ms=now + len(made),
                        sensation=sensation.key,
                        round=round_.key,
                        intensity=float(x),
                        liking=float(y),
                    )
                )
    code = tasting.plan.bowls[0].code
    shared = {"seat": seat, "bowl": code, "round": "hot", "at_ms": now + 500}
    word = {"family": "cocoa", "term": "", "feeling": "liked"}
    made.append(Word(id=f"{int(seat, 16):032x}", **shared, **word))  # type: ignore[arg-type]
    made.append(Note(id=f"{int(seat, 16) + 1:032x}", text=f"note of {seat}", **shared))  # type: ignore[arg-type]
    one = tasting.plan.bowls[0]
    for bowl in tasting.plan.bowls:
        if bowl.coffee_id != one.coffee_id:
            made.append(_pick(seat, one.code, bowl.code, now + 600 + len(made)))
    return made


def _pick(seat: str, a: str, b: str, at_ms: int) -> Pick:
    """Return a pick of the first of two bowls."""
    return Pick(
        id=f"{at_ms + 1000 * int(seat, 16):032x}",
        seat=seat,
        bowl_a=a,
        bowl_b=b,
        sensation="body",
        round="hot",
        question="better",
        answer=a,
        at_ms=at_ms,
    )


@pytest.fixture
def closed(server: Running, tasting: Tasting, keys: dict[str, str]) -> Tasting:
    server.clock.now_ms += MINUTE
    return server.store.close(tasting.id, server.clock())


@pytest.fixture
def revealed(server: Running, closed: Tasting) -> Tasting:
    return server.store.reveal(closed.id, server.clock())


@pytest.fixture
def paths(tasting: Tasting) -> list[str]:
    root = f"/tastings/{tasting.id}"
    ends = ("debrief", "debrief.html", "debrief.json", "marks.csv", "picks.csv")
    return [f"{root}/{end}" for end in ends]


def test_nothing_is_shown_before_the_close(
    host: httpx.Client, guest: httpx.Client, keys: dict[str, str], paths: list[str]
) -> None:
    for path in [*paths, f"/seat/{keys['Ada']}/debrief"]:
        answer = (guest if path.startswith("/seat") else host).get(path)
        assert answer.status_code == 409, path
        assert "The debrief is there once the tasting has closed." in answer.text
        assert "<svg" not in answer.text


def test_only_the_host_sees_the_tables_debrief(
    guest: httpx.Client, revealed: Tasting, paths: list[str]
) -> None:
    for path in paths:
        assert guest.get(path).status_code == 403, path


def test_before_the_reveal_every_bowl_stands_for_itself(
    host: httpx.Client, guest: httpx.Client, closed: Tasting, keys: dict[str, str], paths: list[str]
) -> None:
    for path in [*paths, f"/seat/{keys['Ada']}/debrief"]:
        text = (guest if path.startswith("/seat") else host).get(path).text
        for bowl in closed.plan.bowls:
            assert bowl.code in text, path
            assert (bowl.coffee_id or "-") not in text, path
        for coffee in COFFEES:
            assert coffee not in text, path
    page = host.get(paths[0]).text
    assert "The coffees are not revealed yet" in page
    assert "Two bowls of the same coffee" not in page


def test_after_the_reveal_coffees_have_names_and_repeats_speak(
    host: httpx.Client, revealed: Tasting, paths: list[str]
) -> None:
    page = host.get(paths[0]).text
    assert "Alder Gate is the most liked." in page
    assert "Copper Lane is the least liked." in page
    assert "Copper Lane has more acidity than" in page
    assert "people put two bowls of the same coffee about" in page
    assert "expected to be wrong" in page
    for bowl in revealed.plan.bowls:
        assert bowl.code in page


def test_every_finding_leads_to_its_numbers(
    host: httpx.Client, revealed: Tasting, paths: list[str]
) -> None:
    page = host.get(paths[0]).text
    ids = re.findall(r' id="([^"]+)"', page)
    targets = set(re.findall(r'href="#([^"]+)"', page))
    assert targets
    assert targets - {"main"} <= set(ids)
    doubled = {each for each in ids if ids.count(each) > 1 and not each.startswith("finding-")}
    assert not doubled


def test_the_page_needs_no_inline_script_or_style(
    host: httpx.Client,
    guest: httpx.Client,
    revealed: Tasting,
    keys: dict[str, str],
    paths: list[str],
) -> None:
    own = guest.get(f"/seat/{keys['Ben']}/debrief")
    for answer in (host.get(paths[0]), own):
        assert "script-src 'self'" in answer.headers["content-security-policy"]
        assert " style=" not in answer.text
        assert "<style" not in answer.text
        assert not re.search(r"<script(?![^>]* src=)", answer.text)


def test_the_kept_page_fetches_nothing(
    host: httpx.Client, revealed: Tasting, paths: list[str]
) -> None:
    answer = host.get(paths[1])
    assert answer.headers["content-disposition"] == 'attachment; filename="test-table-debrief.html"'
    assert not re.search(r'(src|href)="(?!#)', answer.text)
    assert "url(" not in re.sub(r"url\(#[^)]+\)", "", answer.text)
    assert "@import" not in answer.text
    assert "prefers-color-scheme: dark" in answer.text
    assert "<script" not in answer.text


def test_the_figures_are_those_of_the_exported_marks(
    host: httpx.Client, revealed: Tasting, paths: list[str]
) -> None:
    from twobowls.debrief.analysis import analyse
    from twobowls.interchange.analysis_json import analysis_dict

    whole = host.get(paths[2]).json()
    text = host.get(paths[3]).text
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == len(GUESTS) * 4 * 2 * 7
    assert {row["seat"] for row in rows} == {"1", "2", "3"}
    assert all(float(row["intensity"]) >= 0 for row in rows)
    again = json.loads(json.dumps(analysis_dict(analyse(read_ratings(text.encode()).table))))
    for mine, theirs in zip(whole["fits"], again["fits"], strict=True):
        assert mine["id"] == theirs["id"]
        for one, two in zip(mine["contrasts"], theirs["contrasts"], strict=True):
            assert one["difference"] == pytest.approx(two["difference"], abs=1e-6)
            assert one["probability"] == pytest.approx(two["probability"], abs=1e-6)
    assert whole["tasting"]["name"] == "Test table"
    assert {each["coffee"] for each in whole["tasting"]["bowls"]} == set(COFFEES)
    assert [each["scale"] for each in whole["repeatability"]] == ["intensity", "liking"]


def test_picks_stand_beside_the_marks(
    host: httpx.Client, revealed: Tasting, paths: list[str]
) -> None:
    page = host.get(paths[0]).text
    assert "What the picks add" in page
    assert re.search(r"Body, liking: \d picks by 3 people", page)
    whole = host.get(paths[2]).json()
    (joined,) = whole["with_picks"]
    assert joined["fit"] == "body-liking"
    assert {each["contrast"] for each in joined["table"]} == {
        each["id"] for fit in whole["fits"] if fit["id"] == "body-liking"
        for each in fit["table"]["contrasts"]
    }  # fmt: skip
    rows = list(csv.DictReader(io.StringIO(host.get(paths[4]).text)))
    assert {row["answer"] for row in rows} == {revealed.plan.bowls[0].code}
    assert sum(int(row["counts"]) for row in rows) == joined["picks"]


def test_the_table_debrief_names_nobody(
    host: httpx.Client, revealed: Tasting, paths: list[str]
) -> None:
    for path in paths[:3]:
        text = host.get(path).text
        assert not [each for each in GUESTS if re.search(rf"\b{each}\b", text)], path
    assert "How far the marks follow the model" in host.get(paths[0]).text


def test_files_carry_seat_numbers_and_no_name_though_the_host_asks(
    host: httpx.Client, revealed: Tasting, paths: list[str]
) -> None:
    for path in paths[1:]:
        text = host.get(path).text
        assert not [each for each in GUESTS if re.search(rf"\b{each}\b", text)], path
    for path in paths[3:]:
        refused = host.get(f"{path}?names=yes", headers={"accept": "application/json"})
        assert refused.status_code == 409
        assert "were told that files carry seat numbers" in refused.json()["error"]["message"]
    page = host.get(paths[0]).text
    assert "names=yes" not in page
    assert "Files carry seat numbers and no names, as your guests were told." in page


def test_names_are_in_files_where_guests_were_told_and_the_host_asks(
    server: Running, host: httpx.Client, guest: httpx.Client
) -> None:
    setup = replace(add_table(server.store).setup, names_in_files=True)
    plan = make_plan(setup, np.random.default_rng(2))
    tasting = server.store.add_tasting(setup, plan, server.clock())
    server.store.open(tasting.id, server.clock())
    seat, key = server.store.join(tasting.id, "Ada", server.clock())
    assert guest.get(f"/api/seats/{key}").json()["tasting"]["names_in_files"] is True
    rng = np.random.default_rng(3)
    server.store.add_records(seat.id, _records(tasting, seat.id, rng, server.clock()), NOON + 9000)
    server.clock.now_ms += MINUTE
    server.store.close(tasting.id, server.clock())
    root = f"/tastings/{tasting.id}"
    page = host.get(f"{root}/debrief").text
    for name in ("marks.csv", "picks.csv"):
        assert f"{root}/{name}?names=yes" in page
        plain = list(csv.DictReader(io.StringIO(host.get(f"{root}/{name}").text)))
        named = list(csv.DictReader(io.StringIO(host.get(f"{root}/{name}?names=yes").text)))
        assert {row["nickname"] for row in plain} == {""}
        assert {row["nickname"] for row in named} == {"Ada"}
        assert [row | {"nickname": ""} for row in named] == plain


def test_a_private_page_names_nobody_else(
    server: Running, guest: httpx.Client, revealed: Tasting, keys: dict[str, str]
) -> None:
    seats = {seat.nickname: seat.id for seat in revealed.seats}
    for nickname, key in keys.items():
        page = guest.get(f"/seat/{key}/debrief").text
        assert f"{nickname}, how you tasted" in page
        assert f"note of {seats[nickname]}" in page
        assert "You liked Alder Gate best, and so did the table." in page
        assert "How you mark" in page
        assert "Your marks tell the coffees apart in" in page
        for other in GUESTS:
            if other != nickname:
                assert other not in page
                assert seats[other] not in page
                assert keys[other] not in page


def test_a_late_mark_is_seen(
    server: Running, host: httpx.Client, closed: Tasting, paths: list[str]
) -> None:
    before = host.get(paths[2]).json()
    seat, code = closed.seats[0], closed.plan.bowls[0].code
    late = mark(seat.id, code, at_ms=server.clock() - 100, intensity=99.0)
    saved = server.store.add_records(seat.id, [late], server.clock())
    assert saved.saved
    rows = list(csv.DictReader(io.StringIO(host.get(paths[3]).text)))
    assert sum(row["intensity"] == "99.0" for row in rows) == 1
    after = host.get(paths[2]).json()
    assert after["rows"] == before["rows"]
    assert after["fits"] != before["fits"]


def test_a_seat_without_marks_is_told_so(
    server: Running, guest: httpx.Client, tasting: Tasting, keys: dict[str, str]
) -> None:
    _, key = server.store.join(tasting.id, "Zoe", server.clock())
    server.store.close(tasting.id, server.clock())
    page = guest.get(f"/seat/{key}/debrief")
    assert page.status_code == 200
    assert "You made no marks in this tasting" in page.text


def test_a_tasting_without_marks_still_has_a_page(
    server: Running, host: httpx.Client, tasting: Tasting
) -> None:
    server.store.close(tasting.id, server.clock())
    page = host.get(f"/tastings/{tasting.id}/debrief")
    assert page.status_code == 200
    assert "Nobody made a mark that could be counted." in page.text
    assert host.get(f"/tastings/{tasting.id}/debrief.json").json()["fits"] == []
    assert host.get(f"/tastings/{tasting.id}/marks.csv").text.count("\n") == 1


def test_a_seat_that_has_opened_its_debrief_sends_no_more_marks(
    server: Running, guest: httpx.Client, tasting: Tasting, keys: dict[str, str]
) -> None:
    server.store.close(tasting.id, server.clock() + MINUTE)
    record = {
        "kind": "mark",
        "id": "5" * 32,
        "bowl": tasting.plan.bowls[0].code,
        "sensation": "body",
        "round": "hot",
        "intensity": 1.0,
        "at_ms": server.clock(),
    }

    def late(name: str) -> list[str]:
        answer = guest.post(f"/api/seats/{keys[name]}/records", json={"records": [record]})
        assert answer.status_code == 200
        return [each["error"] for each in answer.json()["refused"]]

    assert late("Ada") == []
    assert guest.get(f"/seat/{keys['Ben']}/debrief").status_code == 200
    assert late("Ben") == ["This seat has opened its debrief; no more marks are taken from it."]
    assert late("Cleo") == []
