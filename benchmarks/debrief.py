"""The whole debrief of one evening in a warm process, part by part.

``python -m benchmarks.debrief``: 8 tasters, 5 coffees and a hidden repeat, 3 rounds, 7 sensations,
2 lines: 14 fits; with picks and words. Wall time is what people wait, and processor time what is
told apart from a busy machine; each is the best of a few runs on evenings not seen before.
"""

import time
from collections.abc import Callable
from typing import Any

import numpy as np

from benchmarks.figures import Figure, keep
from twobowls.debrief.analysis import analyse
from twobowls.debrief.findings import find
from twobowls.debrief.own import own_debrief
from twobowls.debrief.pads import pads
from twobowls.debrief.tables import Evening, evening, rating_table
from twobowls.debrief.tasting_debrief import TastingDebrief, debrief_of
from twobowls.interchange.debrief_json import debrief_dict
from twobowls.tasting.coffees import Coffee
from twobowls.tasting.lexicon import FAMILIES
from twobowls.tasting.planning import make_plan
from twobowls.tasting.records import Mark, Pick, Record, Word
from twobowls.tasting.sensations import SENSATIONS
from twobowls.tasting.setup import COOL, HOT, WARM, Setup
from twobowls.tasting.tasting import Seat, Tasting
from twobowls.web.debrief_view import tasting_view
from twobowls.web.private_view import private_view

REACH = 0.5  # seconds
NOON = 1_795_600_000_000
CLOSE = 12.0  # points within which the pad asks for a pick
COFFEES = {name.lower(): Coffee(id=name.lower(), name=name) for name in "ABCDE"}
RUNS = 5


def table(seats: int = 8) -> Tasting:
    """Return a revealed tasting of five coffees, one of them in two bowls."""
    setup = Setup(
        name="Benchmark",
        coffee_ids=tuple(COFFEES),
        seats=seats,
        repeats=("b",),
        rounds=(HOT, WARM, COOL),
    )
    return Tasting(
        id="t",
        setup=setup,
        plan=make_plan(setup, np.random.default_rng(1)),
        state="revealed",
        join_code="K7QM",
        created_ms=NOON,
        opened_ms=NOON,
        seats=tuple(
            Seat(id=f"s{number}", number=number, nickname=f"Seat {number}")
            for number in range(1, seats + 1)
        ),
    )


class _Recorder:
    """Makes records up, an instant and an id apart."""

    def __init__(self) -> None:
        self.made: list[Record] = []

    def common(self, seat: Seat, round_: str) -> dict[str, Any]:
        number = len(self.made)
        return {"id": f"{number:032x}", "seat": seat.id, "round": round_, "at_ms": NOON + number}


def records(of: Tasting, seed: int) -> list[Record]:
    """Let every seat mark every bowl on every pad in every round, and pick and talk as asked."""
    rng, made = np.random.default_rng(seed), _Recorder()
    truth = {each: rng.normal(50, 10, (7, 2)) for each in COFFEES}
    level = {seat.id: rng.normal(0, 8, (7, 2)) for seat in of.seats}
    own = {(seat.id, each): rng.normal(0, 6, (7, 2)) for seat in of.seats for each in COFFEES}
    for round_ in of.setup.rounds:
        for seat in of.seats:
            places: dict[str, Any] = {}
            for bowl in of.plan.bowls:
                coffee = bowl.coffee_id or ""
                felt = truth[coffee] + level[seat.id] + own[seat.id, coffee]
                places[bowl.code] = np.clip(felt + rng.normal(0, 8, (7, 2)), 0, 100)
            _marks(made, seat, round_.key, places)
            _picks(made, seat, round_.key, places, rng)
            if round_.key == "warm":
                _words(made, seat, round_.key, list(places), rng)
    return made.made


def _marks(made: _Recorder, seat: Seat, round_: str, places: dict[str, Any]) -> None:
    for code, place in places.items():
        for number, sensation in enumerate(SENSATIONS):
            made.made.append(
                Mark(
                    bowl=code,
                    sensation=sensation.key,
                    intensity=float(place[number, 0]),
                    liking=float(place[number, 1]),
                    **made.common(seat, round_),
                )
            )


def _picks(
    made: _Recorder, seat: Seat, round_: str, places: dict[str, Any], rng: np.random.Generator
) -> None:
    codes = list(places)
    for number, sensation in enumerate(SENSATIONS):
        asked = 0
        for i, a in enumerate(codes):
            for b in codes[i + 1 :]:
                gap = places[a][number] - places[b][number]
                if asked == 2 or float(np.hypot(*gap)) > CLOSE:
                    continue
                asked += 1
                for question, side in (("more", 0), ("better", 1)):
                    answer = a if gap[side] + rng.normal(0, 8) > 0 else b
                    made.made.append(
                        Pick(
                            bowl_a=a,
                            bowl_b=b,
                            sensation=sensation.key,
                            question="more" if question == "more" else "better",
                            answer="same" if rng.random() < 0.2 else answer,
                            **made.common(seat, round_),
                        )
                    )


def _words(
    made: _Recorder, seat: Seat, round_: str, codes: list[str], rng: np.random.Generator
) -> None:
    for code in codes:
        for family in rng.choice(len(FAMILIES), 2, replace=False):
            made.made.append(
                Word(
                    bowl=code,
                    family=FAMILIES[int(family)].key,
                    term="",
                    feeling="liked",
                    **made.common(seat, round_),
                )
            )


def best(work: Callable[[int], Any]) -> tuple[float, float]:
    """Return the shortest wall and processor times in seconds; every run gets its own number."""
    walls, processors = [], []
    for run in range(RUNS):
        wall, processor = time.perf_counter(), time.process_time()
        work(run)
        walls.append(time.perf_counter() - wall)
        processors.append(time.process_time() - processor)
    return min(walls), min(processors)


def main() -> None:
    of = table()
    nights: list[Evening] = [evening(of, records(of, seed), COFFEES) for seed in range(RUNS)]
    whole: list[TastingDebrief] = [debrief_of(each) for each in nights]  # warms up, too
    tables = [rating_table(each) for each in nights]
    private_view(whole[0], of.seats[0], own_debrief(whole[0], of.seats[0]))
    tasting_view(whole[0])
    picks = sum(each.picks for each in whole[0].joined)
    print(f"{len(whole[0].analysis.fits)} fits of {len(tables[0])} marks, {picks} picks that count")
    steps: dict[str, Callable[[int], Any]] = {
        "the debrief": lambda run: debrief_of(nights[run]),
        "  marks to a table": lambda run: rating_table(nights[run]),
        "  fits": lambda run: analyse(tables[run]),
        "  findings": lambda run: find(whole[run].analysis),
        "  pads": lambda run: pads(whole[run].analysis, tables[run]),
        "picks joined": lambda run: debrief_parts(whole[run], "joined"),
        "model checks": lambda run: debrief_parts(whole[run], "checks"),
        "how people mark": lambda run: debrief_parts(whole[run], "marking"),
        "the host's page": lambda run: tasting_view(whole[run]),
        "a seat's page": lambda run: _seat_page(whole[run], of.seats[run]),
        "the JSON": lambda run: debrief_dict(whole[run]),
    }
    found = {}
    for name, work in steps.items():
        wall, processor = best(work)
        found[name.strip()] = {"wall": wall, "processor": processor}
        print(f"{name:22} {wall:7.3f} s   processor {processor:7.3f} s")
    print(f"reach for the debrief: {REACH} s")
    keep(figures(found))


def figures(found: dict[str, dict[str, float]]) -> list[Figure]:
    """Return the lines of the table of benchmarks."""
    return [
        Figure(
            group="Debrief: 8 tasters x 5 coffees, one twice, x 3 rounds x 7 sensations x 2 scales",
            work=name,
            value=times["wall"],
            unit="s",
            goal=REACH if name == "the debrief" else None,
            note=f"processor time {times['processor']:.3f} s",
        )
        for name, times in found.items()
    ]


def debrief_parts(whole: TastingDebrief, name: str) -> object:
    """Compute a part anew that is kept once it was asked for."""
    whole.__dict__.pop(name, None)
    return getattr(whole, name)


def _seat_page(whole: TastingDebrief, seat: Seat) -> object:
    return private_view(whole, seat, own_debrief(whole, seat))


if __name__ == "__main__":
    main()
