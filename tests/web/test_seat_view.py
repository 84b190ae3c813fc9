import numpy as np
from tests.store.tables import NOON

from twobowls.store.events import Opened, Planned, Poured, fold
from twobowls.tasting.planning import make_plan
from twobowls.tasting.setup import Setup
from twobowls.tasting.tasting import Seat
from twobowls.web.clockwork import clockwork_of
from twobowls.web.seat_view import flights_of, poured_of


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
