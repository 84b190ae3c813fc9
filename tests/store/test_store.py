from dataclasses import replace
from pathlib import Path

import pytest
from tests.store.tables import MINUTE, NOON, add_shelf, add_table, mark

from twobowls.errors import ConflictError, InputError, NotFoundError, StateError
from twobowls.store import Store, open_store
from twobowls.tasting.coffees import Coffee


def test_the_shelf_keeps_what_was_put_on_it(store: Store, path: Path) -> None:
    made = store.add_coffee(Coffee(id="", name="Alder Gate", price_per_100g=5.2))
    store.change_coffee(replace(made, roaster="Pell Lane"))
    assert len(made.id) == 12
    with open_store(path) as again:
        assert again.coffee(made.id) == replace(made, roaster="Pell Lane")


def test_an_archived_coffee_leaves_the_shelf_and_can_come_back(store: Store) -> None:
    first, *others = add_shelf(store)
    store.archive_coffee(first)
    assert [coffee.id for coffee in store.coffees()] == others
    assert store.coffees(include_archived=True)[0].archived
    store.archive_coffee(first, archived=False)
    assert store.coffees()[0].id == first


def test_coffees_are_added_together_or_not_at_all(store: Store) -> None:
    with pytest.raises(InputError, match=r"name: it is empty\. Give the coffee a name\."):
        store.add_coffees([Coffee(id="", name="Good"), Coffee(id="", name=" ")])
    assert store.coffees() == ()


def test_what_is_not_there_is_said_in_a_sentence(store: Store) -> None:
    with pytest.raises(NotFoundError, match="There is no such coffee on the shelf"):
        store.coffee("nothing")
    with pytest.raises(NotFoundError, match="There is no such coffee on the shelf"):
        store.change_coffee(Coffee(id="nothing", name="x"))
    with pytest.raises(NotFoundError, match="There is no such tasting"):
        store.tasting("nothing")
    with pytest.raises(NotFoundError, match=r"There is no such seat\. Join again"):
        store.seat_by_key("nothing")
    with pytest.raises(NotFoundError, match="There is no such seat"):
        store.add_records("nothing", [], NOON)


def test_a_setting_is_made_once(store: Store) -> None:
    assert store.setting("host_key", lambda: "first") == "first"
    assert store.setting("host_key", lambda: "second") == "first"


def test_a_tasting_survives_a_restart(store: Store, path: Path) -> None:
    tasting = add_table(store)
    seat, key = store.join(tasting.id, "Ana", NOON)
    store.open(tasting.id, NOON)
    store.pour(tasting.id, tasting.plan.bowls[0].code, NOON)
    store.call_round(tasting.id, "hot", NOON + MINUTE)
    before = store.tasting(tasting.id)
    with open_store(path) as again:
        assert again.tasting(tasting.id) == before
        assert again.seat_by_key(key) == (before, seat)
        assert again.tastings() == (before,)
    assert (before.state, before.round, before.version) == ("open", "hot", 5)


def test_seats_are_numbered_as_they_are_taken(store: Store) -> None:
    tasting = add_table(store)
    taken = [store.join(tasting.id, name, NOON)[0] for name in ("Ana", "Ben", "Cem")]
    assert [seat.number for seat in taken] == [1, 2, 3]
    assert len({seat.id for seat in taken}) == 3


def test_a_join_code_is_read_however_it_was_typed_and_ends_with_its_tasting(store: Store) -> None:
    tasting = add_table(store)
    code = tasting.join_code
    assert store.tasting_by_join_code(f" {code[:2].lower()} -{code[2:]} ").id == tasting.id
    store.open(tasting.id, NOON)
    store.close(tasting.id, NOON)
    with pytest.raises(NotFoundError, match="codes end with their tasting"):
        store.tasting_by_join_code(code)
    with pytest.raises(StateError, match="nobody can join it any more"):
        store.join(tasting.id, "Late", NOON)


@pytest.mark.parametrize(
    ("typed", "text"),
    [
        ("   ", "nickname: it is empty. Give any name that the others know you by."),
        ("x" * 25, "nickname: it has 25 characters. Use at most 24."),
        ("a\u202eb", "nickname: it holds characters that cannot be seen. Use letters"),
        ("a\x00b", "nickname: it holds characters that cannot be seen. Use letters"),
    ],
    ids=["empty", "long", "bidi", "nul"],
)
def test_a_nickname_that_cannot_be_used(store: Store, typed: str, text: str) -> None:
    tasting = add_table(store)
    with pytest.raises(InputError) as refused:
        store.join(tasting.id, typed, NOON)
    assert str(refused.value).startswith(text)


def test_two_of_the_same_name_are_told_apart(store: Store) -> None:
    tasting = add_table(store)
    store.join(tasting.id, "Ana", NOON)
    store.join(tasting.id, "ANA 2", NOON)
    with pytest.raises(ConflictError, match=r'called Ana already\. Take "ana 3"'):
        store.join(tasting.id, " ana", NOON)
    assert len(store.tasting(tasting.id).seats) == 2


@pytest.mark.parametrize(
    ("act", "text"),
    [
        (
            lambda s, t: s.pour(t.id, t.plan.bowls[0].code, NOON),
            "Open the tasting before you start",
        ),
        (lambda s, t: s.call_round(t.id, "hot", NOON), "Open the tasting before you call a round"),
        (lambda s, t: s.close(t.id, NOON), "Open the tasting before you close it"),
        (lambda s, t: s.reveal(t.id, NOON), "Close the tasting before you reveal the coffees"),
    ],
    ids=["pour", "round", "close", "reveal"],
)
def test_things_happen_in_their_order(store: Store, act, text: str) -> None:  # type: ignore[no-untyped-def]
    tasting = add_table(store)
    with pytest.raises(StateError, match=text):
        act(store, tasting)
    assert store.tasting(tasting.id) == tasting


def test_what_the_host_names_must_be_there(store: Store) -> None:
    tasting = store.open(add_table(store).id, NOON)
    with pytest.raises(InputError, match="bowl: there is no bowl '000' here"):
        store.pour(tasting.id, "000", NOON)
    with pytest.raises(InputError, match="round: this tasting has no round 'dry'"):
        store.call_round(tasting.id, "dry", NOON)
    with pytest.raises(StateError, match="opened before"):
        store.open(tasting.id, NOON)


def test_a_reading_must_be_possible(store: Store) -> None:
    tasting = store.open(add_table(store).id, NOON)
    code = tasting.plan.bowls[0].code
    with pytest.raises(InputError, match=f"the clock of bowl {code} has not been started"):
        store.probe(tasting.id, code, 60.0, NOON)
    store.pour(tasting.id, code, NOON)
    with pytest.raises(InputError, match="300 °C is not possible in a bowl"):
        store.probe(tasting.id, code, 300.0, NOON + MINUTE)
    with pytest.raises(InputError, match="lies outside room and kettle"):
        store.probe(tasting.id, code, 99.0, NOON + MINUTE)
    assert store.probe(tasting.id, code, 70.0, NOON + 8 * MINUTE).probes[0].temperature_c == 70.0


def test_a_late_reveal_names_what_was_under_the_bowls(store: Store) -> None:
    tasting = store.open(add_table(store, host_tastes=True).id, NOON)
    assert {bowl.coffee_id for bowl in tasting.plan.bowls} == {None}
    store.close(tasting.id, NOON)
    codes = [bowl.code for bowl in tasting.plan.bowls]
    a, b, c = tasting.setup.coffee_ids
    with pytest.raises(InputError, match="it has no coffee yet"):
        store.reveal(tasting.id, NOON)
    with pytest.raises(InputError, match="is named for 1 bowl and was poured into 2 bowls"):
        store.reveal(tasting.id, NOON, dict(zip(codes, (a, b, b, c), strict=True)))
    revealed = store.reveal(tasting.id, NOON, dict(zip(codes, (a, b, a, c), strict=True)))
    assert [bowl.coffee_id for bowl in revealed.plan.bowls] == [a, b, a, c]
    with pytest.raises(StateError, match="revealed before"):
        store.reveal(tasting.id, NOON)


def test_a_plain_reveal_takes_what_was_found_otherwise(store: Store) -> None:
    tasting = store.open(add_table(store).id, NOON)
    store.close(tasting.id, NOON)
    code, coffee = tasting.plan.bowls[0].code, tasting.plan.bowls[0].coffee_id
    other = next(each for each in tasting.setup.coffee_ids if each != coffee)
    with pytest.raises(InputError, match="not a coffee of this tasting"):
        store.reveal(tasting.id, NOON, {code: "nothing"})
    revealed = store.reveal(tasting.id, NOON, {code: other})
    found = {bowl.code: bowl.coffee_id for bowl in revealed.plan.bowls}
    assert found == {b.code: b.coffee_id for b in tasting.plan.bowls} | {code: other}


def test_a_late_reveal_may_differ_from_the_plan_when_it_was_found_so(store: Store) -> None:
    tasting = store.open(add_table(store, host_tastes=True).id, NOON)
    store.close(tasting.id, NOON)
    a, b, c = tasting.setup.coffee_ids
    found = dict(zip((bowl.code for bowl in tasting.plan.bowls), (a, b, b, c), strict=True))
    with pytest.raises(InputError, match="Look under the bowls again"):
        store.reveal(tasting.id, NOON, found)
    revealed = store.reveal(tasting.id, NOON, found, as_found=True)
    assert {bowl.code: bowl.coffee_id for bowl in revealed.plan.bowls} == found


def test_a_tasting_needs_coffees_that_are_on_the_shelf(store: Store) -> None:
    tasting = add_table(store)
    setup = replace(tasting.setup, coffee_ids=("nothing", "else"))
    with pytest.raises(NotFoundError, match="There is no such coffee"):
        store.add_tasting(setup, tasting.plan, NOON)


def test_listeners_hear_what_was_saved(store: Store) -> None:
    tasting = add_table(store)
    heard: list[object] = []
    store.on_tasting(lambda each: heard.append(each.version))
    store.on_records(lambda tid, sid, messages: heard.append((tid, sid, len(messages))))
    store.open(tasting.id, NOON)
    seat, _key = store.join(tasting.id, "Ana", NOON)
    store.add_records(seat.id, [mark(seat.id, tasting.plan.bowls[0].code)], NOON)
    assert heard == [2, 3, (tasting.id, seat.id, 1)]


def test_the_store_tells_the_latest_instant_of_what_still_goes_on(store: Store) -> None:
    assert store.latest_ms() == 0
    tasting = add_table(store)
    assert store.latest_ms() == NOON
    store.open(tasting.id, NOON + MINUTE)
    seat, _key = store.join(tasting.id, "Ana", NOON + 2 * MINUTE)
    assert store.latest_ms() == NOON + 2 * MINUTE
    store.add_records(seat.id, [mark(seat.id, tasting.plan.bowls[0].code)], NOON + 3 * MINUTE)
    assert store.latest_ms() == NOON + 3 * MINUTE
    store.close(tasting.id, NOON + 4 * MINUTE)
    assert store.latest_ms() == NOON + 4 * MINUTE
    store.reveal(tasting.id, NOON + 5 * MINUTE)
    assert store.latest_ms() == 0


def test_a_tasting_that_was_opened_again_takes_marks_and_guests(store: Store) -> None:
    tasting = store.open(add_table(store).id, NOON)
    seat, _key = store.join(tasting.id, "Ana", NOON)
    store.close(tasting.id, NOON + MINUTE)
    late = mark(seat.id, tasting.plan.bowls[0].code, at_ms=NOON + 2 * MINUTE)
    assert store.add_records(seat.id, [late], NOON + 2 * MINUTE).saved == ()
    store.reopen(tasting.id, NOON + 3 * MINUTE)
    assert store.add_records(seat.id, [late], NOON + 4 * MINUTE).saved == (late.id,)
    assert store.tasting_by_join_code(tasting.join_code).id == tasting.id
    store.join(tasting.id, "Ben", NOON + 4 * MINUTE)
