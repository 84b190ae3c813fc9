"""Try what the tool promises to withstand: ``python -m scripts.abuse`` (``make abuse``).

Starts the tool on a free port of this computer with a store of its own, abuses it for a minute and
a half, and prints a line for each promise. The exit code is 1 if any did not hold.
"""

import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

from benchmarks.load.serving import allow_many_files, serving
from benchmarks.load.table import lay_table

from scripts.abuse import doors, lines, records
from scripts.abuse.caller import Finding, Target
from twobowls.demo import load_sample
from twobowls.store import open_store
from twobowls.web.doors.host_sessions import make_session
from twobowls.web.settings import wall_clock_ms

Promise = Callable[[Target], Finding]
WAITING: tuple[Promise, ...] = (
    lines.idle_line,
    lines.slow_head,
    lines.slow_body,
    lines.kept_stream,
)
ONE_BY_ONE: tuple[Promise, ...] = (
    lines.long_head,
    lines.huge_head,
    doors.odd_paths,
    doors.other_sites,
    doors.join_flood,
    doors.wrong_codes,
    doors.closed_door,
    records.unreadable,
    records.control_characters,
    records.many_notes,
    records.replayed_batch,
    records.debriefs_at_once,
    lines.many_lines,
)


def main() -> int:
    """Try every promise; return 1 if one did not hold."""
    allow_many_files()
    began = time.monotonic()
    with prepared() as target:
        findings = list(tried(target))
    broken = [promise for promise, finding in findings if not finding.held]
    seconds = time.monotonic() - began
    print(f"{len(findings) - len(broken)} of {len(findings)} promises held, in {seconds:.0f} s.")
    return 1 if broken else 0


@contextmanager
def prepared() -> Iterator[Target]:
    """Serve a store with an open table and a tasting that is over."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "abuse.sqlite3"
        with open_store(path) as store:
            load_sample(store, wall_clock_ms())
            over = next(each.id for each in store.tastings() if each.state == "revealed")
        table = lay_table(path, seats=8)
        with serving(path, one_address=False) as served:
            yield Target(served, table, over, make_session(served.host_key, wall_clock_ms()))


def tried(target: Target) -> Iterator[tuple[Promise, Finding]]:
    """Try those that mostly wait beside the others, which are tried one after the other."""
    with ThreadPoolExecutor(len(WAITING)) as pool:
        waiting = [(each, pool.submit(attempt, each, target)) for each in WAITING]
        for promise in ONE_BY_ONE:
            yield promise, told(promise, attempt(promise, target))
        for promise, future in waiting:
            yield promise, told(promise, future.result())


def attempt(promise: Promise, target: Target) -> Finding:
    """Try a promise; a server that does not answer keeps none."""
    try:
        return promise(target)
    except Exception as error:  # noqa: BLE001 - the next promise is tried all the same
        return Finding(False, f"{type(error).__name__}: {error}")


def told(promise: Promise, finding: Finding) -> Finding:
    """Print what became of a promise."""
    text = (promise.__doc__ or "").rstrip(".")
    print(f"{'held ' if finding.held else 'BROKE'}  {text}: {finding.figure}", flush=True)
    return finding


if __name__ == "__main__":
    sys.exit(main())
