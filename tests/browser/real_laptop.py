"""The real tool in a process of its own, as a host starts it."""

import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class RealLaptop:
    """A running tool: the address the terminal showed, and where it answers."""

    host_url: str

    @property
    def base(self) -> str:
        return self.host_url.split("/host?")[0]


@contextmanager
def running(store: Path, *options: str) -> Iterator[RealLaptop]:
    """Start ``twobowls serve`` on a port of this computer; stop it at the end."""
    command = [str(Path(sys.executable).with_name("twobowls")), "serve", "--store", str(store)]
    process = subprocess.Popen(
        [*command, "--port", "0", *options], stdout=subprocess.PIPE, text=True, encoding="utf-8"
    )
    try:
        yield RealLaptop(_host_url(process))
    finally:
        process.terminate()
        process.wait(timeout=60)
        assert process.stdout is not None
        process.stdout.close()


def _host_url(process: subprocess.Popen[str]) -> str:
    assert process.stdout is not None
    for line in process.stdout:
        found = re.search(r"(https?://\S+/host\?key=\S+)", line)
        if found:
            return found[1]
    raise AssertionError(f"the tool stopped with {process.wait()} before it named its address")
