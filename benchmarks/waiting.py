"""What a host waits for: serving orders for many seats, and the start of the program.

``python -m benchmarks waiting``.
"""

import subprocess
import sys
import time

from benchmarks.figures import Figure, Peer, report
from benchmarks.timing import best
from twobowls.designs.serving import ServingOrders, serving_orders

GOAL_ORDERS_S = 0.2
GOAL_IMPORT_S = 0.5
STARTS = 5


def orders_figures() -> list[Figure]:
    """Return the time of serving orders for 300 seats."""

    def spread(found: ServingOrders) -> str:
        return (
            f"counts of places differ by {found.position_spread}, of neighbours by "
            f"{found.carry_over_spread}; {found.adjacent} repeats side by side"
        )

    plain, found = best(lambda: serving_orders(8, 300), 5)
    apart, kept_apart = best(lambda: serving_orders(8, 300, apart=[(0, 1)]), 3)
    return [
        Figure(
            group="Waiting",
            work="serving orders with best balance, 300 seats x 8 bowls",
            value=plain,
            unit="s",
            goal=GOAL_ORDERS_S,
            note=spread(found),
        ),
        Figure(
            group="Waiting",
            work="the same with a hidden repeat kept apart",
            value=apart,
            unit="s",
            note=spread(kept_apart),
        ),
    ]


def start_figures() -> list[Figure]:
    """Return the time of an import and of the command line, beside Python that does nothing."""
    codes = {
        "python": "pass",
        "import": "import twobowls",
        "command": "from twobowls.cli import main; main(['--version'])",
        "numpy": "import numpy",
    }
    times: dict[str, list[float]] = {name: [] for name in codes}
    for _ in range(STARTS):  # in turns, so that a busy machine hurts all alike
        for name, code in codes.items():
            start = time.perf_counter()
            subprocess.run([sys.executable, "-c", code], check=True, stdout=subprocess.DEVNULL)
            times[name].append(time.perf_counter() - start)
    seen = {name: min(each) for name, each in times.items()}
    peers = (
        Peer(name="python that does nothing", value=seen["python"]),
        Peer(name="import numpy", value=seen["numpy"]),
    )
    return [
        Figure(
            group="Waiting",
            work=work,
            value=seen[name],
            unit="s",
            goal=GOAL_IMPORT_S,
            peers=peers,
        )
        for name, work in (("import", "`import twobowls`"), ("command", "`twobowls --version`"))
    ]


def main() -> None:
    report([*orders_figures(), *start_figures()])


if __name__ == "__main__":
    main()
