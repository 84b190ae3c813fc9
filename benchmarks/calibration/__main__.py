"""Run the study: ``python -m benchmarks.calibration`` (see README.md beside this file)."""

import argparse
import os
import sys
from pathlib import Path

for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(name, "1")  # one core: small matrices gain nothing from more

from benchmarks.calibration import pieces, report  # noqa: E402
from benchmarks.calibration.scenarios import SCENARIOS, Scenario, describe  # noqa: E402

HERE = Path(__file__).parent
WIDTH = 30


def bar(done: float, number: int, scenario: Scenario, seconds: float) -> None:
    """Draw one progress bar for the whole study; on a terminal it stays on its line."""
    whole = (number + done) / len(SCENARIOS)
    filled = round(WIDTH * whole)
    text = f"[{'#' * filled}{'.' * (WIDTH - filled)}] {100 * whole:3.0f} %  {seconds:5.0f} s  "
    text += f"{scenario.name}: {describe(scenario.table)}"
    if sys.stderr.isatty():
        print(f"\r{text:110}", end="", file=sys.stderr, flush=True)
    elif done == 1.0:
        print(text, file=sys.stderr, flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--folder", type=Path, default=Path("build/calibration"))
    parser.add_argument(
        "--error", type=float, default=0.6, help="largest standard error of a coverage, in points"
    )
    parser.add_argument(
        "--odd-error", type=float, default=1.4, help="the same where the truth is not the prior's"
    )
    parser.add_argument("--least", type=int, default=300, help="tables of a scenario, at least")
    parser.add_argument("--only", default="", help="scenarios whose key has this in it")
    parser.add_argument("--report", action="store_true", help="only write what is there")
    chosen = parser.parse_args()
    seconds = 0.0
    for number, scenario in enumerate(SCENARIOS):
        if chosen.report or chosen.only not in scenario.key:
            continue
        error = (chosen.error if scenario.group == "prior" else chosen.odd_error) / 100
        for done, spent in pieces.run(chosen.folder, scenario, error, chosen.least):
            seconds += spent
            bar(done, number, scenario, seconds)
    print(file=sys.stderr)
    found = [(each, pieces.load(chosen.folder, each)) for each in SCENARIOS]
    there = [(scenario, each) for scenario, each in found if each is not None]
    print(report.write(there, HERE))


if __name__ == "__main__":
    main()
