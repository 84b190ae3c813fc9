"""What stands on each pad of a debrief: every coffee's mean with its ellipse, and its trail."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import atan2, cos, sin

import numpy as np

from twobowls.debrief.analysis import Analysis, SensationFit, columns_of
from twobowls.debrief.phrases import title
from twobowls.debrief.rating_table import Part, RatingTable, Scale
from twobowls.statistics.ratings_joint import Ellipse, joint_means
from twobowls.statistics.ratings_results import Population
from twobowls.tasting.sensations import SENSATIONS

Point = tuple[float, float]
_ENDS = {each.key: (each.low, each.high) for each in SENSATIONS}


@dataclass(frozen=True, slots=True, kw_only=True)
class PadCoffee:
    """One coffee on a pad; points are (intensity, liking) as shares of the two scales.

    ``trail`` goes from round to round. ``own`` is where one taster put it, for the private
    debrief. ``tone`` numbers the coffee, the same on every pad.
    """

    coffee: str
    tone: int
    centre: Point
    ellipse: Ellipse
    trail: tuple[Point, ...] = ()
    own: Point | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pad:
    """One sensation: how strong from left to right, how much liked upwards."""

    id: str
    sensation: str
    title: str
    low: str
    high: str
    coffees: tuple[PadCoffee, ...]
    rounds: tuple[str, ...] = ()
    level: float = 0.90


def pads(
    analysis: Analysis,
    table: RatingTable,
    population: Population = "table",
    tones: Mapping[str, int] | None = None,
) -> tuple[Pad, ...]:
    """Return a pad for each sensation that was judged on both scales.

    Parameters
    ----------
    analysis : Analysis
        The fits of ``table``.
    table : RatingTable
        The marks: they tell how the errors of the two scales go together.
    population : {"table", "people"}
        Whose means and ellipses.
    tones : mapping of coffee to int, optional
        The number of each coffee's tone; without them they are numbered in their order.
    """
    parts = {(part.sensation, part.scale): part for part in table.parts()}
    order = coffee_order(analysis)
    tones = coffee_tones(analysis) if tones is None else tones
    made = []
    for strong, liked in _pairs(analysis):
        both = joint_means(
            strong.fit,
            liked.fit,
            columns_of(parts[strong.sensation, "intensity"]),
            columns_of(parts[liked.sensation, "liking"]),
            population,
        )
        trails, rounds = _trails(strong, liked, population, table)
        coffees = [
            PadCoffee(
                coffee=each.coffee,
                tone=tones[each.coffee],
                centre=_share((each.intensity, each.liking), strong, liked),
                ellipse=_shares(each.ellipse(strong.fit.level), strong, liked),
                trail=trails.get(each.coffee, ()),
            )
            for each in both
        ]
        if coffees:
            coffees.sort(key=lambda each: order.index(each.coffee))
            made.append(_pad(strong, liked, coffees, rounds))
    return tuple(made)


def coffee_order(analysis: Analysis) -> list[str]:
    """Return the coffees in the order in which all pads and charts name them."""
    return list(
        dict.fromkeys(each.level for fit in analysis.fits for each in fit.fit.table.coffees)
    )


def coffee_tones(analysis: Analysis) -> dict[str, int]:
    """Return the tones of the coffees of a file, which has no bowls: their places in order."""
    return {coffee: number for number, coffee in enumerate(coffee_order(analysis))}


def with_own(pad: Pad, own: Mapping[str, Point]) -> Pad:
    """Return a pad with one taster's own places, given as shares of the scales by coffee."""
    return replace(
        pad, coffees=tuple(replace(each, own=own.get(each.coffee)) for each in pad.coffees)
    )


def own_places(table: RatingTable, taster: str) -> dict[str, dict[str, Point]]:
    """Return where a taster put each coffee, by sensation, as shares of the two scales.

    Bowls and rounds of a coffee are averaged; a coffee without both values is left out.
    """
    if taster not in table.taster.labels:
        return {}
    mine = table.taster.labels.index(taster)
    means: dict[tuple[str, Scale], dict[str, float]] = {}
    for part in table.parts():
        means[part.sensation, part.scale] = _own_means(part, mine)
    found: dict[str, dict[str, Point]] = {}
    for sensation in dict.fromkeys(name for name, _ in means):
        strong = means.get((sensation, "intensity"), {})
        liked = means.get((sensation, "liking"), {})
        found[sensation] = {
            coffee: (strong[coffee], liked[coffee]) for coffee in strong if coffee in liked
        }
    return found


def _own_means(part: Part, taster: int) -> dict[str, float]:
    low, high = part.limits
    rows = part.table.taster.codes[part.rows] == taster
    coffees = part.table.coffee.codes[part.rows][rows]
    values = (part.y[rows] - low) / (high - low)
    return {
        part.table.coffee.labels[code]: float(values[coffees == code].mean())
        for code in dict.fromkeys(coffees.tolist())
    }


def _pairs(analysis: Analysis) -> Iterable[tuple[SensationFit, SensationFit]]:
    """Pair the two scales of each sensation; a file with one unnamed sensation has one pair."""
    strong = [fit for fit in analysis.fits if fit.scale == "intensity"]
    liked = [fit for fit in analysis.fits if fit.scale == "liking"]
    named = {fit.sensation: fit for fit in liked}
    if len(strong) == len(liked) == 1:
        return [(strong[0], liked[0])]
    return [(fit, named[fit.sensation]) for fit in strong if fit.sensation in named]


def _pad(
    strong: SensationFit,
    liked: SensationFit,
    coffees: list[PadCoffee],
    rounds: tuple[str, ...],
) -> Pad:
    low, high = _ENDS.get(strong.sensation, ("weak", "strong"))
    name = title(strong.sensation)
    if liked.sensation != strong.sensation:
        name = f"{name} and {title(liked.sensation)}"
    return Pad(
        id=strong.id.removesuffix("-intensity"),
        sensation=strong.sensation,
        title=name,
        low=low,
        high=high,
        coffees=tuple(coffees),
        rounds=rounds,
        level=strong.fit.level,
    )


def _trails(
    strong: SensationFit, liked: SensationFit, population: Population, table: RatingTable
) -> tuple[dict[str, tuple[Point, ...]], tuple[str, ...]]:
    """Return each coffee's points, round by round in the table's own order of rounds.

    A coffee has no point where it was judged on one scale only.
    """
    xs = {(each.coffee, each.round): each.estimate.mean for each in strong.means(population).rounds}
    ys = {(each.coffee, each.round): each.estimate.mean for each in liked.means(population).rounds}
    fitted = {round_ for _, round_ in xs} & {round_ for _, round_ in ys}
    rounds = tuple(each for each in (table.round.labels if table.round else ()) if each in fitted)
    trails = {}
    for coffee in dict.fromkeys(name for name, _ in xs):
        keys = [(coffee, round_) for round_ in rounds]
        both = [key for key in keys if key in xs and key in ys]
        trails[coffee] = tuple(_share((xs[key], ys[key]), strong, liked) for key in both)
    return trails, rounds


def _share(point: Point, strong: SensationFit, liked: SensationFit) -> Point:
    (x0, x1), (y0, y1) = strong.limits, liked.limits
    return ((point[0] - x0) / (x1 - x0), (point[1] - y0) / (y1 - y0))


def _shares(ellipse: Ellipse, strong: SensationFit, liked: SensationFit) -> Ellipse:
    """Return the ellipse in shares of the two scales, which need not be equally wide."""
    wide, high = (fit.limits[1] - fit.limits[0] for fit in (strong, liked))
    angle = ellipse.angle_rad
    turn = np.array([[cos(angle), -sin(angle)], [sin(angle), cos(angle)]])
    shape = np.diag([1 / wide, 1 / high]) @ turn @ np.diag(ellipse.semi_axes)
    left, sizes, _ = np.linalg.svd(shape)
    return Ellipse(
        centre=_share(ellipse.centre, strong, liked),
        semi_axes=(float(sizes[0]), float(sizes[1])),
        angle_rad=atan2(float(left[1, 0]), float(left[0, 0])),
    )
