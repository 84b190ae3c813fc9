import httpx
from tests.store.tables import add_table
from tests.web.running import Running


def test_a_tasting_of_an_impossible_time_is_listed_all_the_same(
    server: Running, host: httpx.Client
) -> None:
    tasting = add_table(server.store)
    server.store.open(tasting.id, 10**17)  # as a restored file may hold it
    answer = host.get("/")
    assert answer.status_code == 200
    assert "no known date" in answer.text
