"""Pictures of results that are no debrief: intervals, curves and maps, in the debrief's own ink."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from twobowls.debrief.chart_parts import (
    DASHES,
    DOT,
    INK,
    SOFT,
    Spec,
    chart_spec,
    interval_layer,
    neutral_layer,
    tone_colour,
)
from twobowls.debrief.label_layout import Box, place_labels
from twobowls.debrief.pad_svg import short
from twobowls.notebook.result import Picture
from twobowls.notebook.tables import show

_WIDE, _HIGH, _LETTER = 500.0, 380.0, 15.0


@dataclass(frozen=True, slots=True)
class Bar:
    """One line of an interval picture."""

    name: str
    mean: float
    low: float
    high: float


def intervals_picture(
    bars: Sequence[Bar], what: str, *, neutral: float | None = None
) -> Picture | None:
    """Draw estimates with their intervals, one below the other, in the order given.

    Parameters
    ----------
    bars : sequence of Bar
        Ends may be infinite; those without a finite estimate are left out.
    what : str
        What the axis shows, also for those who do not see it.
    neutral : float, optional
        A value to be marked by a dashed line.
    """
    drawn = [bar for bar in bars if math.isfinite(bar.mean)]
    if not drawn:
        return None
    low, high = _reach(drawn, neutral)
    rows = [
        {
            "coffee": short(bar.name),
            "mean": bar.mean,
            "low": max(bar.low, low),
            "high": min(bar.high, high),
            "tone": tone_colour(number),
        }
        for number, bar in enumerate(drawn)
    ]
    x = _axis("mean", what, [low, high])
    y = {"field": "coffee", "type": "nominal", "sort": None, "axis": {"title": None}}
    tone = {"field": "tone", "type": "nominal", "scale": None}
    layers: list[Spec] = [
        *([] if neutral is None else [neutral_layer(neutral)]),
        interval_layer(
            x, y, ("low", "high"), {"strokeWidth": 5, "strokeCap": "round", "color": SOFT}
        ),
        {
            "mark": {**DOT, "size": 150},
            "encoding": {"x": x, "y": y, "fill": tone, "opacity": {"value": 1}},
        },
    ]
    longest = max(len(short(bar.name)) for bar in drawn)
    size = {"width": 330, "height": {"step": 32}}
    said = "; ".join(
        f"{bar.name} {show(bar.mean)} ({show(bar.low)} to {show(bar.high)})" for bar in drawn
    )
    return _picture(chart_spec(rows, layers, size, left=8 + 2 * longest), f"{what}. {said}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """A curve, the dots that it was fitted to, and values to be marked on its x axis."""

    x: Sequence[float]
    y: Sequence[float]
    dots: Sequence[tuple[float, float]] = ()
    marks: Sequence[float] = ()
    floor: float | None = None


def curve_picture(
    curve: Curve,
    what: tuple[str, str],
    said: str,
    *,
    ticks: Sequence[float] = (),
    limits: tuple[float, float] | None = None,
) -> Picture:
    """Draw a curve; ``what`` names the two axes, ``said`` tells it in words.

    With ``ticks`` the x axis is logarithmic and has these.
    """
    x = _axis("x", what[0])
    if ticks:
        x["scale"] = {"type": "log", "nice": False}
        x["axis"] |= {"values": list(ticks), "labelOverlap": True}
    y = _axis("y", what[1], None if limits is None else list(limits))
    line = [{"x": a, "y": b} for a, b in zip(curve.x, curve.y, strict=True)]
    dots = [{"x": a, "y": b} for a, b in curve.dots]
    marks = [{"x": each} for each in curve.marks]
    layers: list[Spec] = [
        *([] if curve.floor is None else [neutral_layer(curve.floor, "y")]),
        {
            "data": {"values": marks},
            "mark": {"type": "rule", "strokeDash": [5, 4], "strokeWidth": 1.5, "color": INK},
            "encoding": {"x": x},
        },
        {
            "mark": {"type": "line", "strokeWidth": 2.5, "color": SOFT, "clip": True},
            "encoding": {"x": x, "y": y},
        },
        {
            "data": {"values": dots},
            "mark": {**DOT, "size": 110, "fill": tone_colour(1), "opacity": 1},
            "encoding": {"x": x, "y": y},
        },
    ]
    return _picture(chart_spec(line, layers, {"width": 380, "height": 220}, left=8), said)


def map_picture(
    points: Sequence[tuple[str, str, float, float]],
    outlines: Mapping[str, Sequence[tuple[float, float]]],
    said: str,
) -> Picture:
    """Draw a map of (kind, name, x, y): the first kind as dots with regions, the other as words."""
    kinds = list(dict.fromkeys(kind for kind, *_ in points))
    inside = [place for outline in outlines.values() for place in outline]
    xs = _room([point[2] for point in points] + [x for x, _ in inside])
    ys = _room([point[3] for point in points] + [y for _, y in inside])
    labels = _labels(points, xs, ys)
    places: list[Spec] = [
        {
            "kind": kind,
            "name": short(name),
            "x": x,
            "y": y,
            "at_x": at[0],
            "at_y": at[1],
            "tone": tone_colour(number),
        }
        for number, ((kind, name, x, y), at) in enumerate(zip(points, labels, strict=True))
    ]
    dots = [each for each in places if each["kind"] == kinds[0]]
    words = [each for each in places if each["kind"] != kinds[0]]
    edges: list[Spec] = [
        {"name": name, "at": at, "x": x, "y": y}
        for name, outline in outlines.items()
        for at, (x, y) in enumerate(outline)
    ]
    x, y = _map_axis("x", xs), _map_axis("y", ys)
    at = {"x": {**x, "field": "at_x"}, "y": {**y, "field": "at_y"}}
    tone = {"field": "tone", "type": "nominal", "scale": None}
    text: Spec = {"field": "name", "type": "nominal"}
    dash = {"field": "name", "type": "nominal", "legend": None, "scale": {"range": list(DASHES)}}
    layers: list[Spec] = [
        neutral_layer(0.0, "x"),
        neutral_layer(0.0, "y"),
        {
            "data": {"values": edges},
            "mark": {"type": "line", "strokeWidth": 1.5, "color": SOFT, "clip": True},
            "encoding": {
                "x": x,
                "y": y,
                "order": {"field": "at"},
                "detail": text,
                "strokeDash": dash,
            },
        },
        {
            "data": {"values": words},
            "mark": {"type": "point", "shape": "cross", "size": 40, "filled": True, "color": SOFT},
            "encoding": {"x": x, "y": y},
        },
        {
            "data": {"values": dots},
            "mark": {**DOT, "size": 130},
            "encoding": {"x": x, "y": y, "fill": tone, "opacity": {"value": 1}},
        },
        {
            "data": {"values": words},
            "mark": {"type": "text", "fontSize": _LETTER, "fontStyle": "italic", "color": INK},
            "encoding": {**at, "text": text},
        },
        {
            "data": {"values": dots},
            "mark": {"type": "text", "fontSize": _LETTER, "fontWeight": 600, "color": INK},
            "encoding": {**at, "text": text},
        },
    ]
    return _picture(chart_spec(places, layers, {"width": _WIDE, "height": _HIGH}, left=8), said)


def _axis(field: str, title: str, domain: list[float] | None = None) -> Spec:
    scale: Spec = {"nice": False, "zero": False}
    if domain is not None:
        scale |= {"domain": domain, "clamp": True}
    return {
        "field": field,
        "type": "quantitative",
        "scale": scale,
        "axis": {
            "title": title,
            "tickCount": 5,
            "titleFontSize": 14,
            "titleFontWeight": 400,
            "titleColor": INK,
            "titlePadding": 8,
        },
    }


def _room(values: Sequence[float]) -> tuple[float, float]:
    """Return the ends of an axis of a map: all values, and some room for names."""
    low, high = min(values), max(values)
    room = 0.12 * (high - low or 1.0)
    return (low - room, high + room)


def _labels(
    points: Sequence[tuple[str, str, float, float]],
    xs: tuple[float, float],
    ys: tuple[float, float],
) -> list[tuple[float, float]]:
    """Return where each name stands, beside its own point and clear of the others."""
    wide, high = xs[1] - xs[0], ys[1] - ys[0]
    dots = [(_WIDE * (x - xs[0]) / wide, _HIGH * (ys[1] - y) / high) for *_, x, y in points]
    sizes = [(0.62 * _LETTER * len(short(name)) + 6, _LETTER + 6.0) for _, name, *_ in points]
    bounds = Box(_WIDE / 2, _HIGH / 2, _WIDE, _HIGH)
    boxes = place_labels(dots, sizes, bounds)
    return [(xs[0] + wide * box.x / _WIDE, ys[1] - high * box.y / _HIGH) for box in boxes]


def _map_axis(field: str, ends: tuple[float, float]) -> Spec:
    return {
        "field": field,
        "type": "quantitative",
        "scale": {"domain": list(ends), "nice": False, "zero": False},
        "axis": {"title": None, "labels": False, "grid": False, "domain": False},
    }


def _reach(bars: Sequence[Bar], neutral: float | None) -> tuple[float, float]:
    """Return the ends of an axis that holds all finite ends, with a little room."""
    ends = [each for bar in bars for each in (bar.mean, bar.low, bar.high) if math.isfinite(each)]
    ends += [] if neutral is None else [neutral]
    low, high = min(ends), max(ends)
    room = 0.06 * (high - low) or max(abs(high), 1.0) * 0.1
    return low - room, high + room


def _picture(spec: Spec, said: str) -> Picture:
    def draw(name: str) -> str:
        from twobowls.interchange.chart_svg import chart_svg

        return chart_svg(spec, name, said)

    return draw


def bars_of(rows: Iterable[Sequence[Any]], name: int = 0, mean: int = 1, low: int = 2) -> list[Bar]:
    """Take bars from rows: where the name stands, the mean, and the lower end before the upper."""
    return [
        Bar(str(row[name]), float(row[mean]), float(row[low]), float(row[low + 1]))
        for row in rows
        if row[mean] is not None
    ]
