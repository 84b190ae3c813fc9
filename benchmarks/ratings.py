"""Speed and memory of the rating engine, with ratios to peers in the same run.

``python -m benchmarks.ratings``. Peers that are not installed are left out; R's lme4 is used where
Rscript has it. Every time is the best of a few runs.
"""

import json
import shutil
import subprocess
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from twobowls.statistics.ratings import RatingColumns, fit_ratings

FORMULA = "y ~ coffee + (1 | taster) + (1 | taster:coffee)"
R_FIT = f"""
suppressMessages(library(lme4))
d <- read.csv("FILE", colClasses = c("numeric", "character", "character"))
t <- sapply(1:3, function(i) system.time(m <- lmer({FORMULA}, d))[["elapsed"]])
cat(min(t), REMLcrit(m))
"""


def best(work: Callable[[], Any], runs: int = 3) -> tuple[float, Any]:
    """Return the shortest time in seconds, and the last result."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        result = work()
        times.append(time.perf_counter() - start)
    return min(times), result


def marks(tasters: int, coffees: int, count: int | None, repeats: int = 1) -> RatingColumns:
    """Made-up marks: ``repeats`` in each cell, or ``count`` strewn over the cells."""
    rng = np.random.default_rng(1)
    if count is None:
        t = np.repeat(np.arange(tasters), coffees * repeats)
        c = np.tile(np.repeat(np.arange(coffees), repeats), tasters)
    else:
        t, c = rng.integers(0, tasters, count), rng.integers(0, coffees, count)
    y = 50 + rng.normal(0, 8, coffees)[c] + rng.normal(0, 9, tasters)[t]
    y = y + rng.normal(0, 6, (tasters, coffees))[t, c] + rng.normal(0, 8, len(t))
    names = np.array([f"t{i:05d}" for i in range(tasters)])
    shelf = np.array([f"c{i:02d}" for i in range(coffees)])
    return RatingColumns(y=np.clip(y, 0, 100), taster=names[t], coffee=shelf[c])


def debrief(seed: int) -> RatingColumns:
    """Made-up marks of 8 tasters on 5 coffees and a hidden repeat in 3 rounds."""
    rng = np.random.default_rng(seed)
    coffee, taster = rng.normal(0, 10, 5), rng.normal(0, 10, 8)
    rows = [
        (50 + coffee[b % 5] + taster[t] + rng.normal(0, 8), t, b, r, p)
        for t in range(8)
        for r in range(3)
        for p, b in enumerate(rng.permutation(6))
    ]
    return RatingColumns(
        y=np.clip([row[0] for row in rows], 0, 100),
        taster=[f"t{row[1]}" for row in rows],
        coffee=[f"c{row[2] % 5}" for row in rows],
        bowl=[f"{row[2]}" for row in rows],
        round=[f"r{row[3]}" for row in rows],
        position=[row[4] + 1 for row in rows],
    )


def frame(columns: RatingColumns) -> Any:
    """Return the marks as a data frame for the peers."""
    import pandas as pd

    return pd.DataFrame({"y": columns.y, "taster": columns.taster, "coffee": columns.coffee})


def peers(columns: RatingColumns) -> dict[str, tuple[float, float | None]]:
    """Time each peer: seconds, and its REML deviance where it tells it."""
    found: dict[str, tuple[float, float | None]] = {}
    data = frame(columns)
    if len(data) < 100_000:  # it asks for 29 GB for this model on a million marks
        found |= _lme_python(data)
    try:
        import mixedlm

        seconds, fit = best(lambda: mixedlm.lmer(FORMULA, data), runs=1)
        found["mixedlm"] = seconds, float(mixedlm.REMLcrit(fit))
    except ImportError:
        pass
    try:
        import statsmodels.formula.api as smf

        if len(data) < 100_000:
            inside = {"cell": "0 + C(coffee)"}
            model = smf.mixedlm(
                "y ~ coffee", data, groups="taster", vc_formula=inside, re_formula="1"
            )
            seconds, fit = best(model.fit, runs=1)
            found["statsmodels"] = seconds, -2 * float(fit.llf)
    except ImportError:
        pass
    return found | _r(data)


def _lme_python(data: Any) -> dict[str, tuple[float, float | None]]:
    try:
        import lme_python
        import polars  # type: ignore[import-not-found]
    except ImportError:
        return {}
    table = polars.DataFrame({name: data[name].to_numpy() for name in data})
    seconds, fit = best(lambda: lme_python.lmer(FORMULA, table))
    return {"lme-python": (seconds, fit.reml_criterion)}


def _r(data: Any) -> dict[str, tuple[float, float | None]]:
    program = shutil.which("Rscript")
    if program is None:
        return {}
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "marks.csv"
        data[["y", "taster", "coffee"]].to_csv(file, index=False)
        done = subprocess.run(
            [program, "-e", R_FIT.replace("FILE", str(file))],
            capture_output=True,
            text=True,
            check=False,
        )
    if done.returncode:
        return {}
    seconds, deviance = done.stdout.split()[-2:]
    return {"lme4": (float(seconds), float(deviance))}


def compare(name: str, columns: RatingColumns) -> dict[str, Any]:
    """Fit with every engine and print times and ratios."""
    flat, fit = best(lambda: fit_ratings(columns, prior="flat"))
    weak, _ = best(lambda: fit_ratings(columns), runs=1)
    print(f"\n{name}")
    print(f"  flat prior    {flat:8.4f} s   REML deviance {fit.reml_deviance:.4f}")
    print(f"  weak prior    {weak:8.4f} s")
    row: dict[str, Any] = {"name": name, "flat": flat, "weak": weak}
    for peer, (seconds, deviance) in peers(columns).items():
        told = "" if deviance is None else f"   REML deviance {deviance:.4f}"
        print(f"  {peer:13} {seconds:8.4f} s   {seconds / flat:6.1f} x ours{told}")
        row[peer] = seconds
    return row


def growth() -> list[dict[str, float]]:
    """Time flat fits as marks, tasters and coffees grow; print a line each."""
    print("\nGrowth (flat, seconds)")
    rows = []
    for tasters, coffees, repeats in (
        (100, 6, 2), (100, 6, 20), (100, 6, 200), (1000, 6, 2), (3000, 6, 2), (100, 12, 2),
        (100, 24, 2),
    ):  # fmt: skip
        columns = marks(tasters, coffees, None, repeats)
        seconds, _ = best(partial(fit_ratings, columns, prior="flat"))
        count = len(columns.y)
        print(f"  {count:8} marks {tasters:5} tasters {coffees:3} coffees {seconds:8.4f}")
        rows.append({"marks": count, "tasters": tasters, "coffees": coffees, "seconds": seconds})
    return rows


def main() -> None:
    tables = [debrief(seed) for seed in range(14)]
    fit_ratings(tables[0])
    seconds, _ = best(lambda: [fit_ratings(table) for table in tables])
    print(f"Debrief of 8 tasters, 5 coffees, 3 rounds: 14 fits in {seconds:.3f} s")
    rows = [
        compare("21,600 marks: 300 tasters x 12 coffees x 6", marks(300, 12, None, 6)),
        compare("1,000,000 marks, 5,000 tasters, 12 coffees", marks(5000, 12, 1_000_000)),
    ]
    columns = marks(5000, 12, 1_000_000)
    size = sum(np.asarray(each).nbytes for each in (columns.y, columns.taster, columns.coffee))
    tracemalloc.start()
    fit_ratings(columns, prior="flat")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    print(f"\nPeak memory of a million marks: {peak / size:.2f} times the arrays")
    print(json.dumps({"debrief": seconds, "fits": rows, "growth": growth()}))


if __name__ == "__main__":
    main()
