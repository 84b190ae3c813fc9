"""How the time of a fit grows with marks, tasters and coffees: measured, and drawn."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Literal

from benchmarks.made_up import marks
from benchmarks.timing import best
from twobowls.statistics.ratings import fit_ratings

FILE = Path(__file__).parent / "growth.svg"
RUNS = 4
Prior = Literal["flat", "weak"]
AXES = {
    "marks": "marks, of 100 tasters on 6 coffees",
    "tasters": "tasters, each 2 marks on each of 6 coffees",
    "coffees": "coffees, each with 2 marks of each of 100 tasters",
}
GROWTH: tuple[tuple[str, int, int, int], ...] = (  # axis, tasters, coffees, repeats
    *(("marks", 100, 6, repeats) for repeats in (2, 10, 50, 250, 1000)),
    *(("tasters", tasters, 6, 2) for tasters in (10, 40, 160, 640, 2560, 10_000)),
    *(("coffees", 100, coffees, 2) for coffees in (3, 6, 12, 24, 48)),
)
NAMES: dict[Prior, str] = {"flat": "flat prior (REML)", "weak": "full posterior"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One fit: what grew, to how much, and how long it took."""

    axis: str
    marks: int
    tasters: int
    coffees: int
    prior: Prior
    seconds: float

    @property
    def size(self) -> int:
        """The number along the axis."""
        return {"marks": self.marks, "tasters": self.tasters, "coffees": self.coffees}[self.axis]


def grow(tell: Callable[[], None]) -> list[Point]:
    """Time all fits; ``tell`` is called after each size."""
    points = []
    for axis, tasters, coffees, repeats in GROWTH:
        columns = marks(tasters, coffees, repeats=repeats)
        for prior in NAMES:
            seconds, _ = best(partial(fit_ratings, columns, prior=prior), RUNS)
            points.append(
                Point(
                    axis=axis,
                    marks=len(columns.y),
                    tasters=tasters,
                    coffees=coffees,
                    prior=prior,
                    seconds=seconds,
                )
            )
        tell()
    return points


def draw(points: Sequence[Point], file: Path = FILE) -> Path:
    """Write the curves as an SVG file."""
    import vl_convert

    file.write_text(vl_convert.vegalite_to_svg(chart(points)))
    return file


def chart(points: Sequence[Point]) -> dict[str, Any]:
    """Return the Vega-Lite specification: a panel for each axis, both logarithmic."""
    times = [each.seconds for each in points]
    limits = [min(times) / 1.5, max(times) * 1.5]
    return {
        "background": "white",
        "config": {
            "axis": {"labelFontSize": 12, "titleFontSize": 12},
            "legend": {"labelFontSize": 12},
        },
        "hconcat": [_panel(points, axis, limits, first=axis == "marks") for axis in AXES],
    }


def _panel(
    points: Sequence[Point], axis: str, limits: list[float], *, first: bool
) -> dict[str, Any]:
    here = [each for each in points if each.axis == axis]
    rows = [
        {"size": each.size, "ms": 1000 * each.seconds, "fit": NAMES[each.prior]} for each in here
    ]
    sizes = sorted({each.size for each in here})
    log = {"type": "log", "nice": False}
    return {
        "width": 250,
        "height": 230,
        "data": {"values": rows},
        "mark": {"type": "line", "point": {"size": 45}},
        "encoding": {
            "x": {
                "field": "size",
                "type": "quantitative",
                "title": AXES[axis],
                "scale": log,
                "axis": {"values": sizes, "format": "~s", "grid": False},
            },
            "y": {
                "field": "ms",
                "type": "quantitative",
                "title": "milliseconds" if first else None,
                "scale": {**log, "domain": [1000 * each for each in limits]},
                "axis": {"values": [1, 3, 10, 30, 100, 300, 1000, 3000], "format": "~s"},
            },
            "color": {
                "field": "fit",
                "type": "nominal",
                "title": None,
                "scale": {"range": ["#1f4e79", "#c05a1c"]},
                "legend": {"orient": "top"} if first else None,
            },
            "strokeDash": {"field": "fit", "type": "nominal", "legend": None},
        },
    }
