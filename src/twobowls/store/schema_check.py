"""Whether a file has the tables of a store, and nothing besides that would act by itself."""

import sqlite3
from contextlib import closing
from pathlib import Path

from twobowls.errors import StoreError
from twobowls.store.migrations import MIGRATIONS, schema_version

LATEST_MS = 7_258_118_400_000  # the year 2200; a wrong clock may well say 2038
INSTANTS = (
    "SELECT count(*) FROM tastings WHERE created_ms NOT BETWEEN 0 AND ?",
    "SELECT count(*) FROM batches WHERE received_ms NOT BETWEEN 0 AND ?",
)
OBJECTS = "SELECT type, name, tbl_name, sql FROM sqlite_master WHERE sql IS NOT NULL"


def check_schema(database: sqlite3.Connection, path: Path) -> None:
    """Compare what a store is made of with what its version is made of.

    A trigger or a view that somebody put into a file would run with every mark that is saved.

    Raises
    ------
    StoreError
        Something is missing or altered, or is there that does not belong there; ``path`` is what
        the message calls the file.
    """
    present = set(database.execute(OBJECTS))
    wanted = _made_by(schema_version(database))
    for what, kind, name in sorted(
        [("is not as twobowls makes it", *each[:2]) for each in wanted - present]
        + [("does not belong there", *each[:2]) for each in present - wanted]
    ):
        raise StoreError(
            str(path),
            f"the {kind} {name!r} in it {what}",
            "Do not use this file; take another backup, see `twobowls restore --list`",
        )


def check_values(database: sqlite3.Connection, path: Path) -> None:
    """Look at what is no event and no record: seats' keys and instants.

    The host's key does not matter: a restore never takes it over.

    Raises
    ------
    StoreError
        One of them cannot have been written by twobowls.
    """
    for (count,) in database.execute("SELECT count(*) FROM seats WHERE length(key) < 20"):
        if count:
            raise _odd(path, "a seat's key that is too short")
    for query in INSTANTS:
        if database.execute(query, (LATEST_MS,)).fetchone()[0]:
            raise _odd(path, "an instant that no clock can have shown")


def _odd(path: Path, what: str) -> StoreError:
    return StoreError(
        str(path),
        f"it holds {what}",
        "Do not use this file; take another backup, see `twobowls restore --list`",
    )


def _made_by(steps: int) -> set[tuple[str, str, str, str]]:
    with closing(sqlite3.connect(":memory:")) as fresh:
        for step in MIGRATIONS[:steps]:
            for statement in step:
                fresh.execute(statement)
        return set(fresh.execute(OBJECTS))
