import pytest

from twobowls.web.wording import NO_DATE, NO_TIME, clock_time, day


@pytest.mark.parametrize("at_ms", [2**53, -(2**53), 10**17, -(10**17), 253_402_300_800_000])
def test_an_instant_beyond_any_calendar_is_said_to_be_none(at_ms: int) -> None:
    assert day(at_ms) == NO_DATE
    assert clock_time(at_ms) == NO_TIME


def test_an_instant_is_told_as_people_read_it() -> None:
    assert day(1_795_600_000_000).endswith("November 2026")
    assert clock_time(1_795_600_000_000)[2] == ":"
