"""The fit with stretch beside the plain one, where tasters stretch: ``python -m`` this module."""

import argparse

import numpy as np
from scipy.special import ndtr

from benchmarks.calibration.joint import LEVELS
from benchmarks.calibration.scenarios import ONCE, ROUNDS, USUAL, describe
from benchmarks.calibration.study import Calibration
from benchmarks.calibration.tables import Drawn, Floats, Table, Truth, draw
from twobowls.statistics.ratings_results import Population
from twobowls.statistics.ratings_stretched import stretched_nodes
from twobowls.statistics.ratings_weak import Nodes, contrast_mixtures, weak_nodes

Row = tuple[Floats, Floats, Floats, float]
FITS: tuple[tuple[str, Population], ...] = (
    ("plain", "people"),
    ("plain", "table"),
    ("stretched", "people"),
    ("stretched", "table"),
)


def _row(nodes: Nodes, population: Population, truth: Floats) -> Row:
    each = contrast_mixtures(nodes, population)
    places = each.weights @ ndtr((truth - each.means) / each.sds)
    size = float(np.sqrt(each.weights @ each.sds**2).mean())
    return places, each.weights @ ndtr(each.means / each.sds), truth, size


def _rows(drawn: Drawn, table: Table) -> list[Row]:
    """Both fits of one table; people of the second are told on the table's own scale."""
    plain, _ = weak_nodes(drawn.cells, table.terms, 100.0)
    _, stretched, _ = stretched_nodes(drawn.cells, table.terms, 100.0)
    return [
        _row(plain, "people", drawn.people),
        _row(plain, "table", drawn.table),
        _row(stretched, "people", drawn.stretched),
        _row(stretched, "table", drawn.table),
    ]


def compare(table: Table, truth: Truth, tables: int, rng: np.random.Generator) -> list[str]:
    """Fit many tables both ways; return a line of Markdown for each fit and population."""
    found = [_rows(draw(table, truth, rng), table) for _ in range(tables)]
    lines = []
    for index, (fit, population) in enumerate(FITS):
        places, chances, truths, sizes = zip(*(rows[index] for rows in found), strict=True)
        each = Calibration(np.array(places), np.array(chances), np.array(truths))
        cells = [fit, population] + [
            f"{100 * each.coverage(level):.1f} ± {100 * each.coverage_error(level):.1f}"
            for level in LEVELS
        ]
        wrong, claims = each.wrong_claims()
        cells += [f"{np.mean(sizes):.2f}", f"{100 * each.clear_claims()[0]:.1f}"]
        lines.append(" | ".join([*cells, f"{100 * wrong:.1f} of {claims}"]))
    return lines


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tables", type=int, default=300)
    chosen = parser.parse_args()
    names = [f"{100 * level:.0f} %" for level in LEVELS]
    head = ["truth", "table", "fit", "for", *names, "mean sd", "clear, %", "of these wrong, %"]
    print(f"| {' | '.join(head)} |\n|{'---|' * len(head)}")
    for name in ("as modelled", "stretch", "stretch, no disagreement"):
        for table in (ROUNDS, ONCE):
            rng = np.random.default_rng(20261125)
            for line in compare(table, USUAL[name], chosen.tables, rng):
                print(f"| {name} | {describe(table)} | {line} |", flush=True)


if __name__ == "__main__":
    main()
