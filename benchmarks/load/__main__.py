"""Run the load: ``python -m benchmarks load``, about a minute and a half.

Everything stays on this computer (127.0.0.1), in a temporary folder, and ends by itself.
"""

import argparse
import tempfile
from pathlib import Path

from benchmarks.figures import report
from benchmarks.load import evening, rates
from benchmarks.load.findings import evening_figures, rate_figures
from benchmarks.load.serving import allow_many_files
from benchmarks.progress import Bar

SLOW_MS = 10.0


def main() -> int:
    """Measure, print, and return 1 if a mark was lost or doubled or a request failed."""
    chosen = _parser().parse_args()
    allow_many_files()
    seats, part = chosen.seats, chosen.scale
    nights = [
        evening.Plan(
            seats=seats,
            first=max(1, seats // 3),
            warm_s=2 * part,
            round_s=6 * part,
            disk_s=0.5 * part,
            added_ms=added,
        )
        for added in (None, SLOW_MS)
    ]
    flood = rates.Plan(
        lines=min(128, seats),
        ours_s=3 * part,
        peer_s=1.5 * part,
        disk_s=0.7 * part,
        slow_s=3 * part,
    )
    bar = Bar("load", sum(each.seconds for each in nights) + flood.seconds)
    with tempfile.TemporaryDirectory(dir=chosen.folder) as name:
        evenings = [evening.spend(plan, Path(name), bar.step) for plan in nights]
        found = rates.measure(flood, Path(name), bar.step)
    bar.end()
    report([figure for each in evenings for figure in evening_figures(each)])
    report(rate_figures(found, flood))
    accounts = [*(each.account for each in evenings), *found.accounts]
    errors = [*(text for each in evenings for text in each.log.errors), *found.errors]
    for text in [*(each.sentence() for each in accounts if each is not None), *errors[:10]]:
        print(text)
    return int(bool(errors) or not all(each is not None and each.right for each in accounts))


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m benchmarks load", description=__doc__)
    parser.add_argument("--seats", type=int, default=300)
    parser.add_argument(
        "--scale", type=float, default=1.0, help="make every part so much longer or shorter"
    )
    parser.add_argument(
        "--folder", type=Path, help="where to keep the stores meanwhile, to try another disk"
    )
    return parser


if __name__ == "__main__":
    raise SystemExit(main())
