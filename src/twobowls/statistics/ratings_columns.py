"""The marks of one sensation on one scale, as columns, and the checks they must pass."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from twobowls.counting import entries_for
from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.mixed_model_levels import Cells, Factor, Labels, encode, gather


@dataclass(frozen=True)
class RatingColumns:
    """One sensation on one scale; one entry a mark.

    Attributes
    ----------
    y : FloatArray
        (n,) finite values. Drop unanswered marks first.
    taster, coffee : sequence of str
        (n,) who marked, and which coffee.
    round, position, bowl, flight : sequence of str, or None
        (n,) when in the tasting, at which place in the serving order, which vessel, which
        group of bowls; None where it is not known.

    Examples
    --------
    >>> columns = RatingColumns(y=[60, 40], taster=["Ada", "Ada"], coffee=["A", "B"])
    >>> sorted(columns.factors())
    ['coffee', 'taster']
    """

    y: FloatArray | Sequence[float]
    taster: Labels
    coffee: Labels
    round: Labels | None = None
    position: Labels | None = None
    bowl: Labels | None = None
    flight: Labels | None = None

    def factors(self) -> dict[str, Labels]:
        """Return the factors that are there, by name."""
        named: dict[str, Labels | None] = {
            "taster": self.taster,
            "coffee": self.coffee,
            "round": self.round,
            "position": self.position,
            "bowl": self.bowl,
            "flight": self.flight,
        }
        return {name: labels for name, labels in named.items() if labels is not None}


NARROWEST = 1e-3  # the floors of variances, some 1e-9, must be next to nothing


def checked_values(columns: RatingColumns, scale: tuple[float, float]) -> FloatArray:
    """Return the marks as numbers, or say which of them cannot be right.

    Raises
    ------
    InputError
        No marks, columns of different length, a mark that is no number or off the scale, a
        scale without width.
    """
    low, high = scale
    if not (np.isfinite(low) and np.isfinite(high) and low < high):
        raise InputError(
            "scale", f"{low:g} to {high:g} has no width", "Give a lower and a higher end"
        )
    if high - low < NARROWEST:
        raise InputError(
            "scale",
            f"{low:g} to {high:g} is too narrow to reckon with",
            "Give the marks and the scale in a smaller unit, say times a million",
        )
    try:
        values = np.asarray(columns.y, dtype=float)
    except (TypeError, ValueError) as error:
        raise InputError("marks", "not all of them are numbers", "Give numbers only") from error
    if values.ndim != 1 or len(values) == 0:
        raise InputError("marks", "there are none", "Give at least one mark")
    for name, labels in columns.factors().items():
        if len(labels) != len(values):
            raise InputError(
                name,
                entries_for(len(labels), len(values), "mark"),
                "Give one for every mark",
            )
    wrong = np.flatnonzero(~np.isfinite(values))
    if len(wrong):
        raise InputError(
            "marks",
            f"mark {wrong[0] + 1} is {values[wrong[0]]}, not a number",
            "Leave out marks without an answer",
        )
    outside = np.flatnonzero((values < low) | (values > high))
    if len(outside):
        raise InputError(
            "marks",
            f"mark {outside[0] + 1} is {values[outside[0]]:g}, off the scale {low:g} to {high:g}",
            "Correct the mark, or give the scale that was used",
        )
    return values


def gather_columns(columns: RatingColumns, values: FloatArray, used: set[str]) -> Cells:
    """Encode the factors in use and add up marks that share all of them."""
    factors: dict[str, Factor] = {
        name: encode(name, labels) for name, labels in columns.factors().items() if name in used
    }
    return gather(values, factors)
