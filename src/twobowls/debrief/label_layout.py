"""Where labels go beside their dots so that none hides another: plain geometry."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, hypot, pi, sin

DIRECTIONS = 16
REACHES = (1.0, 1.6, 2.4, 3.4, 4.6)


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
    fixed = list(taken)
    placed: list[Box] = []
    for number, ((x, y), (width, height)) in enumerate(zip(dots, sizes, strict=True)):
        others = marks[:number] + marks[number + 1 :] + fixed

        def cost(box: Box, x: float = x, y: float = y, others: list[Box] = others) -> float:
            hidden = 6 * sum(box.overlap(each) for each in placed)
            hidden += 2 * sum(box.overlap(each) for each in others)
            return hidden + hypot(box.x - x, box.y - y)

        places = _candidates(x, y, width, height, radius)
        placed.append(min((_inside(box, bounds) for box in places), key=cost))
    return placed


def _candidates(x: float, y: float, width: float, height: float, radius: float) -> list[Box]:
    """Return places around a dot, above it first, close ones first."""
    found = []
    for reach in REACHES:
        for step in range(DIRECTIONS):
            angle = -pi / 2 + (step + 1) // 2 * (-1) ** step * 2 * pi / DIRECTIONS
            dx, dy = cos(angle), sin(angle)
            across = (width / 2 + radius * reach) * dx
            along = (height / 2 + radius * reach + 3) * dy
            found.append(Box(round(x + across, 3), round(y + along, 3), width, height))
    return found


def _inside(box: Box, bounds: Box) -> Box:
    """Move a box that reaches over the edge back inside."""
    wide = max((bounds.width - box.width) / 2, 0.0)
    high = max((bounds.height - box.height) / 2, 0.0)
    x = min(max(box.x, bounds.x - wide), bounds.x + wide)
    y = min(max(box.y, bounds.y - high), bounds.y + high)
    return Box(x, y, box.width, box.height)
