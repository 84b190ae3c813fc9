from collections.abc import Iterator

import httpx
import pytest
from tests.store.tables import add_table
from tests.web.running import Running, running

from twobowls.tasting.tasting import Tasting


@pytest.fixture(scope="session")
def one_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running(tmp_path_factory.mktemp("served") / "store.sqlite3") as served:
        yield served


@pytest.fixture
def server(one_server: Running) -> Running:
    """A running server; its store goes on filling, so look at your own tasting only."""
    one_server.renew()
    return one_server


@pytest.fixture
def host(server: Running) -> Iterator[httpx.Client]:
    with server.host() as client:
        yield client


@pytest.fixture
def guest(server: Running) -> Iterator[httpx.Client]:
    with server.guest() as client:
        yield client


@pytest.fixture
def planned(server: Running) -> Tasting:
    """A planned tasting of three coffees in four bowls."""
    return add_table(server.store)


@pytest.fixture
def tasting(server: Running, planned: Tasting) -> Tasting:
    """The same tasting, open."""
    return server.store.open(planned.id, server.clock())


@pytest.fixture
def seat_key(server: Running, tasting: Tasting) -> str:
    return server.store.join(tasting.id, "Ana", server.clock())[1]
