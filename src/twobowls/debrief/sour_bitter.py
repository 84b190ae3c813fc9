"""A private hint: whose bitterness may be the table's acidity, or the reverse."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from twobowls.debrief.rating_table import Factor, Part, RatingTable
from twobowls.statistics.coffee_means import CoffeeTable, coffee_table
from twobowls.statistics.confusion import confusion

LEAST_TASTERS = 3
LEAST_COFFEES = 3
# A hint is given from this chance on: likely rather than leaning, for it should help, not worry.
LEAST_CHANCE = 0.90


@dataclass(frozen=True, slots=True, kw_only=True)
class SourBitter:
    """How likely it is that one taster's word for one taste is the table's for the other."""

    word: Literal["bitterness", "acidity"]
    chance: float


def sour_bitter(table: RatingTable) -> dict[str, SourBitter]:
    """Return the tasters (by label) who may mix up sour and bitter, with the likelier way round.

    Parameters
    ----------
    table : RatingTable
        Marks of acidity and bitterness on the intensity line.

    Returns
    -------
    dict
        Empty where fewer than three tasters marked three coffees on both, or nobody seems to.

    Notes
    -----
    Many people call sour bitter: 17 of 80 in Meiselman and Dzendolet (1967), seen in a secondary
    page. See `twobowls.statistics.confusion` for the model.
    """
    parts = {part.sensation: part for part in table.parts() if part.scale == "intensity"}
    if not {"acidity", "bitterness"} <= parts.keys():
        return {}
    sour, bitter = _means(parts["acidity"]), _means(parts["bitterness"])
    tasters = [each for each in sour.tasters if each in bitter.tasters]
    coffees = [each for each in sour.coffees if each in bitter.coffees]
    if len(tasters) < LEAST_TASTERS or len(coffees) < LEAST_COFFEES:
        return {}
    found = confusion(_matched(sour, tasters, coffees), _matched(bitter, tasters, coffees))
    hints = {}
    for each in found.tasters:
        chances = {
            "bitterness": each.bitterness_follows_acidity or 0.0,
            "acidity": each.acidity_follows_bitterness or 0.0,
        }
        word: Literal["bitterness", "acidity"] = (
            "bitterness" if chances["bitterness"] >= chances["acidity"] else "acidity"
        )
        if chances[word] >= LEAST_CHANCE:
            hints[tasters[each.taster]] = SourBitter(word=word, chance=chances[word])
    return hints


def _means(part: Part) -> CoffeeTable:
    taster, coffee, round_ = (part.factor(name) for name in ("taster", "coffee", "round"))
    assert taster is not None
    assert coffee is not None
    rounds = None if round_ is None else _labels(round_)
    return coffee_table(_labels(taster), _labels(coffee), part.y, rounds=rounds)


def _labels(factor: Factor) -> list[str]:
    return [factor.labels[code] for code in factor.codes.tolist()]


def _matched(table: CoffeeTable, tasters: list[str], coffees: list[str]) -> np.ndarray:
    rows = [table.tasters.index(each) for each in tasters]
    places = [table.coffees.index(each) for each in coffees]
    return table.means[np.ix_(rows, places)]
