"""The server is killed at a random moment under load; what it acknowledged is there, once."""

import os
import secrets
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from tests.store.tables import NOON, add_table

from twobowls.store import open_store

SEATS = 4


@pytest.fixture
def store_path(tmp_path: Path) -> Path:
    return tmp_path / "store.sqlite3"


@pytest.fixture
def serving(store_path: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    command = [sys.executable, "-c", "import sys; from twobowls.cli import main; sys.exit(main())"]
    options = ["serve", "--store", str(store_path), "--port", "0"]
    environ = {**os.environ, "PYTHONUNBUFFERED": "1"}
    process = subprocess.Popen([*command, *options], stdout=subprocess.PIPE, text=True, env=environ)
    assert process.stdout is not None
    address = ""
    while "Stop it" not in (line := process.stdout.readline()):
        assert line, "the server did not start"
        if "/host?key=" in line:
            address = line.split()[-1].partition("/host")[0]
    yield process, address
    process.kill()
    process.wait()
    process.stdout.close()


def test_everything_that_was_acknowledged_survives_a_kill(
    store_path: Path, request: pytest.FixtureRequest
) -> None:
    with open_store(store_path) as store:
        tasting = store.open(add_table(store, seats=SEATS).id, NOON)
        keys = [store.join(tasting.id, f"Guest {n}", NOON)[1] for n in range(SEATS)]
        codes = [bowl.code for bowl in tasting.plan.bowls]
    process, address = request.getfixturevalue("serving")
    acknowledged: list[str] = []

    def taste(key: str) -> None:
        with httpx.Client(base_url=address, timeout=5, trust_env=False) as phone:
            while True:
                records = [
                    {
                        "kind": "mark",
                        "id": secrets.token_hex(16),
                        "bowl": code,
                        "sensation": "body",
                        "round": "hot",
                        "intensity": 5,
                        "liking": 6,
                        "at_ms": NOON,
                    }
                    for code in codes
                ]
                batch = {"records": records}
                try:
                    answer = phone.post(f"/api/seats/{key}/records", json=batch)
                    again = phone.post(f"/api/seats/{key}/records", json=batch)
                except httpx.HTTPError:
                    return
                acknowledged.extend(answer.json()["saved"])
                assert again.json()["saved"] == answer.json()["saved"]

    phones = [threading.Thread(target=taste, args=(key,)) for key in keys]
    for phone in phones:
        phone.start()
    moment = 60 + secrets.randbelow(600)
    give_up = time.monotonic() + 20
    while len(acknowledged) < moment and time.monotonic() < give_up:
        time.sleep(0.002)
    process.send_signal(signal.SIGKILL)
    for phone in phones:
        phone.join(timeout=10)
    with open_store(store_path) as store:
        found = [record.id for record in store.records(tasting.id)]
    assert len(acknowledged) >= moment
    assert len(set(found)) == len(found)
    assert set(acknowledged) <= set(found)
