"""Start the tool as on a slower disk: ``python -m benchmarks.load.slow_disk MS serve ...``.

The delay is put around the writer's connection here, so that the tool itself has no hook for it.
"""

import sqlite3
import sys
import time
from pathlib import Path
from typing import Any

from twobowls.cli import main as twobowls
from twobowls.store import store


class SlowDisk:
    """A connection whose commits take longer."""

    def __init__(self, database: sqlite3.Connection, added_s: float) -> None:
        self._database = database
        self._added_s = added_s

    def execute(self, statement: str, *values: Any) -> sqlite3.Cursor:
        """Run a statement; wait after a commit, without the interpreter's lock, as a disk does."""
        done = self._database.execute(statement, *values)
        if statement == "COMMIT":
            time.sleep(self._added_s)
        return done

    def __getattr__(self, name: str) -> Any:
        return getattr(self._database, name)


def main(added_ms: float, arguments: list[str]) -> int:
    names = vars(store)
    connect_writer = names["connect_writer"]

    def connect(path: Path) -> Any:
        return SlowDisk(connect_writer(path), added_ms / 1000)

    names["connect_writer"] = connect
    return twobowls(arguments)


if __name__ == "__main__":
    raise SystemExit(main(float(sys.argv[1]), sys.argv[2:]))
