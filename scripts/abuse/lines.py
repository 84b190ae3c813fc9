"""Abuse below the requests: heads without end, callers that wait, all lines taken."""

import socket
import time
from contextlib import ExitStack

from scripts.abuse.caller import Caller, Finding, Target, until_closed
from twobowls.web.doors.protocol import MOST_HEAD_BYTES, Patience
from twobowls.web.server import MOST_OF_ONE_ADDRESS

LATE_S = 6.0  # how much later than promised a busy computer may be
HEAD = b"GET /join HTTP/1.1\r\nhost: 127.0.0.1\r\n"


def huge_head(target: Target) -> Finding:
    """A head of 50 MB is cut off, and costs next to nothing."""
    before, sent = target.served.work_s(), 0
    with Caller(target).line() as line:
        try:
            line.sendall(HEAD + b"x-padding: ")
            for _ in range(50):
                line.sendall(b"x" * 1_000_000)
                sent += 1
        except OSError:
            pass
    other = Caller(target).ask("GET", "/join")
    work = target.served.work_s() - before
    held = sent < 20 and not work > 2 and other.took_s < 3
    told = f"cut within {sent + 1} MB, {work:.1f} s of work, the next guest served in"
    return Finding(held, f"{told} {other.took_s:.2f} s")


def long_head(target: Target) -> Finding:
    """A head just over the limit is refused with 431."""
    answer = Caller(target).ask("GET", "/join", x_padding="x" * MOST_HEAD_BYTES)
    return Finding(answer.status == 431, f"{answer.status}")


def idle_line(target: Target) -> Finding:
    """A connection on which nothing comes is closed."""
    with Caller(target).line() as line:
        return _closed_within(until_closed(line), Patience().head_s)


def slow_head(target: Target) -> Finding:
    """A head that trickles in is not waited for."""
    with Caller(target).line() as line:
        line.sendall(HEAD + b"x-slow: ")
        return _closed_within(until_closed(line, lambda: line.sendall(b"x")), Patience().head_s)


def slow_body(target: Target) -> Finding:
    """A body that trickles in is not waited for."""
    kind = b"content-type: application/x-www-form-urlencoded\r\ncontent-length: 100000\r\n\r\n"
    with Caller(target).line() as line:
        line.sendall(HEAD.replace(b"GET", b"POST") + kind + b"code=")
        return _closed_within(until_closed(line, lambda: line.sendall(b"x")), Patience().body_s)


def _closed_within(seconds: float, promised_s: float) -> Finding:
    return Finding(seconds < promised_s + LATE_S, f"closed after {seconds:.0f} s")


def kept_stream(target: Target) -> Finding:
    """The live stream of a phone is not cut by any of these limits."""
    caller = Caller(target)
    key = caller.seat("Listener")
    began, beats = time.monotonic(), 0
    with caller.line() as line:
        line.sendall(HEAD.replace(b"/join", f"/api/seats/{key}/stream".encode()) + b"\r\n")
        line.settimeout(25.0)
        try:
            while time.monotonic() - began < Patience().body_s + 10:
                heard = line.recv(65_536)
                if not heard:
                    break
                beats += heard.count(b"event: beat")
        except OSError:
            pass
    lasted = time.monotonic() - began
    return Finding(lasted >= Patience().body_s + 10 and beats >= 4, f"open after {lasted:.0f} s")


def many_lines(target: Target) -> Finding:
    """One address cannot take all connections."""
    crowd, taken, refused = Caller(target), 0, 0
    with ExitStack() as held:
        for _ in range(MOST_OF_ONE_ADDRESS + 60):
            line = held.enter_context(crowd.line())
            taken += 1
            refused += _was_refused(line)
        other = Caller(target).ask("GET", "/join")
    room = taken - refused
    told = f"{room} of {taken} let in, another address answered in {other.took_s:.2f} s"
    return Finding(room <= MOST_OF_ONE_ADDRESS and other.status == 200 and other.took_s < 3, told)


def _was_refused(line: socket.socket) -> bool:
    """Say whether the server has hung up already; it does so at once or not for long."""
    line.settimeout(0.005)
    try:
        return line.recv(4096) is not None
    except TimeoutError:
        return False
    except OSError:
        return True
