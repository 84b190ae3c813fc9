"""How far a long benchmark is, on the terminal's error stream; nothing where nobody looks."""

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

WIDTH = 30


@contextmanager
def doing(what: str) -> Iterator[None]:
    """Show what is being done while the block lasts; for work whose length nobody knows."""
    shown = sys.stderr.isatty()
    if shown:
        print(f"  {what} ...", end="", file=sys.stderr, flush=True)
    try:
        yield
    finally:
        if shown:
            print("\r" + " " * (len(what) + 6), end="\r", file=sys.stderr, flush=True)


class Bar:
    """A bar of ``total`` steps of about equal length.

    Examples
    --------
    >>> bar = Bar("marking", 3)
    >>> bar.step()
    >>> bar.end()
    """

    def __init__(self, title: str, total: float) -> None:
        self._title = title
        self._total = total
        self._done = 0.0
        self._start = time.perf_counter()
        self._shown = sys.stderr.isatty()
        self._draw()

    def step(self, by: float = 1.0) -> None:
        """Go on."""
        self._done = min(self._done + by, self._total)
        self._draw()

    def end(self) -> None:
        """Take the bar away."""
        if self._shown:
            print("\r" + " " * (len(self._title) + WIDTH + 20), end="\r", file=sys.stderr)
            sys.stderr.flush()

    def _draw(self) -> None:
        if self._shown:
            full = round(WIDTH * self._done / self._total)
            spent = time.perf_counter() - self._start
            bar = "#" * full + "." * (WIDTH - full)
            print(f"\r{self._title} [{bar}] {spent:4.0f} s ", end="", file=sys.stderr, flush=True)
