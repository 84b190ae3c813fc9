from concurrent.futures import ThreadPoolExecutor

from twobowls.store.join_codes import JOIN_ALPHABET, JOIN_LENGTH
from twobowls.web import limits
from twobowls.web.limits import Limits, Pace
from twobowls.web.server import MOST_OF_ONE_ADDRESS


def test_each_caller_has_some_at_once_and_then_one_every_few_seconds() -> None:
    pace = Pace(burst=3, every_s=10)
    assert [pace.take("a", 0) for _ in range(4)] == [0, 0, 0, 10]
    assert pace.take("b", 0) == 0
    assert pace.take("a", 4_000) == 6
    assert [pace.take("a", 10_000), pace.take("a", 10_000)] == [0, 10]


def test_the_wait_that_is_told_is_the_wait() -> None:
    pace = Pace(burst=12, every_s=10)
    for _ in range(12):
        pace.take("a", 0)
    for now_ms in (0, 1, 999, 1_000, 7_777, 9_999):
        wait_s = pace.take("a", now_ms)
        assert wait_s == -(-(10_000 - now_ms) // 1000)
    assert pace.take("a", 10_000) == 0


def test_what_is_given_back_does_not_count() -> None:
    pace = Pace(burst=2, every_s=10)
    for _ in range(10):
        assert pace.take("a", 0) == 0
        pace.give_back("a", 0)
    assert not pace._taken


def test_a_burst_from_many_threads_gets_no_more_than_is_free() -> None:
    pace = Pace(burst=12, every_s=10)
    with ThreadPoolExecutor(16) as pool:
        waits = list(pool.map(lambda _: pace.take("a", 0), range(150)))
    assert waits.count(0) == 12


def test_callers_that_never_come_back_are_forgotten() -> None:
    pace = Pace(burst=3, every_s=10)
    for number in range(10_500):
        pace.take(str(number), 0)
    assert len(pace._taken) == 10_000


def test_a_clock_that_jumps_back_locks_nobody_out() -> None:
    pace = Pace(burst=3, every_s=10)
    for _ in range(3):
        pace.take("a", 1_000_000)
    assert pace.take("a", 0) == 0


def test_four_hours_of_guessing_from_one_address_find_no_code() -> None:
    tries = 4 * 3600 * MOST_OF_ONE_ADDRESS / limits.HOLD_S
    assert tries / len(JOIN_ALPHABET) ** JOIN_LENGTH < 0.01


def test_where_all_come_through_one_address_a_whole_panel_sits_down_at_once() -> None:
    one, usual = Limits(one_address=True), Limits()
    assert {one.seats.take("a", 0) for _ in range(500)} == {0}
    waits = [usual.seats.take("a", 0) for _ in range(41)]
    assert waits == [0] * 40 + [3]
