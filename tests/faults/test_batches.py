"""Batches twice, in the wrong order, mixed with others', after the closing: one final state.

What a phone makes has an instant and an id. However the network delivers it, and however often,
the same must come out.
"""

import secrets
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.store.tables import MINUTE, NOON, add_table
from tests.web.running import Running, running

from twobowls.tasting.records import Mark, Note, Pick, Record, Word, latest_marks

Batch = list[dict[str, Any]]
HOUR = 60 * MINUTE
SEATS = 2
TRIES = settings(
    max_examples=25,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=list(HealthCheck),
)


@pytest.fixture(scope="module")
def laptop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    folder: Path = tmp_path_factory.mktemp("batches")
    with running(folder / "store.sqlite3") as served:
        yield served


@pytest.fixture(scope="module")
def browser(laptop: Running) -> Iterator[httpx.Client]:
    with laptop.guest() as client:
        yield client


@dataclass(frozen=True)
class Evening:
    """A fresh open tasting, always the same but for its ids."""

    laptop: Running
    browser: httpx.Client
    tasting_id: str
    keys: list[str]
    codes: list[str]

    def post(self, seat: int, batch: Batch) -> dict[str, Any]:
        """Deliver a batch; return the answer."""
        path = f"/api/seats/{self.keys[seat]}/records"
        answer = self.browser.post(path, json={"records": batch})
        assert answer.status_code == 200
        answered: dict[str, Any] = answer.json()
        return answered

    def records(self) -> tuple[Record, ...]:
        """Return all that the store has of it."""
        return self.laptop.store.records(self.tasting_id)


def evening(laptop: Running, browser: httpx.Client) -> Evening:
    laptop.clock.now_ms = NOON + 2 * HOUR
    store = laptop.store
    tasting = store.open(add_table(store, seats=SEATS).id, NOON)
    keys = [store.join(tasting.id, f"Guest {n}", NOON)[1] for n in range(SEATS)]
    codes = [bowl.code for bowl in tasting.plan.bowls]
    return Evening(laptop, browser, tasting.id, keys, codes)


@st.composite
def batches(draw: st.DrawFn) -> list[tuple[int, list[tuple[str, int, int]]]]:
    """Batches of (kind, bowl, value), each of one seat, in the order in which they were made."""
    record = st.tuples(
        st.sampled_from(["mark", "mark", "mark", "pick", "word", "note"]),
        st.integers(0, 3),
        st.integers(0, 100),
    )
    batch = st.tuples(st.integers(0, SEATS - 1), st.lists(record, min_size=1, max_size=5))
    return draw(st.lists(batch, min_size=1, max_size=6))


def write(made: Any, codes: Sequence[str]) -> list[tuple[int, Batch]]:
    """Give each record its instant, one after the other, and an id."""
    at_ms, written = NOON, []
    for seat, batch in made:
        records = []
        for kind, bowl, value in batch:
            at_ms += 7
            head = {"kind": kind, "id": secrets.token_hex(16), "round": "hot", "at_ms": at_ms}
            records.append({**head, **BODIES[kind](codes, bowl, value)})
        written.append((seat, records))
    return written


BODIES: dict[str, Any] = {
    "mark": lambda codes, bowl, value: {
        "bowl": codes[bowl],
        "sensation": "body",
        "intensity": value,
        "liking": None if value % 3 else 100 - value,
    },
    "pick": lambda codes, bowl, value: {
        "bowl_a": codes[bowl],
        "bowl_b": codes[bowl - 1],
        "sensation": "body",
        "question": "more",
        "answer": (codes[bowl], codes[bowl - 1], "same")[value % 3],
    },
    "word": lambda codes, bowl, value: {
        "bowl": codes[bowl],
        "family": "fruity",
        "term": "",
        "feeling": ("liked", "disliked", "neutral", "removed")[value % 4],
    },
    "note": lambda codes, bowl, value: {"bowl": codes[bowl], "text": f"note {value}"},
}


def final_state(records: Sequence[Record]) -> dict[str, Any]:
    """Return what counts: of each thing that can be said, what was said last."""
    last: dict[tuple[object, ...], Record] = {}
    for each in sorted(records, key=lambda record: record.at_ms):
        if isinstance(each, Pick):
            last["pick", each.seat, each.bowl_a, each.bowl_b] = each
        elif isinstance(each, Word):
            last["word", each.seat, each.bowl, each.family, each.term] = each
        elif isinstance(each, Note):
            last["note", each.seat, each.bowl] = each
    marks = [each for each in records if isinstance(each, Mark)]
    return {
        "all": sorted(each.id for each in records),
        "marks": {mark.id for mark in latest_marks(marks)},
        "others": {each.id for each in last.values()},
    }


def expected(sent: list[tuple[int, Batch]]) -> dict[str, Any]:
    """Return the same from what the phones made, without the tool."""
    last: dict[tuple[Any, ...], dict[str, Any]] = {}
    for seat, batch in sent:
        for each in batch:
            bowls = (each.get("bowl"), each.get("bowl_a"), each.get("bowl_b"))
            last[seat, each["kind"], *bowls] = each
    return {
        "all": sorted(each["id"] for _seat, batch in sent for each in batch),
        "marks": {each["id"] for each in last.values() if each["kind"] == "mark"},
        "others": {each["id"] for each in last.values() if each["kind"] != "mark"},
    }


@given(made=batches(), data=st.data())
@TRIES
def test_any_order_and_any_number_of_times_gives_the_same_state(
    laptop: Running, browser: httpx.Client, made: Any, data: st.DataObject
) -> None:
    table = evening(laptop, browser)
    sent = write(made, table.codes)
    more = data.draw(st.lists(st.sampled_from(range(len(sent))), max_size=6))
    order = data.draw(st.permutations([*range(len(sent)), *more]))
    for number in order:
        seat, batch = sent[number]
        mixed = data.draw(st.permutations(batch))
        answer = table.post(seat, mixed)
        assert answer["saved"] == [each["id"] for each in mixed]
        assert answer["refused"] == []
    assert final_state(table.records()) == expected(sent)


@given(made=batches(), data=st.data())
@TRIES
def test_batches_cut_anew_give_the_same_state(
    laptop: Running, browser: httpx.Client, made: Any, data: st.DataObject
) -> None:
    """A phone that heard no answer sends the same records in other company."""
    table = evening(laptop, browser)
    sent = write(made, table.codes)
    for seat in range(SEATS):
        own = [each for number, batch in sent if number == seat for each in batch]
        while own:
            some = data.draw(st.integers(1, len(own)))
            table.post(seat, own[:some])
            if data.draw(st.booleans()):  # the answer got lost: all of it goes once more
                table.post(seat, own)
            own = own[some:]
    assert final_state(table.records()) == expected(sent)


@given(made=batches(), data=st.data())
@TRIES
def test_late_batches_are_taken_by_when_they_were_made(
    laptop: Running, browser: httpx.Client, made: Any, data: st.DataObject
) -> None:
    table = evening(laptop, browser)
    sent = write(made, table.codes)
    times = [each["at_ms"] for _seat, batch in sent for each in batch]
    closing = data.draw(st.integers(NOON, times[-1]))
    laptop.store.close(table.tasting_id, closing)
    in_time = [(s, [each for each in b if each["at_ms"] <= closing]) for s, b in sent]
    for number in data.draw(st.permutations([*range(len(sent)), *range(len(sent))])):
        seat, batch = sent[number]
        answer = table.post(seat, batch)
        assert answer["saved"] == [each["id"] for each in in_time[number][1]]
        assert {each["error"] for each in answer["refused"]} <= {
            "This tasting has closed; no more marks are taken."
        }
        assert len(answer["saved"]) + len(answer["refused"]) == len(batch)
    assert final_state(table.records()) == expected(in_time)
    laptop.store.reveal(table.tasting_id, closing + 1)
    for seat, batch in sent:
        assert table.post(seat, batch)["saved"] == []
    assert final_state(table.records()) == expected(in_time)
