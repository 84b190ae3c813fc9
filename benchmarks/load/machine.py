"""How busy the machine was with other things while something was measured."""

import os
import time
from collections.abc import Sequence
from pathlib import Path

from benchmarks.load.serving import Served

IDLE_FIELDS = (3, 4)  # idle, iowait


class Watch:
    """Processor time from the start until `stop`: of servers, of this process, of all others."""

    def __init__(self, servers: Sequence[Served]) -> None:
        self._servers = servers
        self._start = time.perf_counter()
        self._before = self._now()
        self.server_share = self.own_share = self.other_share = float("nan")

    def stop(self) -> None:
        """Work out the shares, in cores (1.0 is one core busy all the time)."""
        seconds = time.perf_counter() - self._start
        after = self._now()
        server, own, busy = (b - a for a, b in zip(self._before, after, strict=True))
        self.server_share, self.own_share = server / seconds, own / seconds
        self.other_share = max(0.0, (busy - server - own) / seconds)

    def _now(self) -> tuple[float, float, float]:
        server = sum(each.work_s() for each in self._servers)
        return server, time.process_time(), _busy_s()


def _busy_s() -> float:
    """Return how long all cores together have been busy since the machine started."""
    try:
        fields = Path("/proc/stat").read_text().splitlines()[0].split()[1:9]
    except OSError:
        return float("nan")
    busy = sum(int(each) for place, each in enumerate(fields) if place not in IDLE_FIELDS)
    return busy / os.sysconf("SC_CLK_TCK")
