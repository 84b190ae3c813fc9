"""The SQL of the shelf."""

import sqlite3

import msgspec

from twobowls.errors import NotFoundError
from twobowls.tasting.coffees import Coffee

_encoder = msgspec.json.Encoder()
_decoder = msgspec.json.Decoder(Coffee)

INSERT = "INSERT INTO coffees (id, archived, body) VALUES (?, ?, ?)"
UPDATE = "UPDATE coffees SET archived = ?, body = ? WHERE id = ?"
ALL = "SELECT body FROM coffees WHERE archived <= ? ORDER BY number"
ONE = "SELECT body FROM coffees WHERE id = ?"


def insert_coffee(database: sqlite3.Connection, coffee: Coffee) -> None:
    """Put a new coffee on the shelf."""
    database.execute(INSERT, (coffee.id, int(coffee.archived), _encoder.encode(coffee)))


def update_coffee(database: sqlite3.Connection, coffee: Coffee) -> None:
    """Replace what is known of a coffee.

    Raises
    ------
    NotFoundError
        There is no such coffee.
    """
    row = (int(coffee.archived), _encoder.encode(coffee), coffee.id)
    if database.execute(UPDATE, row).rowcount == 0:
        raise NotFoundError("There is no such coffee on the shelf.")


def read_coffees(database: sqlite3.Connection, include_archived: bool) -> tuple[Coffee, ...]:
    """Return the shelf in the order in which it was filled."""
    rows = database.execute(ALL, (int(include_archived),))
    return tuple(_decoder.decode(body) for (body,) in rows)


def read_coffee(database: sqlite3.Connection, coffee_id: str) -> Coffee:
    """Return one coffee, archived or not.

    Raises
    ------
    NotFoundError
        There is no such coffee.
    """
    row = database.execute(ONE, (coffee_id,)).fetchone()
    if row is None:
        raise NotFoundError("There is no such coffee on the shelf.")
    return _decoder.decode(row[0])
