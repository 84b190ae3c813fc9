"""A laptop that runs the tool in a process of its own, and what can be done to it."""

import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
import msgspec
from tests.web.running import host_cookie

LAUNCHER = Path(__file__).with_name("launcher.py")
STOPS_WITHIN_S = 90  # a machine may be busy with much else
ANSWERS_WITHIN_S = 60


class Laptop:
    """A laptop with a store; `start` it, and `kill` or `stop` it.

    Parameters
    ----------
    store : Path
        Where its tastings are kept.
    faults : str
        What is wrong with it: options of the launcher.
    """

    def __init__(self, store: Path, *faults: str) -> None:
        self.store = store
        self._faults = faults
        self._process: subprocess.Popen[str] | None = None
        self._errors = store.with_name("stderr.txt")
        self.address = ""
        self._host_key = ""

    def start(self, port: int = 0) -> None:
        """Start the tool; return once it answers."""
        options = ("serve", "--store", str(self.store), "--port", str(port))
        with self._errors.open("w") as errors:
            self._process = subprocess.Popen(
                _command(self._faults, options),
                stdout=subprocess.PIPE,
                stderr=errors,
                text=True,
            )
        assert self._process.stdout is not None
        told = ""
        while "Stop it" not in told:
            line = self._process.stdout.readline()
            assert line, f"the tool did not start: {self.told}"
            told += line
        found = re.search(r"(http://\S+)/host\?key=(\S+)", told)
        assert found is not None
        self.address, self._host_key = found.groups()

    @property
    def process(self) -> subprocess.Popen[str]:
        """The running process."""
        assert self._process is not None
        return self._process

    @property
    def port(self) -> int:
        """The port that it listens on."""
        return int(self.address.rpartition(":")[2])

    @property
    def host_url(self) -> str:
        """The host's address, as the terminal shows it."""
        return f"{self.address}/host?key={self._host_key}"

    @property
    def told(self) -> str:
        """What it has told the host on the terminal's error stream."""
        return self._errors.read_text()

    def kill(self) -> None:
        """End it at once: the battery is empty."""
        self.process.send_signal(signal.SIGKILL)
        self._gone()

    def stop(self, how: signal.Signals = signal.SIGTERM) -> int:
        """Ask it to stop, as a logout does; return its exit code."""
        self.process.send_signal(how)
        return self._gone()

    def _gone(self) -> int:
        code = self.process.wait(STOPS_WITHIN_S)
        assert self.process.stdout is not None
        self.process.stdout.close()
        return code

    def run(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Run a command of the tool on this laptop to its end."""
        return subprocess.run(
            _command(self._faults, arguments), capture_output=True, text=True, timeout=180
        )

    def guest(self) -> httpx.Client:
        """Return a browser that has not signed in."""
        return httpx.Client(base_url=self.address, timeout=ANSWERS_WITHIN_S, trust_env=False)

    def host(self) -> httpx.Client:
        """Return the host's browser."""
        client = self.guest()
        client.cookies.set("twobowls_host", host_cookie(self._host_key))
        client.headers["accept"] = "application/json"
        return client

    def bench(self, tasting_id: str) -> dict[str, Any]:
        """Return what a bench that is opened now shows."""
        with self.host() as host, host.stream("GET", f"/tastings/{tasting_id}/stream") as stream:
            return first_change(stream)


def _command(faults: tuple[str, ...], arguments: tuple[str, ...]) -> list[str]:
    return [sys.executable, str(LAUNCHER), *faults, "--", *arguments]


def first_change(stream: httpx.Response) -> dict[str, Any]:
    """Wait for the next change of an open stream."""
    for line in stream.iter_lines():
        if line.startswith("data: {"):
            change: dict[str, Any] = msgspec.json.decode(line.removeprefix("data: "))
            return change
    raise AssertionError("the stream ended")


@contextmanager
def running(store: Path, *faults: str) -> Iterator[Laptop]:
    """Run a laptop until the block ends, if it still runs by then."""
    laptop = Laptop(store, *faults)
    try:
        yield laptop
    finally:
        process = laptop._process
        if process is not None and process.poll() is None:
            os.kill(process.pid, signal.SIGKILL)
            laptop._gone()
