"""Whether a file has the tables of a store, and nothing besides that would act by itself."""

import sqlite3
from contextlib import closing
from pathlib import Path

from twobowls.errors import StoreError
from twobowls.store.migrations import MIGRATIONS, schema_version

LATEST_MS = 7_258_118_400_000  # the year 2200; a wrong clock may well say 2038
IMPOSSIBLE = "an instant that no clock can have shown"
ODD_ROWS = (
    ("SELECT count(*) FROM seats WHERE length(key) < 20", "a seat's key that is too short"),
    (f"SELECT count(*) FROM tastings WHERE created_ms NOT BETWEEN 0 AND {LATEST_MS}", IMPOSSIBLE),
    (f"SELECT count(*) FROM batches WHERE received_ms NOT BETWEEN 0 AND {LATEST_MS}", IMPOSSIBLE),
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
    odd = [("is not as twobowls makes it", *each[:2]) for each in wanted - present]
    odd += [("does not belong there", *each[:2]) for each in present - wanted]
    if odd:
        what, kind, name = min(odd)
        raise _unfit(path, f"the {kind} {name!r} in it {what}")


def check_values(database: sqlite3.Connection, path: Path) -> None:
    """Look at what is no event and no record: seats' keys and instants.

    The host's key does not matter: a restore never takes it over.

    Raises
    ------
    StoreError
        One of them cannot have been written by twobowls.
    """
    for query, what in ODD_ROWS:
        if database.execute(query).fetchone()[0]:
            raise _unfit(path, f"it holds {what}")


def _unfit(path: Path, problem: str) -> StoreError:
    cure = "Do not use this file; take another backup, see `twobowls restore --list`"
    return StoreError(str(path), problem, cure)


def _made_by(steps: int) -> set[tuple[str, str, str, str]]:
    with closing(sqlite3.connect(":memory:")) as fresh:
        for step in MIGRATIONS[:steps]:
            for statement in step:
                fresh.execute(statement)
        return set(fresh.execute(OBJECTS))
