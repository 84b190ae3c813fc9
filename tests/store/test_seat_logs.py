"""What was stored is not stored again, a seat's storage has a bound, and a debrief ends it."""

import asyncio
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.store.tables import MINUTE, NOON, add_table, mark

from twobowls.store import Store, open_store, seat_logs
from twobowls.store.record_messages import Message, Refusal, from_records
from twobowls.store.seat_places import SeatPlace
from twobowls.tasting.tasting import Tasting


@pytest.fixture
def tasting(store: Store) -> Tasting:
    return store.open(add_table(store).id, NOON)


@pytest.fixture
def place(store: Store, tasting: Tasting) -> SeatPlace:
    return store.place(store.join(tasting.id, "Ana", NOON)[1])


@pytest.fixture
def again(store: Store, path: Path) -> Iterator[Store]:
    """The same store after a restart."""
    store.close_file()
    with open_store(path) as other:
        yield other


def messages(place: SeatPlace, tasting: Tasting, count: int) -> list[Message]:
    code = tasting.plan.bowls[0].code
    return from_records([mark(place.seat_id, code) for _ in range(count)])[0]


def submit(
    store: Store, place: SeatPlace, batch: list[Message], at_ms: int = NOON
) -> tuple[list[str], list[Refusal]]:
    saved, refused = asyncio.run(store.submit(place, batch, at_ms))
    return [each.id for each in saved], refused


def test_a_batch_sent_again_is_confirmed_and_not_stored_again(
    store: Store, tasting: Tasting, place: SeatPlace
) -> None:
    first, more = messages(place, tasting, 3), messages(place, tasting, 2)
    ids = [each.id for each in first]
    assert submit(store, place, first) == (ids, [])
    length = store.log_length(tasting.id)
    for _ in range(5):
        assert submit(store, place, first) == (ids, [])
    assert store.log_length(tasting.id) == length
    both = [*first, *more, *more]
    assert submit(store, place, both)[0] == [each.id for each in both]
    assert store.log_length(tasting.id) == length + 1
    assert [each.id for each in store.records(tasting.id)] == [*ids, *(each.id for each in more)]


def test_a_batch_sent_again_after_a_restart_is_not_stored_again(
    store: Store, tasting: Tasting, place: SeatPlace, path: Path
) -> None:
    first = messages(place, tasting, 3)
    submit(store, place, first)
    store.close_file()
    with open_store(path) as other:
        there = other.place(place.key)
        assert submit(other, there, first) == ([each.id for each in first], [])
        assert other.log_length(tasting.id) == 1


def test_a_seat_has_room_for_so_much_and_no_more(
    store: Store, tasting: Tasting, place: SeatPlace, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(seat_logs, "MOST_RECORDS", 10)
    first, over = messages(place, tasting, 8), messages(place, tasting, 3)
    submit(store, place, first)
    saved, refused = submit(store, place, [*first[:1], *over])
    assert saved == [first[0].id]
    assert [each.id for each in refused] == [each.id for each in over]
    assert "What was stored before is safe." in refused[0].error
    assert len(store.records(tasting.id)) == 8
    assert submit(store, place, over[:2])[1] == []
    records = [mark(place.seat_id, tasting.plan.bowls[0].code)]
    assert [each.error for each in store.add_records(place.seat_id, records, NOON).refused] == [
        seat_logs.FULL
    ]
    store.close_file()
    with open_store(path) as other:
        assert submit(other, other.place(place.key), over[2:])[0] == []
        neighbour = other.place(other.join(tasting.id, "Ben", NOON)[1])
        assert submit(other, neighbour, messages(neighbour, tasting, 8))[1] == []


def test_the_bytes_of_a_seat_are_bounded_too(
    store: Store, tasting: Tasting, place: SeatPlace, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(seat_logs, "MOST_BYTES", 1000)
    results = [submit(store, place, messages(place, tasting, 1))[1] for _ in range(20)]
    stored = sum(1 for refused in results if not refused)
    assert 3 <= stored <= 10
    assert len(store.records(tasting.id)) == stored


def test_after_its_debrief_a_seat_adds_nothing_also_after_a_restart(
    store: Store, tasting: Tasting, place: SeatPlace, path: Path
) -> None:
    before, late = messages(place, tasting, 2), messages(place, tasting, 2)
    ben = store.place(store.join(tasting.id, "Ben", NOON)[1])
    of_ben = messages(ben, tasting, 1)
    submit(store, place, before)
    store.close(tasting.id, NOON + MINUTE)
    asyncio.run(store.open_debrief(place, NOON + MINUTE))
    for now, here in ((store, place), (None, None)):
        if now is None:
            store.close_file()
            now = open_store(path)
            here = now.place(place.key)
        assert here is not None
        saved, refused = submit(now, here, [*before, *late], NOON + 2 * MINUTE)
        assert saved == [each.id for each in before]
        assert [each.id for each in refused] == [each.id for each in late]
        assert refused[0].error == (
            "This seat has opened its debrief; no more marks are taken from it."
        )
        record = mark(place.seat_id, tasting.plan.bowls[0].code)
        assert not now.add_records(place.seat_id, [record], NOON + 2 * MINUTE).saved
        if now is not store:
            assert submit(now, now.place(ben.key), of_ben, NOON + 2 * MINUTE)[1] == []
            now.reopen(tasting.id, NOON + 3 * MINUTE)
            assert submit(now, here, late, NOON + 4 * MINUTE)[1] == []
            now.close_file()


def test_what_was_handed_over_before_is_on_the_disk_before_the_debrief(
    store: Store, tasting: Tasting, place: SeatPlace
) -> None:
    batches = [messages(place, tasting, 1) for _ in range(40)]
    store.close(tasting.id, NOON + MINUTE)

    async def race() -> list[tuple[list[Message], list[Refusal]]]:
        early = [
            asyncio.ensure_future(store.submit(place, each, NOON + MINUTE)) for each in batches[:20]
        ]
        await asyncio.sleep(0)
        opening = asyncio.ensure_future(store.open_debrief(place, NOON + MINUTE))
        await asyncio.sleep(0)
        late = [store.submit(place, each, NOON + MINUTE) for each in batches[20:]]
        await opening
        seen = len(store.records(tasting.id))
        answers = await asyncio.gather(*early, *late)
        assert seen == len(store.records(tasting.id)) == 20
        return answers

    answers = asyncio.run(race())
    assert [bool(saved) for saved, _ in answers] == [True] * 20 + [False] * 20
