"""Speed and memory of the rating engine, beside peers that fit the same marks in the same run.

``python -m benchmarks ratings``. Every time is the shortest of a few runs; peers run in processes
of their own, and one that cannot be measured is told aloud. ``--quick`` leaves the million marks
out and draws no growth curves.
"""

import sys
import time
import tracemalloc
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np

from benchmarks.figures import Figure, Peer, number, report
from benchmarks.growth import GROWTH, draw, grow
from benchmarks.made_up import marks
from benchmarks.peers import Timed, time_python, time_r
from benchmarks.progress import Bar
from benchmarks.timing import best
from twobowls.statistics.ratings import RatingColumns, fit_ratings
from twobowls.statistics.ratings_results import RatingFit

FULL = "y ~ coffee + (1 | taster) + (1 | taster:coffee)"
TASTERS_ONLY = "y ~ coffee + (1 | taster)"
MILLION = 1_000_000
DIGITS = 1e-4  # a deviance that differs by less is the same fit


def columns_of(columns: RatingColumns) -> dict[str, Any]:
    """Return the marks as peers take them."""
    return {"y": columns.y, "taster": columns.taster, "coffee": columns.coffee}


def lme4(formula: str, columns: RatingColumns, runs: int) -> Timed | None:
    """Time R's lme4."""
    return time_r("lme4", f"lmer({formula}, d)", "REMLcrit(m)", columns_of(columns), runs)


def peers(
    formula: str, columns: RatingColumns, names: tuple[str, ...], runs: int
) -> dict[str, Timed]:
    """Time the named peers; those that could not be measured are missing."""
    found = {
        name: lme4(formula, columns, runs)
        if name == "R lme4"
        else time_python(name, formula, columns_of(columns), runs)
        for name in names
    }
    return {name: timed for name, timed in found.items() if timed is not None}


def in_turns(
    ours: Callable[[], RatingFit], theirs: Callable[[], dict[str, Timed]]
) -> tuple[float, RatingFit, dict[str, Timed]]:
    """Run us, the peers, and us again, so that a busy machine hurts all alike."""
    before, fit = best(ours, 5)
    found = theirs()
    after, _ = best(ours, 5)
    return min(before, after), fit, found


def compare(
    work: str,
    columns: RatingColumns,
    formula: str,
    names: tuple[str, ...],
    *,
    runs: int,
    **goal: Any,
) -> Figure:
    """Time a flat fit and its peers; the note tells whose optimum is how good."""
    random = ("taster", "taster:coffee") if formula == FULL else ("taster",)
    ours = partial(fit_ratings, columns, prior="flat", random=random)
    seconds, fit, found = in_turns(ours, lambda: peers(formula, columns, names, runs))
    return Figure(
        group="Ratings",
        work=work,
        value=seconds,
        unit="s",
        peers=tuple(Peer(name=name, value=timed.seconds) for name, timed in found.items()),
        note=f"{_optima(fit, found)}; {processor_text(ours)}",
        **goal,
    )


def processor_text(work: Callable[[], object]) -> str:
    """Return the processor time of one more run, which a busy machine makes less long."""
    start = time.process_time()
    work()
    return f"processor time {time.process_time() - start:.3f} s"


def _optima(fit: RatingFit, found: dict[str, Timed]) -> str:
    assert fit.reml_deviance is not None
    told = [f"REML deviance: ours {fit.reml_deviance:.4f}"]
    for name, timed in found.items():
        if timed.score is not None:
            more = timed.score - fit.reml_deviance
            told.append(f"{name} {'the same' if abs(more) < DIGITS else f'{more:+.4f}'}")
    return ", ".join(told)


def small_figures() -> list[Figure]:
    """Return the lines of 21,600 marks: 300 tasters x 12 coffees x 6."""
    columns = marks(300, 12, repeats=6)
    flat = compare(
        "21,600 marks, 300 tasters x 12 coffees x 6, flat prior (REML)",
        columns,
        FULL,
        ("lme-python", "R lme4", "mixedlm", "statsmodels"),
        runs=3,
        goal_peer="lme-python",
    )
    weak, _ = best(partial(fit_ratings, columns), 5)
    return [
        flat,
        Figure(
            group="Ratings",
            work="the same, full posterior (weak priors, variances integrated out)",
            value=weak,
            unit="s",
            peers=tuple(each for each in flat.peers if each.name == "R lme4"),
            goal_peer="R lme4",
            note=processor_text(partial(fit_ratings, columns)),
        ),
    ]


def large_figures() -> list[Figure]:
    """Return the lines of a million marks of 5,000 tasters on 12 coffees."""
    columns = marks(5000, 12, count=MILLION)
    names = ("mixedlm", "R lme4")
    # lme-python asks for 29 GB for the taster x coffee term of a million marks
    return [
        compare(
            "a million marks, 5,000 tasters, 12 coffees", columns, FULL, names, runs=1, goal=1.0
        ),
        compare(
            "the same without taster x coffee",
            columns,
            TASTERS_ONLY,
            ("lme-python", *names),
            runs=1,
            goal=1.0,
        ),
        memory_figure(columns),
    ]


def memory_figure(columns: RatingColumns) -> Figure:
    """Return the peak of what a fit takes, against the size of the arrays it is given."""
    size = sum(np.asarray(each).nbytes for each in (columns.y, columns.taster, columns.coffee))
    tracemalloc.start()
    fit_ratings(columns, prior="flat")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return Figure(
        group="Ratings",
        work="peak memory of a million marks' fit, the given arrays included",
        value=(size + peak) / size,
        unit="times the arrays",
        goal=3.0,
        note=f"the arrays take {size / 1e6:.0f} MB, the fit {peak / 1e6:.0f} MB more",
    )


def growth_figures() -> list[Figure]:
    """Draw the growth curves; return how much longer a thousand times the marks take."""
    bar = Bar("growth", len(GROWTH))
    points = grow(bar.step)
    bar.end()
    print(f"  drawn: {draw(points)}")
    along = [each for each in points if each.axis == "marks" and each.prior == "flat"]
    first, last = min(along, key=lambda each: each.marks), max(along, key=lambda each: each.marks)
    return [
        Figure(
            group="Ratings",
            work=f"{last.marks / first.marks:,.0f} times the marks of the same table take",
            value=last.seconds / first.seconds,
            unit="times as long",
            note=f"{first.marks:,} marks {number(first.seconds)} s, "
            f"{last.marks:,} marks {number(last.seconds)} s; see growth.svg",
        )
    ]


def main() -> None:
    fit_ratings(marks(8, 5, repeats=2))  # what is done only once is done now
    report(small_figures())
    if "--quick" not in sys.argv:
        report(large_figures())
        report(growth_figures())


if __name__ == "__main__":
    main()
