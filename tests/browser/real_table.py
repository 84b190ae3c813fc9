"""The tool itself, with one tasting in a store of its own, for the seat to be tried against."""

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import uvicorn
from tests.web.running import HOST_KEY

from twobowls.store import Store, open_store
from twobowls.tasting.coffees import Coffee
from twobowls.tasting.planning import make_plan
from twobowls.tasting.setup import Setup
from twobowls.web.app import create_app
from twobowls.web.settings import WebSettings, wall_clock_ms


@dataclass(frozen=True)
class RealTable:
    """A served store; `tasting_id` is open and its first round is called."""

    store: Store
    tasting_id: str
    url: str

    def seat(self, nickname: str) -> str:
        """Join and return the address of the new seat's page."""
        _seat, key = self.store.join(self.tasting_id, nickname, wall_clock_ms())
        return f"{self.url}/seat/{key}"


def _tasting(store: Store) -> str:
    names = ("Amber Ridge", "Low Meadow", "Third Gate")
    coffees = store.add_coffees([Coffee(id=f"c{n}", name=name) for n, name in enumerate(names)])
    setup = Setup(
        name="Evening table",
        coffee_ids=tuple(coffee.id for coffee in coffees),
        repeats=(coffees[0].id,),
    )
    now = wall_clock_ms() - 900_000
    tasting = store.add_tasting(setup, make_plan(setup, np.random.default_rng(5)), now)
    store.open(tasting.id, now)
    for bowl in tasting.plan.bowls:
        store.pour(tasting.id, bowl.code, now + 1000)
    store.call_round(tasting.id, "hot", wall_clock_ms())
    return tasting.id


@contextmanager
def real_table(folder: Path) -> Iterator[RealTable]:
    """Serve the tool on loopback until the block ends."""
    with open_store(folder / "tastings.sqlite") as store:
        shield = create_app(store, WebSettings(host_key=HOST_KEY))
        config = uvicorn.Config(
            shield,
            host="127.0.0.1",
            port=0,
            log_level="error",
            server_header=False,
            date_header=False,
            timeout_graceful_shutdown=1,
        )
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.01)
        port = server.servers[0].sockets[0].getsockname()[1]
        try:
            yield RealTable(store, _tasting(store), f"http://127.0.0.1:{port}")
        finally:
            live = shield.app.state.live
            live.call(live.stop)  # where the streams are
            server.should_exit = True
            thread.join(60)
