"""What was put right is in the log, and the same after the store was opened again."""

from pathlib import Path

import pytest
from tests.store.tables import NOON, add_table

from twobowls.errors import InputError, StateError
from twobowls.store import open_store
from twobowls.store.corrections import (
    BroughtBack,
    CoffeesCorrected,
    Renamed,
    SeatMerged,
    SeatRemoved,
    SeatRestored,
    SetAside,
    Unprobed,
)


def test_every_correction_is_there_after_opening_again(path: Path) -> None:
    with open_store(path) as store:
        tasting = store.open(add_table(store).id, NOON)
        a, b, c = (store.join(tasting.id, name, NOON)[0] for name in ("Ana", "Ben", "Cleo"))
        one, two, *_rest = (bowl.code for bowl in tasting.plan.bowls)
        other = next(i for i in tasting.setup.coffee_ids if i != tasting.plan.bowls[0].coffee_id)
        store.pour(tasting.id, one, NOON)
        read_ms = NOON + 480_000
        store.probe(tasting.id, one, 64.0, read_ms)
        store.probe(tasting.id, one, 60.0, read_ms)  # in the same instant: one of them stays
        store.rename_seat(tasting.id, a.id, "Anna", NOON)
        for event in (
            Unprobed(bowl=one, read_ms=read_ms, at_ms=NOON),
            SetAside(bowl=one, at_ms=NOON),
            SetAside(bowl=two, at_ms=NOON),
            BroughtBack(bowl=two, at_ms=NOON),
            CoffeesCorrected(mapping={one: other}, at_ms=NOON),
            Renamed(name="Late breakfast", at_ms=NOON),
            SeatRemoved(seat=c.id, at_ms=NOON),
            SeatRestored(seat=c.id, at_ms=NOON),
            SeatRemoved(seat=c.id, at_ms=NOON),
            SeatMerged(seat=b.id, into=a.id, at_ms=NOON),
        ):
            before = store.correct(tasting.id, event)
    with open_store(path) as store:
        after = store.tasting(tasting.id)
    assert after == before
    assert [probe.temperature_c for probe in after.probes] == [60.0]
    assert after.set_aside == frozenset({one})
    assert after.removed == frozenset({c.id})
    assert after.merged == {b.id: a.id}
    assert [seat.nickname for seat in after.counting_seats()] == ["Anna"]
    assert (after.setup.name, after.plan.bowls[0].coffee_id) == ("Late breakfast", other)


def test_what_cannot_be_put_right_is_refused(path: Path) -> None:
    with open_store(path) as store:
        tasting = store.open(add_table(store).id, NOON)
        seat, _key = store.join(tasting.id, "Ana", NOON)
        code = tasting.plan.bowls[0].code
        with pytest.raises(InputError, match="there is no bowl '000' here"):
            store.correct(tasting.id, SetAside(bowl="000", at_ms=NOON))
        with pytest.raises(StateError, match="has not been set aside"):
            store.correct(tasting.id, BroughtBack(bowl=code, at_ms=NOON))
        with pytest.raises(InputError, match="it is the same seat"):
            store.correct(tasting.id, SeatMerged(seat=seat.id, into=seat.id, at_ms=NOON))
        with pytest.raises(InputError, match="there is no such seat here"):
            store.correct(tasting.id, SeatRemoved(seat="nobody", at_ms=NOON))
        with pytest.raises(StateError, match="counts already"):
            store.correct(tasting.id, SeatRestored(seat=seat.id, at_ms=NOON))
        with pytest.raises(InputError, match="it is not there any more"):
            store.correct(tasting.id, Unprobed(bowl=code, read_ms=NOON, at_ms=NOON))
