"""Servers in processes of their own: the tool as a user starts it, and a bare peer."""

import os
import resource
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

STOP_S = 15.0
FILES = 4096
CORES = sorted(os.sched_getaffinity(0)) if sys.platform == "linux" else []


@dataclass(frozen=True, slots=True)
class Served:
    """A running server."""

    address: tuple[str, int]
    host_key: str
    process: int

    def memory_mb(self) -> float:
        """Return the resident memory in MB; nan where the system does not tell (not Linux)."""
        try:
            status = Path(f"/proc/{self.process}/status").read_text()
        except OSError:
            return float("nan")
        line = next(line for line in status.splitlines() if line.startswith("VmRSS"))
        return int(line.split()[1]) / 1024

    def work_s(self) -> float:
        """Return the processor time spent so far; nan where the system does not tell."""
        try:
            stat = Path(f"/proc/{self.process}/stat").read_text()
        except OSError:
            return float("nan")
        fields = stat.rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


@contextmanager
def serving(
    store: Path,
    *,
    core: int | None = None,
    added_ms: float | None = None,
    one_address: bool = True,
) -> Iterator[Served]:
    """Run ``twobowls serve`` on a store until the block ends.

    ``core`` ties it to one processor core; ``added_ms`` makes each commit so much slower;
    ``one_address`` lifts the limits of a single address, which all phones have here.
    """
    options = ["serve", "--store", str(store), "--port", "0"]
    if one_address:
        options.append("--one-address")
    if added_ms is None:
        command = ["-c", "import sys; from twobowls.cli import main; sys.exit(main())", *options]
    else:
        command = ["-m", "benchmarks.load.slow_disk", str(added_ms), *options]
    with _running(command, core) as (process, start):
        parts = urlsplit(start)
        address = (str(parts.hostname), int(parts.port or 0))
        yield Served(address, parse_qs(parts.query)["key"][0], process)


@contextmanager
def serving_bare(answer_bytes: int, *, core: int | None = None) -> Iterator[Served]:
    """Run a bare ASGI application, under the same uvicorn settings, until the block ends."""
    with _running(["-m", "benchmarks.load.bare", str(answer_bytes)], core) as (process, start):
        parts = urlsplit(start)
        yield Served((str(parts.hostname), int(parts.port or 0)), "", process)


@contextmanager
def _running(arguments: Sequence[str], core: int | None) -> Iterator[tuple[int, str]]:
    """Start Python; yield the process's number and the first address that it prints."""
    with on_core(core):
        process = subprocess.Popen(
            [sys.executable, *arguments],
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
    assert process.stdout is not None
    try:
        start = ""
        while "Stop it" not in (line := process.stdout.readline()):
            if not line:
                raise RuntimeError("the server did not start; what it said is above")
            start = start or next((word for word in line.split() if "://" in word), "")
        yield process.pid, start
    finally:
        process.terminate()
        try:
            process.wait(STOP_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        process.stdout.close()


@contextmanager
def on_core(core: int | None) -> Iterator[None]:
    """Tie this process, and what it starts, to one core while the block lasts (on Linux)."""
    if core is None or sys.platform != "linux":
        yield
        return
    before = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {CORES[core % len(CORES)]})
    try:
        yield
    finally:
        os.sched_setaffinity(0, before)


def allow_many_files() -> None:
    """Let this process have as many connections as it needs."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = FILES if hard == resource.RLIM_INFINITY else min(FILES, hard)
    if soft < wanted:
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))
