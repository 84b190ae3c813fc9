"""Runs the tool as `twobowls` does, on a computer where something is wrong.

`launcher.py [--plain-user] [--clock FILE] -- serve ...`

--plain-user   root gives up the right to pass over the modes of files, so that a file that may
               not be written to is just that
--clock FILE   the computer's clock is wrong by as many milliseconds as FILE says, now
SIGUSR1        the store may only be read from now on
SIGUSR2        and may be written to again
"""

import argparse
import ctypes
import functools
import os
import signal
import sqlite3
import sys
import time
from pathlib import Path
from typing import Any

PR_CAPBSET_DROP = 24  # linux/prctl.h
CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH = 1, 2  # linux/capability.h


def become_plain(arguments: list[str]) -> None:
    """Start anew without the rights that let root pass over modes; others have none to lose."""
    if os.geteuid() != 0:
        return
    library = ctypes.CDLL(None, use_errno=True)
    for right in (CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH):
        if library.prctl(PR_CAPBSET_DROP, right, 0, 0, 0) != 0:
            sys.exit(f"launcher: {os.strerror(ctypes.get_errno())}")
    os.execv(sys.executable, [sys.executable, __file__, *arguments])


def set_clock_by(path: Path) -> None:
    """Let the computer's clock be as wrong as a file says."""
    right_ns = time.time_ns
    time.time_ns = lambda: right_ns() + int(path.read_text()) * 1_000_000
    time.time = lambda: time.time_ns() / 1e9


class Switched(sqlite3.Connection):
    """A connection whose writes are forbidden and allowed from outside."""

    only_read = False

    def execute(self, sql: str, /, *arguments: Any) -> sqlite3.Cursor:
        if sql == "BEGIN IMMEDIATE":  # set by whose thread it is; a signal comes at any moment
            super().execute(f"PRAGMA query_only = {'ON' if Switched.only_read else 'OFF'}")
        return super().execute(sql, *arguments)


def switch_by_signals() -> None:
    """Take away from the store's writer the right to write, and give it back."""

    def switch(number: int, _frame: object) -> None:
        Switched.only_read = number == signal.SIGUSR1

    connect = functools.partial(sqlite3.connect, factory=Switched)
    sqlite3.connect = connect  # type: ignore[assignment]
    signal.signal(signal.SIGUSR1, switch)
    signal.signal(signal.SIGUSR2, switch)


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--plain-user", action="store_true")
    parser.add_argument("--clock", type=Path)
    parser.add_argument("command", nargs="*")
    given = parser.parse_args()
    if given.plain_user:
        become_plain([each for each in sys.argv[1:] if each != "--plain-user"])
    if given.clock:
        set_clock_by(given.clock)
    switch_by_signals()
    # tests that run under nohup hand down that it is ignored, and the tool would keep to that
    signal.signal(signal.SIGHUP, signal.SIG_DFL)
    from twobowls.cli import main as run

    return run(given.command)


if __name__ == "__main__":
    sys.exit(main())
