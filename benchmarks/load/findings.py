"""From what was measured under load to lines of the table."""

from statistics import median

import numpy as np

from benchmarks.figures import Figure, Peer
from benchmarks.load.disk import GROUP
from benchmarks.load.evening import Evening
from benchmarks.load.rates import Plan, Rates

GOAL_MARK_MS = 50.0
GOAL_BENCH_S = 0.3
GOAL_RATE = 10_000.0


def evening_figures(evening: Evening) -> list[Figure]:
    """Return the lines of one evening with phones."""
    plan, log = evening.plan, evening.log
    disk = "" if plan.added_ms is None else f", {plan.added_ms:g} ms added to each commit"
    group = f"Load: {plan.seats} seats, a mark a second, {plan.seats} streams{disk}"
    busy = f"other work kept {evening.other_share:.1f} cores busy meanwhile"
    lines = [
        _wrong(group, evening),
        _durable(group, evening, busy),
        Figure(
            group=group,
            work="of these, in a burst (all phones at the call of a round), p99",
            value=_quantile(log.burst_waits_s, 0.99),
            unit="ms",
            note=f"{len(log.burst_waits_s)} marks",
        ),
        Figure(
            group=group,
            work="from a mark to the bench that shows it, p99",
            value=_quantile(log.bench_s, 0.99) / 1000,
            unit="s",
            goal=GOAL_BENCH_S,
            note=_spread(log.bench_s),
        ),
        Figure(
            group=group,
            work="from the host's call of a round to the phones, p99",
            value=_quantile(log.called_s, 0.99),
            unit="ms",
            note=_spread(log.called_s),
        ),
        Figure(
            group=group,
            work="processor time of the server, in cores",
            value=evening.server_share,
            unit="cores",
            note=busy,
        ),
    ]
    return lines if plan.added_ms else [*lines, *_memory(group, evening)]


def _wrong(group: str, evening: Evening) -> Figure:
    account, log = evening.account, evening.log
    assert account is not None
    wrong = len(account.lost) + len(account.doubled) + len(account.strange)
    return Figure(
        group=group,
        work="errors; marks lost, doubled or never sent; streams lost",
        value=float(len(log.errors) + wrong + evening.streams_lost),
        unit="",
        goal=0.0,
        note=f"{account.sentence()}; {log.resent} batches sent twice on purpose",
    )


def _durable(group: str, evening: Evening, busy: str) -> Figure:
    waits = evening.log.waits_s + evening.log.burst_waits_s
    return Figure(
        group=group,
        work="from making a mark to its being on disk, p99",
        value=_quantile(waits, 0.99),
        unit="ms",
        goal=GOAL_MARK_MS,
        note=f"{_spread(waits)} of {len(waits)} marks; SQLite alone, a commit before and after: "
        f"{_spread(evening.disk_s)}; {busy}",
    )


def _memory(group: str, evening: Evening) -> list[Figure]:
    (low, low_mb), (high, high_mb) = sorted(evening.memory_mb.items())[-2:]
    each = 1024 * (high_mb - low_mb) / max(1, high - low)
    told = ", ".join(
        f"{megabytes:.1f} MB with {seats}" for seats, megabytes in evening.memory_mb.items()
    )
    return [
        Figure(
            group=group,
            work="memory of the server for one more seat, its stream and marks",
            value=each,
            unit="kB",
            note=f"resident: {told}",
        ),
        Figure(
            group=group,
            work="all phones join and load their seats, one after the other",
            value=evening.join_s,
            unit="s",
        ),
    ]


def rate_figures(rates: Rates, plan: Plan) -> list[Figure]:
    """Return the lines of the flood."""
    group = f"Load: durable requests of 8 marks, server on one core, {plan.lines} lines"
    spent = median(
        share / flooded.requests_a_second
        for share, flooded in zip(rates.server_shares, rates.ours, strict=True)
    )
    waits = [each for flooded in rates.ours for each in flooded.waits_s]
    slow = rates.slow[0]
    return [
        Figure(
            group=group,
            work="requests a second",
            value=median(each.requests_a_second for each in rates.ours),
            unit="/s",
            better="more",
            goal=GOAL_RATE,
            peers=(
                Peer(
                    name="bare ASGI application, same uvicorn, answer of the same size",
                    value=median(each.requests_a_second for each in rates.bare),
                ),
                Peer(
                    name="SQLite alone, a commit for each such batch",
                    value=median(rates.single_commits),
                ),
                Peer(
                    name=f"SQLite alone, {GROUP} such batches in each commit",
                    value=median(rates.grouped_rows),
                ),
            ),
            note=f"{_spread(waits)}; each turn: {_turns(rates)}; "
            f"other work kept {median(rates.other_shares):.1f} cores busy meanwhile",
        ),
        Figure(
            group=group,
            work="processor time of the server for a request",
            value=1e6 * spent,
            unit="µs",
            goal=1e6 / GOAL_RATE,
            note="does not depend on what else runs as much as the rate does",
        ),
        Figure(
            group=group,
            work=f"requests a second with {plan.added_ms:g} ms added to each commit",
            value=slow.requests_a_second,
            unit="/s",
            better="more",
            note=_spread(slow.waits_s),
        ),
    ]


def _turns(rates: Rates) -> str:
    return ", ".join(f"{each.requests_a_second:,.0f}" for each in rates.ours)


def _quantile(seconds: list[float], share: float) -> float:
    """Return a quantile in milliseconds."""
    return float(np.quantile(seconds, share)) * 1000 if seconds else float("nan")


def _spread(seconds: list[float]) -> str:
    p50, p99, most = (_quantile(seconds, share) for share in (0.5, 0.99, 1.0))
    return f"p50 {p50:.1f}, p99 {p99:.1f}, max {most:.1f} ms"
