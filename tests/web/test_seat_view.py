import threading
from contextlib import suppress

import numpy as np
import pytest
from tests.store.tables import NOON

from twobowls.store.acceptance import frame_of
from twobowls.store.events import Opened, Planned, Poured, fold
from twobowls.tasting.planning import make_plan
from twobowls.tasting.setup import Setup
from twobowls.tasting.tasting import Seat, Tasting
from twobowls.web import clockwork
from twobowls.web.clockwork import Clockwork, clockwork_of
from twobowls.web.progress import expected
from twobowls.web.seat_view import flights_of, poured_of, seat_view
from twobowls.web.wall_view import wall_marks


def test_flights_follow_the_seats_own_order() -> None:
    setup = Setup(name="x", coffee_ids=tuple("abcdefg"), most_per_flight=5, seats=4)
    plan = make_plan(setup, np.random.default_rng(5))
    tasting = fold([Planned(id="t", join_code="K", setup=setup, plan=plan, at_ms=NOON)])
    for number in (1, 4, 8):
        seat = Seat(id="s", number=number, nickname="x")
        flights = flights_of(tasting, seat)
        assert len(flights) == 2
        assert tuple(code for flight in flights for code in flight) == plan.orders[number - 1].codes
        for place, flight in enumerate(flights):
            assert set(flight) == {bowl.code for bowl in plan.bowls if bowl.flight == place}


def test_clocks_are_listed_by_code_not_in_the_order_of_pouring() -> None:
    setup = Setup(name="x", coffee_ids=("a", "b", "c"))
    plan = make_plan(setup, np.random.default_rng(5))
    code = plan.bowls[2].code
    planned = Planned(id="u", join_code="K", setup=setup, plan=plan, at_ms=NOON)
    tasting = fold([planned, Opened(at_ms=NOON), Poured(bowl=code, at_ms=NOON)])
    poured = poured_of(tasting)
    assert list(poured) == sorted(poured)
    assert [at for at in poured.values() if at] == [NOON]
    assert clockwork_of(tasting) is clockwork_of(tasting)


def test_a_table_that_asks_for_its_clocks_at_once_has_them_made_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    setup = Setup(name="x", coffee_ids=("a", "b", "c"))
    plan = make_plan(setup, np.random.default_rng(5))
    tasting = fold([Planned(id="once", join_code="K", setup=setup, plan=plan, at_ms=NOON)])
    both = threading.Barrier(2)
    make, made = clockwork._make, list[Clockwork]()

    def slowly(asked: Tasting) -> Clockwork:
        with suppress(threading.BrokenBarrierError):
            both.wait(0.5)  # whoever comes second has come by then
        made.append(make(asked))
        return made[-1]

    monkeypatch.setattr(clockwork, "_make", slowly)
    threads = [threading.Thread(target=clockwork_of, args=(tasting,)) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert len(made) == 1


def test_a_seat_the_bench_and_the_wall_know_what_this_tasting_asks() -> None:
    setup = Setup(
        name="x",
        coffee_ids=("a", "b"),
        asked=(("verdict", "aroma"), ("body",), ("verdict",)),
        walk="bowls",
    )
    plan = make_plan(setup, np.random.default_rng(5))
    tasting = fold([Planned(id="asks", join_code="K", setup=setup, plan=plan, at_ms=NOON)])
    seat = Seat(id="s", number=1, nickname="x")
    view = seat_view(tasting, seat, clockwork_of(tasting), [], NOON)
    assert view.asked == {"hot": ["aroma", "verdict"], "warm": ["body"], "cool": ["verdict"]}
    assert view.walk == "bowls"
    assert [each.key for each in view.sensations] == ["aroma", "body", "verdict"]
    assert expected(tasting) == {"hot": 4, "warm": 2, "cool": 2}
    assert [pad.key for pad in wall_marks(tasting, [], {}).pads] == ["aroma", "body", "verdict"]
    judged = frame_of(tasting).judged
    assert ("warm", "body") in judged
    assert ("warm", "acidity") not in judged
