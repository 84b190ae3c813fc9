"""Disks that can be filled up, and emptied again, under a running server."""

import os
import resource
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Protocol

from tests.faults.laptop import Laptop

SIZE = "3m"


class Disk(Protocol):
    """A folder whose disk can be full."""

    folder: Path

    def fill(self, laptop: Laptop, /) -> None:
        """Leave no room."""

    def empty(self, laptop: Laptop, /) -> None:
        """Make room again."""


class SmallDisk:
    """A file system of its own, in memory: full when its last byte is taken."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._filler = folder / "holiday pictures"

    def fill(self, _laptop: Laptop) -> None:
        with self._filler.open("wb", buffering=0) as file:
            try:
                while True:
                    file.write(bytes(1 << 16))
            except OSError:
                pass

    def empty(self, _laptop: Laptop) -> None:
        self._filler.unlink()


class ShortFiles:
    """Any disk: the system lets no file of the server grow beyond what it has now."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def fill(self, laptop: Laptop) -> None:
        names = (laptop.store, laptop.store.with_name(laptop.store.name + "-wal"))
        self._limit(laptop, max(name.stat().st_size for name in names))

    def empty(self, laptop: Laptop) -> None:
        self._limit(laptop, resource.RLIM_INFINITY)

    def _limit(self, laptop: Laptop, most: int) -> None:
        what, process = resource.RLIMIT_FSIZE, laptop.process.pid
        _soft, hard = resource.prlimit(process, what)
        resource.prlimit(process, what, (most, hard))


@contextmanager
def small_disk(folder: Path) -> Iterator[SmallDisk | None]:
    """Mount a small file system; None where one may not mount."""
    if os.geteuid() != 0 or not _run("mount", "-t", "tmpfs", "-o", f"size={SIZE}", "tmpfs", folder):
        yield None
        return
    try:
        yield SmallDisk(folder)
    finally:
        _run("umount", "--lazy", folder)


def _run(*command: str | Path) -> bool:
    return subprocess.run(command, capture_output=True, check=False).returncode == 0
