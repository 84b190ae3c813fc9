"""Running the study in pieces that stay on disk, so that it can stop and go on."""

import time
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import numpy as np

from benchmarks.calibration.scenarios import Scenario, generator
from benchmarks.calibration.study import LEVELS, Calibration, calibrate, joined
from twobowls.statistics.ratings_results import Population

PIECE = 100  # tables
MOST = 20_000  # tables of one scenario

Found = dict[Population, Calibration]


def _path(folder: Path, scenario: Scenario, piece: int) -> Path:
    return folder / f"{scenario.key.replace(',', '')}-{piece:03d}.npz"


def _save(path: Path, found: Found) -> None:
    arrays = {
        f"{population}_{name}": getattr(each, name)
        for population, each in found.items()
        for name in ("places", "probabilities", "truths")
    }
    part = path.with_suffix(".part.npz")
    np.savez_compressed(part, **arrays)
    part.replace(path)  # a piece is there whole or not at all


def _load(path: Path) -> Found:
    with np.load(path) as arrays:
        return {
            population: Calibration(
                *(arrays[f"{population}_{name}"] for name in ("places", "probabilities", "truths"))
            )
            for population in get_args(Population)
        }


def load(folder: Path, scenario: Scenario) -> Found | None:
    """Put together the pieces of a scenario that are there, from the first on."""
    parts: list[Found] = []
    while (path := _path(folder, scenario, len(parts))).exists():
        parts.append(_load(path))
    if not parts:
        return None
    return {name: joined([part[name] for part in parts]) for name in get_args(Population)}


def largest_error(found: Found) -> float:
    """Return the largest standard error of a coverage."""
    return max(each.coverage_error(level) for each in found.values() for level in LEVELS)


def run(
    folder: Path, scenario: Scenario, error: float, least: int
) -> Iterator[tuple[float, float]]:
    """Add pieces until coverages are known to ``error``; yield the share done and seconds spent.

    Where coffees do not differ, claims are what counts, and ``least`` tables will do.
    """
    folder.mkdir(parents=True, exist_ok=True)
    while True:
        found = load(folder, scenario)
        tables = 0 if found is None else len(found["people"].places)
        now = 1.0 if found is None else largest_error(found)
        enough = now <= error or scenario.group == "null"
        if tables >= MOST or (tables >= least and enough):
            yield 1.0, 0.0
            return
        started = time.monotonic()
        piece = tables // PIECE
        rng = generator(scenario, piece)
        one = calibrate(scenario.table, scenario.truths, PIECE, rng)
        _save(_path(folder, scenario, piece), one)
        yield min(0.99, (error / now) ** 2), time.monotonic() - started
