"""Tastings to test debriefs with: made in memory, from a seed, with a truth that is known."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np

from twobowls.debrief.tables import Evening, evening
from twobowls.statistics.ratings_results import (
    Contrast,
    Estimate,
    LevelMean,
    Means,
    Population,
    RatingFit,
)
from twobowls.tasting.coffees import Coffee
from twobowls.tasting.planning import make_plan
from twobowls.tasting.records import Mark, Pick, Record, Word
from twobowls.tasting.setup import COOL, HOT, WARM, Setup
from twobowls.tasting.tasting import Seat, State, Tasting

NOON = 1_795_600_000_000
COFFEES = {name.lower(): Coffee(id=name.lower(), name=name) for name in ("Brisa", "Oro", "Umbra")}
TRUTH = {"brisa": (70.0, 75.0), "oro": (45.0, 60.0), "umbra": (30.0, 30.0)}
NAMES = ("Ada", "Ben", "Cleo", "Dov", "Eva", "Fay")


def tasting(
    state: State = "revealed",
    seats: int = 4,
    coffees: tuple[str, ...] = ("brisa", "oro", "umbra"),
    repeats: tuple[str, ...] = ("oro",),
    seed: int = 1,
) -> Tasting:
    setup = Setup(
        name="Test table",
        coffee_ids=coffees,
        seats=seats,
        repeats=repeats,
        rounds=(HOT, WARM, COOL),
    )
    return Tasting(
        id="t",
        setup=setup,
        plan=make_plan(setup, np.random.default_rng(seed)),
        state=state,
        join_code="K7QM",
        created_ms=NOON,
        opened_ms=NOON,
        seats=tuple(
            Seat(id=f"s{number}", number=number, nickname=NAMES[number - 1])
            for number in range(1, seats + 1)
        ),
    )


def marks(
    of: Tasting,
    sensations: tuple[str, ...] = ("acidity", "verdict"),
    noise: float = 6.0,
    seed: int = 2,
) -> list[Mark]:
    """Let every seat mark every bowl in every round, around the truth."""
    rng = np.random.default_rng(seed)
    made: list[Mark] = []
    for round_ in of.setup.rounds:
        for seat in of.seats:
            for bowl in of.plan.bowls:
                for sensation in sensations:
                    truth = np.array(TRUTH[bowl.coffee_id or "oro"])
                    x, y = np.clip(truth + rng.normal(0, noise, 2), 0, 100)
                    made.append(
                        mark(
                            seat.id,
                            bowl.code,
                            sensation=sensation,
                            round=round_.key,
                            intensity=float(x),
                            liking=float(y),
                            number=len(made),
                        )
                    )
    return made


def mark(seat: str, bowl: str, number: int = 0, **given: object) -> Mark:
    """Return one mark; ``number`` makes its id and its instant."""
    fields: dict[str, Any] = {
        "sensation": "verdict",
        "round": "hot",
        "intensity": 50.0,
        "liking": 50.0,
        **given,
    }
    return Mark(id=f"{number:032x}", seat=seat, bowl=bowl, at_ms=NOON + number, **fields)


def word(seat: str, bowl: str, family: str, number: int = 0, **given: object) -> Word:
    """Return one word; as for marks."""
    fields: dict[str, Any] = {"term": "", "feeling": "neutral", "round": "hot", **given}
    own: dict[str, Any] = {"id": f"{number:032x}", "seat": seat, "at_ms": NOON + number}
    return Word(bowl=bowl, family=family, **own, **fields)


def pick(seat: str, a: str, b: str, answer: str, number: int = 0, **given: object) -> Pick:
    """Return one pick; as for marks."""
    fields: dict[str, Any] = {
        "sensation": "verdict",
        "round": "hot",
        "question": "better",
        **given,
    }
    own: dict[str, Any] = {"id": f"{number:032x}", "seat": seat, "at_ms": NOON + number}
    return Pick(bowl_a=a, bowl_b=b, answer=answer, **own, **fields)


def night(of: Tasting, records: Iterable[Record]) -> Evening:
    return evening(of, records, COFFEES)


def bowls_of(of: Tasting, coffee: str) -> list[str]:
    return [bowl.code for bowl in of.plan.bowls if bowl.coffee_id == coffee]


def closed(of: Tasting) -> Tasting:
    return replace(of, state="closed")


def fit_of(means: dict[str, float], chances: dict[tuple[str, str], float]) -> RatingFit:
    """Return a made-up fit: means with a standard error of 5, and chances of being above."""
    return RatingFit(
        rows=12,
        tasters=4,
        prior="weak",
        level=0.90,
        fixed=("coffee",),
        random=("taster",),
        variance={"taster": 9.0, "residual": 16.0},
        people=_means("people", means, {pair: 0.5 + (p - 0.5) / 2 for pair, p in chances.items()}),
        table=_means("table", means, chances),
        covariance=(),
    )


def _means(
    population: Population, means: dict[str, float], chances: dict[tuple[str, str], float]
) -> Means:
    return Means(
        population=population,
        coffees=tuple(
            LevelMean(
                level=name, estimate=Estimate(mean=mean, se=5, interval=(mean - 8.2, mean + 8.2))
            )
            for name, mean in means.items()
        ),
        contrasts=tuple(
            Contrast(
                a=a,
                b=b,
                estimate=Estimate(
                    mean=means[a] - means[b],
                    se=5,
                    interval=(means[a] - means[b] - 8, means[a] - means[b] + 8),
                ),
                probability=chance,
            )
            for (a, b), chance in chances.items()
        ),
    )
