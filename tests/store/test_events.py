from dataclasses import replace

import msgspec
import numpy as np
import pytest
from tests.store.tables import NOON

from twobowls.errors import StateError
from twobowls.store.events import (
    MOST_SEATS,
    Closed,
    DoorClosed,
    DoorOpened,
    Event,
    Joined,
    Left,
    Opened,
    Planned,
    Poured,
    Reopened,
    Revealed,
    RoundCalled,
    Unpoured,
    check_event,
    fold,
)
from twobowls.tasting.asking import asked_in
from twobowls.tasting.planning import make_plan
from twobowls.tasting.setup import Setup


def planned() -> Planned:
    setup = Setup(name="x", coffee_ids=("a", "b"))
    plan = make_plan(setup, np.random.default_rng(0))
    return Planned(id="t", join_code="K7QM", setup=setup, plan=plan, at_ms=NOON)


def test_a_tasting_is_the_fold_of_its_events() -> None:
    first = planned()
    code = first.plan.bowls[0].code
    tasting = fold(
        [
            first,
            Joined(seat="s", number=1, nickname="Ana", at_ms=NOON),
            Opened(at_ms=NOON + 1),
            Poured(bowl=code, at_ms=NOON + 2),
            Poured(bowl=code, at_ms=NOON + 3),
            RoundCalled(round="hot", at_ms=NOON + 4),
            Closed(at_ms=NOON + 5),
            Revealed(mapping={}, at_ms=NOON + 6),
        ]
    )
    assert tasting.version == 8
    assert tasting.poured == {code: NOON + 3}
    assert [seat.nickname for seat in tasting.seats] == ["Ana"]
    assert (tasting.opened_ms, tasting.closed_ms, tasting.revealed_ms) == (
        NOON + 1,
        NOON + 5,
        NOON + 6,
    )
    assert tasting.plan == first.plan


def test_a_closed_door_lets_nobody_new_in_until_it_is_opened() -> None:
    first, ana = planned(), Joined(seat="s", number=1, nickname="Ana", at_ms=NOON)
    shut = fold([first, ana, DoorClosed(at_ms=NOON)])
    assert not shut.door_open
    assert [seat.nickname for seat in shut.seats] == ["Ana"]
    ben = Joined(seat="t", number=2, nickname="Ben", at_ms=NOON)
    with pytest.raises(StateError, match="The host has closed the door to new guests"):
        check_event(shut, ben)
    again = fold([first, ana, DoorClosed(at_ms=NOON), DoorOpened(at_ms=NOON)])
    assert again.door_open
    check_event(again, ben)
    over = fold([first, Opened(at_ms=NOON), Closed(at_ms=NOON)])
    for event in (DoorClosed(at_ms=NOON), DoorOpened(at_ms=NOON)):
        with pytest.raises(StateError, match="nobody can join it any more"):
            check_event(over, event)


def test_a_seat_that_was_given_up_is_gone_and_its_number_is_nobody_elses() -> None:
    events: list[Event] = [
        planned(),
        Joined(seat="a", number=1, nickname="Ana", at_ms=1),
        Joined(seat="b", number=2, nickname="Ben", at_ms=2),
        Left(seat="a", at_ms=3),
    ]
    tasting = fold(events)
    assert [(seat.id, seat.number) for seat in tasting.seats] == [("b", 2)]
    closed = fold([*events, Opened(at_ms=4), Closed(at_ms=5)])
    with pytest.raises(StateError, match="its seats stay as they are"):
        check_event(closed, Left(seat="b", at_ms=6))


def test_a_tasting_planned_before_files_could_carry_names_has_none_in_them() -> None:
    stored = msgspec.to_builtins(planned())
    del stored["setup"]["names_in_files"]
    found = msgspec.convert(stored, Event)
    assert isinstance(found, Planned)
    assert found.setup.names_in_files is False


def test_a_pour_can_be_taken_back() -> None:
    first = planned()
    code = first.plan.bowls[0].code
    events: list[Event] = [
        first,
        Opened(at_ms=1),
        Poured(bowl=code, at_ms=2),
        Unpoured(bowl=code, at_ms=3),
    ]
    assert fold(events).poured == {}


def test_the_first_event_says_what_was_planned() -> None:
    with pytest.raises(TypeError, match="the first event of a tasting is Planned, not Opened"):
        fold([Opened(at_ms=1)])
    with pytest.raises(TypeError, match="planned once"):
        fold([planned(), planned()])
    with pytest.raises(StateError, match="planned once"):
        check_event(fold([planned()]), planned())


def test_a_table_has_an_end() -> None:
    seats = [
        Joined(seat=str(number), number=number, nickname=str(number), at_ms=1)
        for number in range(1, MOST_SEATS + 1)
    ]
    full = fold([planned(), *seats])
    with pytest.raises(StateError, match="All 500 seats of this tasting are taken"):
        check_event(full, Joined(seat="x", number=501, nickname="x", at_ms=1))


def test_a_closing_by_mistake_can_be_taken_back_until_the_reveal() -> None:
    events: list[Event] = [planned(), Opened(at_ms=1), Closed(at_ms=2)]
    tasting = fold([*events, Reopened(at_ms=3)])
    assert (tasting.state, tasting.closed_ms, tasting.opened_ms) == ("open", None, 1)
    assert fold([*events, Reopened(at_ms=3), Closed(at_ms=4)]).closed_ms == 4


@pytest.mark.parametrize(
    ("events", "text"),
    [
        ([], "This tasting has not been opened yet."),
        ([Opened(at_ms=1)], "This tasting is open."),
        (
            [Opened(at_ms=1), Closed(at_ms=2), Revealed(mapping={}, at_ms=3)],
            "The coffees have been seen; this tasting cannot be opened again.",
        ),
    ],
)
def test_only_a_closed_tasting_is_opened_again(events: list[Event], text: str) -> None:
    with pytest.raises(StateError) as refused:
        check_event(fold([planned(), *events]), Reopened(at_ms=9))
    assert str(refused.value) == text


def test_what_is_asked_is_kept_and_an_older_tasting_asks_what_it_asked() -> None:
    setup = replace(planned().setup, asked=(("verdict",), ("body",), ("verdict",)), walk="bowls")
    event = msgspec.structs.replace(planned(), setup=setup)
    text = msgspec.json.encode(event)
    assert msgspec.json.decode(text, type=Event) == event
    older = msgspec.json.decode(text)
    del older["setup"]["asked"], older["setup"]["walk"]
    read = msgspec.convert(older, type=Planned)
    assert [len(pads) for pads in asked_in(read.setup).values()] == [7, 7, 7]
    assert read.setup.walk == "sensations"
