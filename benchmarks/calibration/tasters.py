"""How far each taster stretches the scale: do intervals hold it? ``python -m`` this module.

Stretches are normal about one, as the model has them, and told relative to the table's mean.
Errors are those between tables.
"""

import argparse
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from benchmarks.calibration.joint import LEVELS
from benchmarks.calibration.study import Calibration
from benchmarks.calibration.tables import ORDINARY, Floats
from twobowls.statistics.mixed_model_levels import Cells
from twobowls.statistics.ratings_columns import RatingColumns, gather_columns
from twobowls.statistics.ratings_priors import DeviationPrior
from twobowls.statistics.ratings_results import RatingFit
from twobowls.statistics.ratings_stretch import LEAST_MEAN, relative_stretch, stretch_draws
from twobowls.statistics.ratings_stretched import stretched_nodes
from twobowls.statistics.ratings_weak import chosen_terms, report_nodes, weak_nodes

WIDTH = 100.0
ANY = (-1e6, 1e6)  # marks may lie beyond the ends, but where they are cut there
TERMS = ("coffee", "taster", "taster:coffee", "stretch")


@dataclass(frozen=True)
class Panel:
    """Every taster marks every coffee ``repeats`` times in each of ``sensations``."""

    coffees: int
    tasters: int
    repeats: int = 1
    sensations: int = 1

    def __str__(self) -> str:
        often = "once" if self.repeats == 1 else f"{self.repeats} times"
        more = f", {self.sensations} sensations" if self.sensations > 1 else ""
        return f"{self.coffees} coffees, {self.tasters} tasters, {often}{more}"


@dataclass(frozen=True)
class Sizes:
    """Standard deviations; ``ends`` is whether marks are cut at the ends of the scale."""

    coffee: float
    taster: float
    own: float
    stretch: float
    residual: float
    ends: bool = False


USUAL = Sizes(
    ORDINARY["coffee"], ORDINARY["taster"], ORDINARY["taster:coffee"], 0.35, ORDINARY["residual"]
)
WIDE = replace(USUAL, coffee=16.0)
THREE, ONCE = Panel(5, 8, 3), Panel(4, 10)
PRIOR_PANELS = (THREE, ONCE, Panel(3, 4), Panel(5, 8, sensations=4))
TRUTHS = {
    "stretches differ by 0.1": replace(USUAL, stretch=0.1),
    "by 0.2": replace(USUAL, stretch=0.2),
    "by 0.35": USUAL,
    "by 0.5": replace(USUAL, stretch=0.5),
    "by 0.35, coffees by 16": WIDE,
    "the same, marks cut at the ends": replace(WIDE, ends=True),
}


def from_prior(rng: np.random.Generator) -> Sizes:
    """Draw all deviations from the engine's priors."""
    prior = DeviationPrior.for_terms(TERMS, WIDTH)
    coffee, taster, own, stretch, residual = (
        prior.deviations(rng.standard_normal((1, len(TERMS) + 1))).values[0].tolist()
    )
    return Sizes(coffee, taster, own, stretch / WIDTH, residual)


def draw(
    panel: Panel, sizes: Sizes, rng: np.random.Generator
) -> tuple[list[RatingColumns], Floats]:
    """Draw the marks of each sensation, and the true stretches over their mean."""
    stretch = np.zeros(panel.tasters)
    while abs(stretch.mean()) < LEAST_MEAN:  # there the model has no relative stretches
        stretch = 1.0 + sizes.stretch * rng.standard_normal(panel.tasters)
    t, c, _ = (each.ravel() for each in np.indices((panel.tasters, panel.coffees, panel.repeats)))
    found = []
    for _ in range(panel.sensations):
        level = rng.normal(0, sizes.taster, panel.tasters)
        coffee = rng.normal(0, sizes.coffee, panel.coffees)
        own = rng.normal(0, sizes.own, (panel.tasters, panel.coffees))
        y = 50 + level[t] + stretch[t] * coffee[c] + own[t, c]
        y = y + rng.normal(0, sizes.residual, len(t))
        if sizes.ends:
            y = np.clip(y, 0, WIDTH)
        found.append(RatingColumns(y=y, taster=t, coffee=c))
    return found, stretch / stretch.mean()


def plain(columns: RatingColumns) -> RatingFit:
    """Fit as the debrief does, marks beyond the ends allowed."""
    cells, terms = _gathered(columns)
    nodes, names = weak_nodes(cells, terms, WIDTH)
    return report_nodes(cells, terms, nodes, names, WIDTH, 0.90)


def stretched(columns: RatingColumns) -> RatingFit:
    """Fit as `twobowls.stretch` does."""
    cells, terms = _gathered(columns)
    slope, nodes, names = stretched_nodes(cells, terms, WIDTH)
    return report_nodes(cells, terms, nodes, names, WIDTH, 0.90, slope)


def _gathered(columns: RatingColumns) -> tuple[Cells, tuple[str, ...]]:
    cells = gather_columns(columns, np.asarray(columns.y), {"taster", "coffee"})
    return cells, chosen_terms(cells, None, None)


Fit = Callable[[RatingColumns], RatingFit]


def calibrate(
    panel: Panel,
    truths: Callable[[np.random.Generator], Sizes],
    fit: Fit,
    tables: int,
    rng: np.random.Generator,
) -> Calibration:
    """Draw and fit many tables: places of tasters' true stretches, and chances of one above 1."""
    rows = []
    for _ in range(tables):
        sensations, truth = draw(panel, truths(rng), rng)
        parts = [(columns, fit(columns)) for columns in sensations]
        _, drawn, _ = stretch_draws(parts, ANY, rng)
        relative = relative_stretch(drawn)
        rows.append(((relative < truth).mean(axis=0), (relative > 1.0).mean(axis=0), truth - 1.0))
    return Calibration(*(np.array(each) for each in zip(*rows, strict=True)))


def _always(sizes: Sizes, _: np.random.Generator) -> Sizes:
    return sizes


def line(found: Calibration) -> str:
    """Return one study as cells of Markdown."""
    cells = [
        f"{100 * found.coverage(level):.1f} ± {100 * found.coverage_error(level):.1f}"
        for level in LEVELS
    ]
    wrong, claims = found.wrong_claims()
    return " | ".join([*cells, f"{found.uniformity():.3f}", f"{100 * wrong:.1f} of {claims}"])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tables", type=int, default=300)
    chosen = parser.parse_args()
    names = [f"{100 * level:.0f} %" for level in LEVELS]
    head = ["truth", "table", "fit", "tables", *names, "ranks, p", "wrong clear claims, %"]
    print(f"| {' | '.join(head)} |\n|{'---|' * len(head)}")
    for panel in PRIOR_PANELS:
        tables = max(1, chosen.tables // panel.sensations)
        for name, fit in (("plain", plain), ("stretched", stretched)):
            rng = np.random.default_rng(20261128)
            found = calibrate(panel, from_prior, fit, tables, rng)
            print(f"| from the prior | {panel} | {name} | {tables} | {line(found)} |", flush=True)
    for name, sizes in TRUTHS.items():
        for panel in (THREE, ONCE):
            rng = np.random.default_rng(20261128)
            found = calibrate(panel, partial(_always, sizes), plain, chosen.tables, rng)
            print(f"| {name} | {panel} | plain | {chosen.tables} | {line(found)} |", flush=True)


if __name__ == "__main__":
    main()
