"""Where labels go beside their dots so that none hides another: plain geometry."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

import numpy as np

from twobowls.statistics.arrays import FloatArray

DIRECTIONS = 16
REACHES = (1.0, 1.6, 2.4, 3.4, 4.6)
_STEPS = np.arange(DIRECTIONS)
_ANGLES = -pi / 2 + (_STEPS + 1) // 2 * (-1) ** _STEPS * 2 * pi / DIRECTIONS
_TURN = np.tile(np.column_stack([np.cos(_ANGLES), np.sin(_ANGLES)]), (len(REACHES), 1))
_REACH = np.repeat(REACHES, DIRECTIONS)


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle by its middle, its width and its height."""

    x: float
    y: float
    width: float
    height: float

    def overlap(self, other: "Box") -> float:
        """Return the area that two boxes share.

        Examples
        --------
        >>> Box(0, 0, 4, 2).overlap(Box(3, 1, 4, 2))
        1.0
        """
        wide = (self.width + other.width) / 2 - abs(self.x - other.x)
        high = (self.height + other.height) / 2 - abs(self.y - other.y)
        return max(wide, 0.0) * max(high, 0.0)


def place_labels(
    dots: Sequence[tuple[float, float]],
    sizes: Sequence[tuple[float, float]],
    bounds: Box,
    radius: float = 8.0,
    taken: Sequence[Box] = (),
) -> list[Box]:
    """Place a label beside each dot.

    Parameters
    ----------
    dots : sequence of (x, y)
        What is labelled, in drawing units.
    sizes : sequence of (width, height)
        Size of each label.
    bounds : Box
        Labels stay inside.
    radius : float
        Size of a dot, kept free of labels.
    taken : sequence of Box
        Places where something is written already.

    Returns
    -------
    list of Box
        Placed one after the other, each where it covers the least; always the same for the
        same input.

    Examples
    --------
    >>> place_labels([(50, 50)], [(30, 10)], Box(50, 50, 100, 100))
    [Box(x=50.0, y=34.0, width=30, height=10)]
    """
    marks = [Box(x, y, 2 * radius, 2 * radius) for x, y in dots]
    placed: list[Box] = []
    for number, ((x, y), (width, height)) in enumerate(zip(dots, sizes, strict=True)):
        others = [*marks[:number], *marks[number + 1 :], *taken]
        at = _candidates(x, y, (width, height), radius, bounds)
        hidden = 6 * _covered(at, (width, height), placed)
        hidden += 2 * _covered(at, (width, height), others)
        best = at[np.argmin(hidden + np.hypot(at[:, 0] - x, at[:, 1] - y))]
        placed.append(Box(float(best[0]), float(best[1]), width, height))
    return placed


def _candidates(
    x: float, y: float, size: tuple[float, float], radius: float, bounds: Box
) -> FloatArray:
    """Return places (n, 2) around a dot, above it first, close ones first, all within bounds."""
    width, height = size
    across = (width / 2 + radius * _REACH) * _TURN[:, 0]
    along = (height / 2 + radius * _REACH + 3) * _TURN[:, 1]
    wide = max((bounds.width - width) / 2, 0.0)
    high = max((bounds.height - height) / 2, 0.0)
    places = np.column_stack([x + across, y + along]).round(3)
    low = (bounds.x - wide, bounds.y - high)
    return np.asarray(np.clip(places, low, (bounds.x + wide, bounds.y + high)))


def _covered(at: FloatArray, size: tuple[float, float], boxes: Sequence[Box]) -> FloatArray:
    """Return the area of some boxes that a label covers at each of n places: (n,)."""
    if not boxes:
        return np.zeros(len(at))
    other = np.array([(each.x, each.y, each.width, each.height) for each in boxes])
    wide = (size[0] + other[:, 2]) / 2 - np.abs(at[:, :1] - other[:, 0])
    high = (size[1] + other[:, 3]) / 2 - np.abs(at[:, 1:] - other[:, 1])
    return np.asarray((np.maximum(wide, 0.0) * np.maximum(high, 0.0)).sum(axis=1))
