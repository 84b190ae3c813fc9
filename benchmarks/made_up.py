"""Made-up marks for the benchmarks; the same each time."""

import numpy as np

from twobowls.statistics.ratings import RatingColumns


def marks(
    tasters: int, coffees: int, *, repeats: int = 1, count: int | None = None
) -> RatingColumns:
    """Return marks with coffee, taster and taster x coffee effects.

    Every cell of taster and coffee has ``repeats``; or ``count`` marks are strewn over the cells.
    """
    rng = np.random.default_rng(1)
    if count is None:
        taster = np.repeat(np.arange(tasters), coffees * repeats)
        coffee = np.tile(np.repeat(np.arange(coffees), repeats), tasters)
    else:
        taster, coffee = rng.integers(0, tasters, count), rng.integers(0, coffees, count)
    y = 50 + rng.normal(0, 8, coffees)[coffee] + rng.normal(0, 9, tasters)[taster]
    y = y + rng.normal(0, 6, (tasters, coffees))[taster, coffee] + rng.normal(0, 8, len(taster))
    names = np.array([f"t{number:05d}" for number in range(tasters)])
    shelf = np.array([f"c{number:02d}" for number in range(coffees)])
    return RatingColumns(y=np.clip(y, 0, 100), taster=names[taster], coffee=shelf[coffee])
