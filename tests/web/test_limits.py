from twobowls.web.limits import Guesses


def test_failures_are_counted_by_caller_and_forgiven_with_time() -> None:
    guesses = Guesses(each=3, together=100, refill_s=10)
    for _ in range(3):
        assert guesses.wait_s("a", 0) == 0
        guesses.failed("a", 0)
    assert guesses.wait_s("a", 0) == 10
    assert guesses.wait_s("b", 0) == 0
    assert guesses.wait_s("a", 4_000) == 6
    assert guesses.wait_s("a", 10_000) == 0
    guesses.failed("a", 10_000)
    assert guesses.wait_s("a", 10_000) == 10


def test_many_callers_together_are_slowed_down_too() -> None:
    guesses = Guesses(each=3, together=6, refill_s=10)
    for number in range(6):
        assert guesses.wait_s(str(number), 0) == 0
        guesses.failed(str(number), 0)
    assert guesses.wait_s("new", 0) > 0
    assert guesses.wait_s("new", 10_000) == 0


def test_callers_that_never_come_back_are_forgotten() -> None:
    guesses = Guesses(each=3, together=10**9)
    for number in range(10_500):
        guesses.failed(str(number), 0)
    assert len(guesses._callers) == 10_000


def test_a_clock_that_jumps_back_locks_nobody_out() -> None:
    guesses = Guesses(each=3, together=100, refill_s=10)
    for _ in range(3):
        guesses.failed("a", 1_000_000)
    assert guesses.wait_s("a", 0) == 0
