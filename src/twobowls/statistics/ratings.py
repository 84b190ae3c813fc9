"""The front door of the rating engine: marks in, what they say about the coffees out."""

from typing import Literal

from twobowls.errors import InputError
from twobowls.statistics.ratings_columns import RatingColumns, checked_values, gather_columns
from twobowls.statistics.ratings_flat import fit_flat
from twobowls.statistics.ratings_results import RatingFit
from twobowls.statistics.ratings_terms import check_terms

__all__ = ["RatingColumns", "fit_ratings"]


def fit_ratings(
    columns: RatingColumns,
    *,
    prior: Literal["weak", "flat"] = "weak",
    random: tuple[str, ...] | None = None,
    fixed: tuple[str, ...] | None = None,
    scale: tuple[float, float] = (0.0, 100.0),
    level: float = 0.90,
) -> RatingFit:
    """Fit."""
    given = columns.factors()
    values = checked_values(columns, scale)
    if not 0.0 < level < 1.0:
        raise InputError("level", f"{level:g} is not between 0 and 1", "Give a share such as 0.9")
    if prior not in ("weak", "flat"):
        raise InputError("prior", f"“{prior}” is not known", "Use “weak” or “flat”")
    check_terms(random or (), "random", tuple(given))
    check_terms(fixed or (), "fixed", tuple(given))
    used = {"taster", "coffee"}
    for names, default in ((random, {"bowl"}), (fixed, {"round", "position", "flight"})):
        used |= default if names is None else {part for name in names for part in name.split(":")}
    cells = gather_columns(columns, values, used)
    return fit_flat(cells, random, fixed, level)
