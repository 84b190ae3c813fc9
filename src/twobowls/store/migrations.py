"""The store's schema, as an append-only list of steps. Never edit a step that was released.

``user_version`` counts the steps that a file has seen; ``application_id`` tells our files
from other SQLite files.
"""

import sqlite3

APPLICATION_ID = 0x54424F57  # "TBOW"

MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        """
        CREATE TABLE settings (
            name TEXT PRIMARY KEY,
            value TEXT NOT NULL
        ) STRICT, WITHOUT ROWID
        """,
        """
        CREATE TABLE coffees (
            number INTEGER PRIMARY KEY,
            id TEXT NOT NULL UNIQUE,
            archived INTEGER NOT NULL DEFAULT 0,
            body BLOB NOT NULL
        ) STRICT
        """,
        """
        CREATE TABLE tastings (
            number INTEGER PRIMARY KEY,
            id TEXT NOT NULL UNIQUE,
            join_code TEXT NOT NULL UNIQUE,
            created_ms INTEGER NOT NULL
        ) STRICT
        """,
        # The host's log: a tasting is the fold of its events, version = 1, 2, 3, ...
        """
        CREATE TABLE host_events (
            tasting INTEGER NOT NULL REFERENCES tastings (number),
            version INTEGER NOT NULL,
            body BLOB NOT NULL,
            PRIMARY KEY (tasting, version)
        ) STRICT, WITHOUT ROWID
        """,
        """
        CREATE TABLE seats (
            number INTEGER PRIMARY KEY,
            id TEXT NOT NULL UNIQUE,
            tasting INTEGER NOT NULL REFERENCES tastings (number),
            key TEXT NOT NULL UNIQUE
        ) STRICT
        """,
        # The seats' log, a row for each batch that arrived: `body` is a JSON list of records,
        # `number` the order of arrival. A batch that was sent twice may be here twice; the log is
        # read as the first record of each (seat, id). A unique index over random ids would write
        # a page of its own for nearly every record, and cost ten times as much.
        """
        CREATE TABLE batches (
            number INTEGER PRIMARY KEY,
            seat INTEGER NOT NULL REFERENCES seats (number),
            received_ms INTEGER NOT NULL,
            body BLOB NOT NULL
        ) STRICT
        """,
        "CREATE INDEX batches_of_seat ON batches (seat)",
        "CREATE INDEX seats_of_tasting ON seats (tasting)",
    ),
    (
        # Who has seen its debrief sends no more marks, also after a restart.
        """
        CREATE TABLE opened_debriefs (
            seat INTEGER PRIMARY KEY REFERENCES seats (number),
            at_ms INTEGER NOT NULL
        ) STRICT
        """,
    ),
)


def migrate(database: sqlite3.Connection) -> None:
    """Bring an open store up to the newest schema: all steps that it lacks, or none."""
    present = schema_version(database)
    if present == newest_schema():
        return
    database.execute("BEGIN IMMEDIATE")
    try:
        for step in MIGRATIONS[present:]:
            for statement in step:
                database.execute(statement)
        database.execute(f"PRAGMA user_version = {newest_schema()}")
        database.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        database.execute("COMMIT")
    except BaseException:
        if database.in_transaction:
            database.execute("ROLLBACK")
        raise


def newest_schema() -> int:
    """Return how many steps there are."""
    return len(MIGRATIONS)


def schema_version(database: sqlite3.Connection) -> int:
    """Return how many steps the open file has seen."""
    return int(database.execute("PRAGMA user_version").fetchone()[0])
