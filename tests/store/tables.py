"""A small table to test with: three coffees, one of them twice, two rounds."""

import secrets

import numpy as np

from twobowls.store import Store
from twobowls.tasting.coffees import Coffee
from twobowls.tasting.planning import make_plan
from twobowls.tasting.records import Mark
from twobowls.tasting.setup import COOL, HOT, Setup
from twobowls.tasting.tasting import Tasting

NOON = 1_795_600_000_000
MINUTE = 60_000


def add_shelf(store: Store) -> tuple[str, ...]:
    """Put three coffees on the shelf; return their ids."""
    names = ("Alder Gate", "Bellwether", "Copper Lane")
    return tuple(coffee.id for coffee in store.add_coffees([Coffee(id="", name=n) for n in names]))


def add_table(store: Store, *, seats: int = 3, seed: int = 1, host_tastes: bool = False) -> Tasting:
    """Plan a tasting of three coffees in four bowls."""
    ids = add_shelf(store)
    setup = Setup(
        name="Test table",
        coffee_ids=ids,
        seats=seats,
        repeats=(ids[0],),
        rounds=(HOT, COOL),
        host_tastes=host_tastes,
    )
    return store.add_tasting(setup, make_plan(setup, np.random.default_rng(seed)), NOON)


def mark(seat: str, bowl: str, *, at_ms: int = NOON, **given: object) -> Mark:
    """Return a mark with a fresh id."""
    fields = {
        "id": secrets.token_hex(16),
        "sensation": "acidity",
        "round": "hot",
        "intensity": 40.0,
        "liking": 60.0,
        **given,
    }
    return Mark(seat=seat, bowl=bowl, at_ms=at_ms, **fields)  # type: ignore[arg-type]
