"""The tasting that is put under load: eight coffees, four rounds, as many seats as asked for."""

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import msgspec
import numpy as np

from twobowls.store import Store, open_store
from twobowls.tasting.coffees import Coffee
from twobowls.tasting.planning import make_plan
from twobowls.tasting.records import Mark
from twobowls.tasting.sensations import sensations_in
from twobowls.tasting.setup import DEFAULT_ROUNDS, Round, Setup
from twobowls.web.settings import wall_clock_ms

COFFEES = 8
SETUP_ROUNDS = (*DEFAULT_ROUNDS, Round(key="late", name="Late", kind="taste", target_c=32.0))
ROUNDS = tuple(each.key for each in SETUP_ROUNDS)
MarkKey = tuple[int, str, str, str, str, float, float]
"""A whole mark: seat number, id, bowl, sensation, round, intensity, liking."""
SENSATIONS = tuple(each.key for each in sensations_in(DEFAULT_ROUNDS[0]))


@dataclass(frozen=True, slots=True)
class Table:
    """An open tasting in a store of its own."""

    path: Path
    tasting_id: str
    join_code: str
    bowls: tuple[str, ...]


def lay_table(path: Path, seats: int) -> Table:
    """Make a store with one open tasting."""
    with open_store(path) as store:
        return _lay(store, path, seats)


def _lay(store: Store, path: Path, seats: int) -> Table:
    coffees = store.add_coffees(
        [Coffee(id="", name=f"Coffee {number + 1}") for number in range(COFFEES)]
    )
    setup = Setup(
        name="Load",
        coffee_ids=tuple(each.id for each in coffees),
        seats=seats,
        rounds=SETUP_ROUNDS,
    )
    now_ms = wall_clock_ms()
    planned = store.add_tasting(setup, make_plan(setup, np.random.default_rng(1)), now_ms)
    tasting = store.open(planned.id, now_ms)
    codes = tuple(bowl.code for bowl in tasting.plan.bowls)
    return Table(path, tasting.id, tasting.join_code, codes)


def stored_marks(table: Table) -> list[MarkKey]:
    """Return the marks as the tool reads them."""
    with open_store(table.path) as store:
        numbers = {seat.id: seat.number for seat in store.tasting(table.tasting_id).seats}
        return [
            _key(numbers[each.seat], each)
            for each in store.records(table.tasting_id)
            if isinstance(each, Mark)
        ]


def _key(seat: int, mark: Mark) -> MarkKey:
    values = (mark.intensity, mark.liking)
    assert values[0] is not None
    assert values[1] is not None
    return seat, mark.id, mark.bowl, mark.sensation, mark.round, values[0], values[1]


class _Named(msgspec.Struct):
    id: str


_named = msgspec.json.Decoder(list[_Named])


def stored_ids(log: sqlite3.Connection) -> Iterator[str]:
    """Yield the id of every record in the log, as often as it is there."""
    for (body,) in log.execute("SELECT body FROM batches"):
        for each in _named.decode(body):
            yield each.id
