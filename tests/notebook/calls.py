"""A good frame for every call that takes one, made of invented coffees and people."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import pandas as pd

import twobowls

TASTERS = ("Ana", "Ben", "Ciro", "Dora", "Eda", "Finn")
COFFEES = ("Night Ferry", "Oro", "Brisa", "Niebla")
ABILITY = {"Night Ferry": 0.2, "Oro": 1.1, "Brisa": -0.4, "Niebla": -0.9}
WORDS = {
    "Night Ferry": ("smoky", "nutty"),
    "Oro": ("citrus", "floral"),
    "Brisa": ("citrus", "nutty"),
    "Niebla": ("nutty", "smoky"),
}


@dataclass(frozen=True)
class Call:
    """One call: its function, a good frame, what is judged in it, and its columns of labels.

    ``options`` go with every call.
    """

    name: str
    function: Callable[..., Any]
    frame: pd.DataFrame
    judged: str
    labels: tuple[str, ...]
    options: Mapping[str, Any]

    def __call__(self, frame: object, **more: Any) -> Any:
        return self.function(frame, **{**self.options, **more})


def marks(seed: int = 1) -> pd.DataFrame:
    """Return marks of one sensation on both scales in two rounds, one row a mark."""
    rng = np.random.default_rng(seed)
    rows = []
    level = {taster: rng.normal(0, 6) for taster in TASTERS}
    for taster in TASTERS:
        for coffee in COFFEES:
            for round_ in ("hot", "cool"):
                strong = 50 + 14 * ABILITY[coffee] + level[taster] + rng.normal(0, 8)
                liked = 55 + 12 * ABILITY[coffee] + level[taster] + rng.normal(0, 9)
                both = np.clip([strong, liked], 0, 100).round()
                rows.append((taster, coffee, round_, *map(float, both)))
    return pd.DataFrame(rows, columns=["taster", "coffee", "round", "intensity", "liking"])


def rated() -> pd.DataFrame:
    table = marks()
    category = np.clip((table["liking"] / 12).round(), 1, 9).astype(int)
    return table[["taster", "coffee", "round"]].assign(category=category)


def ranked() -> pd.DataFrame:
    table = marks()
    hot = table[table["round"] == "hot"]
    return hot[["taster", "coffee"]].assign(rank=hot["liking"]).reset_index(drop=True)


def single() -> pd.DataFrame:
    table = marks()
    return table[["taster", "coffee", "round"]].assign(mark=table["liking"])


def picked() -> pd.DataFrame:
    rng = np.random.default_rng(3)
    rows = []
    for taster in TASTERS:
        for i, a in enumerate(COFFEES):
            for b in COFFEES[:i]:
                chance = 1 / (1 + np.exp(ABILITY[b] - ABILITY[a]))
                answer = "same" if rng.random() < 0.15 else (a if rng.random() < chance else b)
                rows.append((taster, a, b, answer))
    return pd.DataFrame(rows, columns=["taster", "a", "b", "answer"])


def said() -> pd.DataFrame:
    rng = np.random.default_rng(4)
    rows: list[tuple[str, str, str | None, float]] = []
    for taster in TASTERS:
        for coffee in COFFEES:
            liking = float(rng.integers(30, 90))
            words = [word for word in WORDS[coffee] if rng.random() < 0.8]
            rows += [(taster, coffee, word, liking) for word in words]
            rows += [(taster, coffee, None, liking)] * (not words)
    return pd.DataFrame(rows, columns=["taster", "coffee", "word", "liking"])


def answered() -> pd.DataFrame:
    right = [1, 0, 1, 1, 0, 1]
    return pd.DataFrame({"taster": TASTERS, "right": right})


def chosen() -> pd.DataFrame:
    return pd.DataFrame({"taster": TASTERS, "answer": ["Oro", "Oro", "Brisa", "Oro", "Oro", "Oro"]})


def series() -> pd.DataFrame:
    rows = []
    for number, taster in enumerate(TASTERS):
        for step, strength in enumerate((0.5, 1.0, 2.0, 4.0, 8.0)):
            rows.append((taster, strength, int(step >= 2 + number % 2)))
    return pd.DataFrame(rows, columns=["taster", "strength", "right"])


CALLS = (
    Call("ratings", twobowls.ratings, marks(), "intensity", ("taster", "coffee"), {}),
    Call("stretch", twobowls.stretch, marks(), "intensity", ("taster", "coffee"), {}),
    Call(
        "categories",
        twobowls.categories,
        rated(),
        "category",
        ("taster", "coffee"),
        {"random": ["taster"]},  # quick; what is chosen without it is tested elsewhere
    ),
    Call("picks", twobowls.picks, picked(), "answer", ("taster", "a", "b"), {}),
    Call("ranks", twobowls.ranks, ranked(), "rank", ("taster", "coffee"), {}),
    Call("taster_skill", twobowls.taster_skill, single(), "mark", ("taster", "coffee"), {}),
    Call("agreement", twobowls.agreement, single(), "mark", ("taster", "coffee"), {}),
    Call("words", twobowls.words, said(), "word", ("taster", "coffee"), {"resamples": 40}),
    Call(
        "discrimination",
        lambda frame, **more: twobowls.discrimination("triangle", frame, **more),
        answered(),
        "right",
        ("taster",),
        {},
    ),
    Call(
        "similarity",
        lambda frame, **more: twobowls.similarity("triangle", frame, **more),
        answered(),
        "right",
        ("taster",),
        {},
    ),
    Call("preference", twobowls.preference, chosen(), "answer", ("taster",), {}),
    Call("threshold", twobowls.threshold, series(), "right", ("taster",), {}),
)
BY_NAME = {call.name: call for call in CALLS}


@cache
def whole(name: str) -> Any:
    """Return what a call says of its good frame; results do not change, so once is enough."""
    call = BY_NAME[name]
    return call(call.frame)
