import pytest
from tests.store.tables import MINUTE, NOON

from twobowls.web.host_clock import HostClock, steady_ns

HOUR = 60 * MINUTE


class Computer:
    """A computer whose clock can be set and which can sleep."""

    def __init__(self) -> None:
        self.wall_ms, self.steady = NOON, 7_000_000_000

    def pass_ms(self, span_ms: int) -> None:
        self.wall_ms += span_ms
        self.steady += span_ms * 1_000_000


@pytest.mark.parametrize("jump_ms", [HOUR, -HOUR, 40 * 24 * HOUR])
def test_the_time_goes_on_when_the_clock_is_set(jump_ms: int) -> None:
    computer = Computer()
    clock = HostClock(0, lambda: computer.wall_ms, lambda: computer.steady)
    assert clock() == NOON
    computer.pass_ms(90_000)
    computer.wall_ms += jump_ms
    assert clock() == NOON + 90_000


@pytest.mark.parametrize(
    ("latest_ms", "begins_ms"),
    [
        (0, NOON),
        (NOON - HOUR, NOON),
        (NOON + HOUR, NOON + HOUR),  # the clock was set back an hour while the server was down
        (NOON + 25 * HOUR, NOON),  # the tasting before was run with a clock that was days ahead
    ],
)
def test_a_tasting_that_goes_on_is_not_sent_back(latest_ms: int, begins_ms: int) -> None:
    assert HostClock(latest_ms, lambda: NOON, lambda: 0)() == begins_ms


def test_the_steady_clock_only_goes_forward() -> None:
    read = [steady_ns() for _ in range(1000)]
    assert read == sorted(read)
