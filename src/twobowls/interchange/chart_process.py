"""Draws charts in a process of their own: what breaks the renderer must not end the evening.

The renderer is native code that aborts its process where it fails. Here that process holds
nothing else; the next chart gets a new one. It ends when its standard input does, so it never
outlives the one that started it.
"""

import atexit
import json
import signal
import subprocess
import sys
from contextlib import suppress
from threading import Lock, Timer
from typing import Any

LONGEST_S = 30.0  # a chart takes a tenth of a second; the first of a process about one


class ChartError(Exception):
    """A chart could not be drawn; the message says what the renderer made of it."""


class ChartProcess:
    """One renderer, started when the first chart is due, and one chart at a time."""

    def __init__(self, longest_s: float = LONGEST_S) -> None:
        self._longest_s = longest_s
        self._lock = Lock()
        self._process: subprocess.Popen[str] | None = None
        atexit.register(self.close)

    def draw(self, spec: dict[str, Any]) -> str:
        """Return the SVG of a Vega-Lite specification.

        Raises
        ------
        ChartError
            The renderer refused it, broke on it, or took too long.
        """
        asked = json.dumps(spec)
        with self._lock:
            answer = self._ask(asked)
        if not answer:
            raise ChartError("The renderer of charts broke off.")
        told: dict[str, str] = json.loads(answer)
        if "svg" not in told:
            raise ChartError(told["error"])
        return told["svg"]

    def close(self) -> None:
        """End the renderer, if there is one."""
        with self._lock:
            self._end()

    def _ask(self, asked: str) -> str:
        """Return the answer in one line; an empty one when the process has ended."""
        process = self._started()
        assert process.stdin is not None
        assert process.stdout is not None
        too_long = Timer(self._longest_s, process.kill)
        too_long.daemon = True
        too_long.start()
        try:
            process.stdin.write(asked + "\n")
            process.stdin.flush()
            answer = process.stdout.readline()
        except OSError:
            answer = ""
        finally:
            too_long.cancel()
        if not answer.endswith("\n"):
            self._end()
            return ""
        return answer

    def _started(self) -> subprocess.Popen[str]:
        if self._process is not None and self._process.poll() is not None:
            self._end()
        if self._process is None:
            self._process = subprocess.Popen(
                [sys.executable, "-m", __name__],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                encoding="ascii",
            )
        return self._process

    def _end(self) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        process.kill()
        process.wait()
        for pipe in (process.stdin, process.stdout):
            assert pipe is not None
            with suppress(OSError):  # what was still to be written to a process that is gone
                pipe.close()


def answer_charts() -> None:
    """Draw what comes by standard input, a line a chart, until it ends."""
    import vl_convert

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the one who asked
    for line in sys.stdin:
        try:
            told = {"svg": vl_convert.vegalite_to_svg(json.loads(line))}
        except Exception as error:  # noqa: BLE001 - told to the one who asked, whatever it is
            told = {"error": str(error)[:2000]}
        sys.stdout.write(json.dumps(told) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    answer_charts()
