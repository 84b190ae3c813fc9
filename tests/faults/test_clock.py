"""Clocks that are wrong, or set, in the middle of a tasting."""

from pathlib import Path

import pytest
from tests.faults.laptop import Laptop, running
from tests.faults.table import Phone, set_table

from twobowls.tasting.records import latest_marks
from twobowls.web.settings import wall_clock_ms

HOUR = 3_600_000
DAY = 24 * HOUR


class HostsTime:
    """A phone's idea of the host's time: what the last answer said, as `clock.js` keeps it."""

    def __init__(self, laptop: Laptop, phone: Phone) -> None:
        self._laptop = laptop
        self._phone = phone
        self._last = 0

    def taste(self, intensity: float) -> int:
        """Mark the first bowl, at the time that the laptop tells; return what it says now."""
        with self._laptop.guest() as browser:
            now = int(browser.get(f"/api/seats/{self._phone.key}").json()["now_ms"])
            self._last = max(now, self._last + 1)
            self._phone.mark(bowl=self._phone.codes[0], intensity=intensity, at_ms=self._last)
            answer = self._phone.send(browser)
            assert answer.json()["refused"] == []
            return int(answer.json()["now_ms"])


@pytest.mark.parametrize("jump", [HOUR, -HOUR], ids=["ahead", "back"])
@pytest.mark.parametrize("restart", [False, True], ids=["running", "over a restart"])
def test_the_latest_mark_counts_whatever_the_hosts_clock_does(
    tmp_path: Path, jump: int, restart: bool
) -> None:
    wrong = tmp_path / "clock"
    wrong.write_text("0")
    table = set_table(tmp_path / "store.sqlite3", 1)
    with running(table.store, "--clock", str(wrong)) as laptop:
        laptop.start()
        phone = HostsTime(laptop, table.phones[0])
        first = phone.taste(10)
        assert abs(first - wall_clock_ms()) < HOUR // 4
        wrong.write_text(str(jump))
        if restart:
            laptop.kill()
            laptop.start()
        after = phone.taste(90)
        with laptop.host() as host:
            bowl = table.phones[0].codes[0]
            path = f"/tastings/{table.tasting_id}/pour"
            assert host.post(path, data={"bowl": bowl}).is_success
            poured = laptop.bench(table.tasting_id)["poured"][bowl]
        assert laptop.stop() == 0
    ahead = max(jump, 0) if restart else 0
    assert first <= after <= poured < first + ahead + HOUR // 4
    marks = table.found()
    assert [mark.intensity for mark in marks] == [10, 90]
    assert [mark.intensity for mark in latest_marks(marks)] == [90]


def test_a_phone_that_is_days_wrong_is_put_between_the_opening_and_now(tmp_path: Path) -> None:
    off = (-400, -3, 3, 400)
    began = wall_clock_ms()
    table = set_table(tmp_path / "store.sqlite3", len(off))
    with running(table.store) as laptop:
        laptop.start()
        with laptop.guest() as browser:
            for phone, days in zip(table.phones, off, strict=True):
                for intensity in (10, 50, 90):
                    at_ms = wall_clock_ms() + days * DAY + intensity
                    phone.mark(bowl=phone.codes[0], intensity=intensity, at_ms=at_ms)
                    assert phone.send(browser).json()["refused"] == []
        laptop.stop()
    marks = table.found()
    opened = began - 60_000  # see set_table
    assert all(opened <= mark.at_ms <= wall_clock_ms() for mark in marks)
    assert [mark.intensity for mark in latest_marks(marks)] == [90] * len(off)
    assert len(marks) == 3 * len(off)
