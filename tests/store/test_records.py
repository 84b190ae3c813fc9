"""What the seats record: how it comes back, what is taken, what is refused and why."""

from dataclasses import replace

import pytest
from tests.store.tables import MINUTE, NOON, add_table, mark

from twobowls.store import Store
from twobowls.tasting.records import Mark, Note, Pick, Record, Word


def test_every_kind_of_record_comes_back_as_it_was(store: Store) -> None:
    tasting = store.open(add_table(store).id, NOON)
    seat, _key = store.join(tasting.id, "Ana", NOON)
    a, b = (bowl.code for bowl in tasting.plan.bowls[:2])
    records: list[Record] = [
        mark(seat.id, a),
        Pick(
            id="1" * 32,
            seat=seat.id,
            bowl_a=a,
            bowl_b=b,
            sensation="verdict",
            round="hot",
            question="better",
            answer=a,
            at_ms=NOON,
        ),
        Word(
            id="2" * 32,
            seat=seat.id,
            bowl=a,
            family="fruity",
            term="citrus",
            feeling="liked",
            round="hot",
            at_ms=NOON,
        ),
        Note(id="3" * 32, seat=seat.id, bowl=b, text="=1+1 ☕ 'quoted'", round="hot", at_ms=NOON),
    ]
    saved = store.add_records(seat.id, records, NOON + MINUTE)
    assert saved.saved == tuple(record.id for record in records)
    assert saved.refused == ()
    assert store.records(tasting.id) == tuple(records)


def test_a_record_sent_again_is_saved_again_and_counts_once(store: Store) -> None:
    tasting = store.open(add_table(store).id, NOON)
    seat, _key = store.join(tasting.id, "Ana", NOON)
    other, _key = store.join(tasting.id, "Ben", NOON)
    first = mark(seat.id, tasting.plan.bowls[0].code)
    changed = replace(first, intensity=90.0)
    assert store.add_records(seat.id, [first], NOON).saved == (first.id,)
    assert store.add_records(seat.id, [changed, first], NOON).saved == (first.id, first.id)
    theirs = replace(first, seat=other.id)
    store.add_records(other.id, [theirs], NOON)
    assert store.records(tasting.id) == (first, theirs)


def test_a_changed_mind_keeps_both_marks_in_order(store: Store) -> None:
    tasting = store.open(add_table(store).id, NOON)
    seat, _key = store.join(tasting.id, "Ana", NOON)
    code = tasting.plan.bowls[0].code
    first, second = mark(seat.id, code, intensity=10.0), mark(seat.id, code, intensity=80.0)
    store.add_records(seat.id, [first], NOON)
    store.add_records(seat.id, [second], NOON)
    assert store.records(tasting.id) == (first, second)


def test_clocks_are_filled_in_when_records_are_read(store: Store) -> None:
    tasting = store.open(add_table(store).id, NOON)
    seat, _key = store.join(tasting.id, "Ana", NOON)
    poured, dry = (bowl.code for bowl in tasting.plan.bowls[:2])
    store.pour(tasting.id, poured, NOON)
    sent = [mark(seat.id, poured, at_ms=NOON + 10 * MINUTE), mark(seat.id, dry)]
    store.add_records(seat.id, sent, NOON + 11 * MINUTE)
    first, second = store.records(tasting.id)
    assert isinstance(first, Mark)
    assert isinstance(second, Mark)
    assert first.since_pour_s == 600.0
    assert first.temperature_c is not None
    assert 50 < first.temperature_c < 80
    assert (second.since_pour_s, second.temperature_c) == (None, None)
    store.pour(tasting.id, poured, NOON + 2 * MINUTE)  # the clock was started too early
    corrected = store.records(tasting.id)[0]
    assert isinstance(corrected, Mark)
    assert corrected.since_pour_s == 480.0


def test_no_record_is_younger_than_its_arrival_or_older_than_the_opening(store: Store) -> None:
    tasting = store.open(add_table(store).id, NOON)
    seat, _key = store.join(tasting.id, "Ana", NOON)
    code = tasting.plan.bowls[0].code
    early, late = mark(seat.id, code, at_ms=5), mark(seat.id, code, at_ms=NOON + 99 * MINUTE)
    store.add_records(seat.id, [early, late], NOON + MINUTE)
    assert [record.at_ms for record in store.records(tasting.id)] == [NOON, NOON + MINUTE]


def test_records_are_taken_while_the_tasting_is_open(store: Store) -> None:
    tasting = add_table(store)
    seat, _key = store.join(tasting.id, "Ana", NOON)
    code = tasting.plan.bowls[0].code

    def refusal(at_ms: int) -> str:
        refused = store.add_records(seat.id, [mark(seat.id, code, at_ms=at_ms)], at_ms).refused
        return refused[0].error if refused else "saved"

    assert refusal(NOON) == "The host has not opened this tasting yet."
    store.open(tasting.id, NOON)
    assert refusal(NOON) == "saved"
    store.close(tasting.id, NOON + MINUTE)
    assert refusal(NOON + 2 * MINUTE) == "This tasting has closed; no more marks are taken."
    store.reveal(tasting.id, NOON + 3 * MINUTE)
    assert refusal(NOON) == "This tasting has been revealed; no more marks are taken."


def test_what_a_phone_made_before_the_closing_is_taken_until_the_reveal(store: Store) -> None:
    tasting = store.open(add_table(store).id, NOON)
    seat, _key = store.join(tasting.id, "Ana", NOON)
    code = tasting.plan.bowls[0].code
    store.close(tasting.id, NOON + MINUTE)
    in_time = mark(seat.id, code, at_ms=NOON + MINUTE // 2)
    assert store.add_records(seat.id, [in_time], NOON + 5 * MINUTE).saved == (in_time.id,)


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"bowl": "000"}, "There is no bowl 000 in this tasting."),
        ({"round": "dry"}, "acidity is not judged in the round dry of this tasting."),
        ({"sensation": "colour"}, "colour is not judged in the round hot of this tasting."),
        ({"intensity": 101.0}, "Expected `float` <= 100.0, in intensity."),
        ({"liking": -0.5}, "Expected `float` >= 0.0, in liking."),
    ],
    ids=["bowl", "round", "sensation", "high", "low"],
)
def test_a_spoilt_record_is_refused_and_its_neighbours_are_saved(
    store: Store, change: dict[str, object], text: str
) -> None:
    tasting = store.open(add_table(store).id, NOON)
    seat, _key = store.join(tasting.id, "Ana", NOON)
    code = tasting.plan.bowls[0].code
    good = mark(seat.id, code)
    spoilt = replace(mark(seat.id, code), **change)  # type: ignore[arg-type]
    saved = store.add_records(seat.id, [spoilt, good], NOON)
    assert saved.saved == (good.id,)
    assert [(each.id, each.error) for each in saved.refused] == [(spoilt.id, text)]


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"bowl_b": "000"}, "There is no bowl 000 in this tasting."),
        ({"answer": "999"}, "The answer of a pick is one of its two bowls, or 'same'."),
        ({"sensation": "colour"}, "colour is not judged in the round hot of this tasting."),
    ],
    ids=["bowl", "answer", "sensation"],
)
def test_a_pick_that_makes_no_sense(store: Store, change: dict[str, str], text: str) -> None:
    tasting = store.open(add_table(store).id, NOON)
    seat, _key = store.join(tasting.id, "Ana", NOON)
    a, b = (bowl.code for bowl in tasting.plan.bowls[:2])
    pick = Pick(
        id="a" * 32,
        seat=seat.id,
        bowl_a=a,
        bowl_b=b,
        sensation="verdict",
        round="hot",
        question="more",
        answer="same",
        at_ms=NOON,
    )
    assert store.add_records(seat.id, [pick], NOON).refused == ()
    spoilt = replace(pick, id="b" * 32, **change)  # type: ignore[arg-type]
    assert store.add_records(seat.id, [spoilt], NOON).refused[0].error == text
    itself = replace(pick, id="c" * 32, bowl_b=a)
    refused = store.add_records(seat.id, [itself], NOON).refused
    assert refused[0].error == "A pick is between two different bowls."


def test_a_word_that_nobody_knows(store: Store) -> None:
    tasting = store.open(add_table(store).id, NOON)
    seat, _key = store.join(tasting.id, "Ana", NOON)
    word = Word(
        id="a" * 32,
        seat=seat.id,
        bowl=tasting.plan.bowls[0].code,
        family="fruity",
        term="spaceship",
        feeling="liked",
        round="hot",
        at_ms=NOON,
    )
    refused = store.add_records(seat.id, [word], NOON).refused
    assert refused[0].error == "The word fruity spaceship is not known."
