"""What a host waits for: the debrief, the serving orders, the start of the program.

``python -m benchmarks waiting``. Whole debriefs are of tables that were never seen before, in a
process that has made one already.
"""

import secrets
import subprocess
import sys
import tempfile
import time
from functools import partial
from pathlib import Path
from statistics import median

import numpy as np

from benchmarks.figures import Figure, Peer, report
from benchmarks.timing import best
from twobowls.debrief.tables import Evening, evening
from twobowls.debrief.tasting_debrief import debrief_of
from twobowls.designs.serving import ServingOrders, serving_orders
from twobowls.store import Store, open_store
from twobowls.tasting.coffees import Coffee
from twobowls.tasting.planning import make_plan
from twobowls.tasting.records import Mark
from twobowls.tasting.sensations import SENSATIONS
from twobowls.tasting.setup import DEFAULT_ROUNDS, Setup
from twobowls.web.debrief_view import tasting_view

TASTERS, COFFEES = 8, 5
NOON = 1_795_600_000_000
GOAL_DEBRIEF_S = 0.5
GOAL_ORDERS_S = 0.2
GOAL_IMPORT_S = 0.5
STARTS = 5


def night(store: Store, seed: int) -> Evening:
    """Let a made-up table taste: 8 tasters x 5 coffees x 3 rounds x 7 sensations x 2 scales."""
    rng = np.random.default_rng(seed)
    coffees = store.add_coffees(
        [Coffee(id="", name=f"Coffee {n} of {seed}") for n in range(COFFEES)]
    )
    setup = Setup(name="Table", coffee_ids=tuple(each.id for each in coffees), seats=TASTERS)
    planned = store.add_tasting(setup, make_plan(setup, rng), NOON)
    store.open(planned.id, NOON)
    coffee_of = {
        bowl.code: setup.coffee_ids.index(str(bowl.coffee_id)) for bowl in planned.plan.bowls
    }
    taste = rng.normal(0, 10, (len(SENSATIONS), 2, COFFEES))
    for number in range(TASTERS):
        seat, _ = store.join(planned.id, f"Guest {number + 1}", NOON)
        level = rng.normal(0, 9, 2)
        records = [
            _mark(seat.id, code, sensation, round_key, 50 + taste[place, :, coffee] + level, rng)
            for round_key in (each.key for each in DEFAULT_ROUNDS)
            for place, sensation in enumerate(each.key for each in SENSATIONS)
            for code, coffee in coffee_of.items()
        ]
        store.add_records(seat.id, records, NOON)
    store.close(planned.id, NOON + 1)
    revealed = store.reveal(planned.id, NOON + 2)
    return evening(revealed, store.records(planned.id), {each.id: each for each in coffees})


def _mark(
    seat: str,
    bowl: str,
    sensation: str,
    round_key: str,
    means: np.ndarray,
    rng: np.random.Generator,
) -> Mark:
    intensity, liking = np.clip(means + rng.normal(0, 8, 2), 0, 100)
    return Mark(
        id=secrets.token_hex(16),
        seat=seat,
        bowl=bowl,
        sensation=sensation,
        round=round_key,
        intensity=float(intensity),
        liking=float(liking),
        at_ms=NOON,
    )


def debrief_figures() -> list[Figure]:
    """Return the time of a whole debrief, and of the page with its drawings."""
    with tempfile.TemporaryDirectory() as folder, open_store(Path(folder) / "s.sqlite3") as store:
        nights = [night(store, seed) for seed in range(6)]
    tasting_view(debrief_of(nights[0]))  # what is done only once is done now
    whole, page = [], []
    for each in nights[1:]:
        seconds, made = best(partial(debrief_of, each), 1)
        whole.append(seconds)
        page.append(best(partial(tasting_view, made), 1)[0])
    count = len(nights[0].marks())
    return [
        Figure(
            group="Waiting",
            work="whole debrief, 8 tasters x 5 coffees x 3 rounds x 7 sensations x 2 scales",
            value=median(whole),
            unit="s",
            goal=GOAL_DEBRIEF_S,
            note=f"{count} marks of two values; shortest {min(whole):.3f}, "
            f"longest {max(whole):.3f} s of {len(whole)} tables",
        ),
        Figure(
            group="Waiting", work="the drawings of its page, further", value=median(page), unit="s"
        ),
    ]


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
    report([*debrief_figures(), *orders_figures(), *start_figures()])


if __name__ == "__main__":
    main()
