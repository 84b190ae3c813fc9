"""What the bench asks before it does what is probably a slip."""

import re

import httpx
import pytest
from tests.web.running import Running

from twobowls.tasting.tasting import Tasting

JSON = {"accept": "application/json"}


@pytest.fixture
def poured(server: Running, tasting: Tasting) -> Tasting:
    return server.store.pour(tasting.id, tasting.plan.bowls[0].code, server.clock())


def test_a_round_called_minutes_early_asks(
    server: Running, host: httpx.Client, poured: Tasting
) -> None:
    action = f"/tastings/{poured.id}/round"
    asked = host.post(action, data={"round": "cool"})
    assert asked.status_code == 409
    assert re.search(r"the first will be ready in about \d+ minutes", asked.text)
    assert host.post(action, data={"round": "cool"}, headers=JSON).json()["error"]["field"] == (
        "sure"
    )
    assert server.store.tasting(poured.id).round is None
    assert host.post(action, data={"round": "cool", "sure": "1"}).status_code == 303
    assert server.store.tasting(poured.id).round == "cool"


def test_a_round_in_time_does_not_ask(server: Running, host: httpx.Client, poured: Tasting) -> None:
    ready_s = host.get(f"/tastings/{poured.id}/clock.json").json()["rounds"]["hot"]
    server.clock.now_ms += round(1000 * ready_s) - 170_000
    assert host.post(f"/tastings/{poured.id}/round", data={"round": "hot"}).status_code == 303


def test_a_reading_far_from_what_is_expected_asks(
    server: Running, host: httpx.Client, poured: Tasting
) -> None:
    action, code = f"/tastings/{poured.id}/probe", poured.plan.bowls[0].code
    server.clock.now_ms += 480_000
    curve = dict(host.get(f"/tastings/{poured.id}/clock.json").json()["cooling"])
    near, far = curve[480] - 6, curve[480] - 20
    read_ms = server.clock()
    asked = host.post(action, data={"bowl": code, "temperature": f"{far:.1f}"})
    assert (asked.status_code, "Is the reading right?" in asked.text) == (409, True)
    assert server.store.tasting(poured.id).probes == ()
    server.clock.now_ms += 20_000
    hidden = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', asked.text))
    assert host.post(action, data=hidden).status_code == 303
    (probe,) = server.store.tasting(poured.id).probes
    assert probe.at_ms == read_ms  # the question took no time away from the reading
    put = {"what": "unprobe", "bowl": code, "read_ms": str(read_ms)}
    host.post(f"/tastings/{poured.id}/corrections", data=put)
    assert server.store.tasting(poured.id).probes == ()
    near_by = host.post(action, data={"bowl": code, "temperature": f"{near:.1f}"})
    assert near_by.status_code == 303
