"""What all charts share: ink, lines, sizes of letters, in Vega-Lite.

Colours are the page's own custom properties, so that one drawing serves light and dark.
"""

from typing import Any

from twobowls.debrief.pad_svg import TONES

Spec = dict[str, Any]
_SCHEMA = "https://vega.github.io/schema/vega-lite/v5.json"
INK, SOFT, LINE = "var(--ink)", "var(--ink-soft)", "var(--line)"
DOT = {"type": "point", "filled": True, "stroke": INK, "strokeWidth": 2}
DASHES = ([1, 0], [7, 3], [2, 3], [9, 3, 2, 3])


def interval_layer(x: Spec, y: Spec, ends: tuple[str, str], mark: Spec) -> Spec:
    """Draw an interval from one field to another."""
    return {
        "mark": {"type": "rule", "clip": True, **mark},
        "encoding": {"x": {**x, "field": ends[0]}, "x2": {"field": ends[1]}, "y": y},
    }


def neutral_layer(value: float, axis: str = "x") -> Spec:
    """Draw a dashed line at one value of an axis."""
    return {
        "data": {"values": [{"at": value}]},
        "mark": {"type": "rule", "strokeDash": [5, 4], "strokeWidth": 1.5, "color": SOFT},
        "encoding": {axis: {"field": "at", "type": "quantitative"}},
    }


def tone_colour(number: int) -> str:
    """Return the colour of the coffee with this number."""
    return f"var(--tone-{number % TONES + 1})"


def chart_spec(rows: list[Spec], layers: list[Spec], size: Spec, left: int) -> Spec:
    """Put a chart together; ``left`` is room for a browser whose letters are wider than ours."""
    return {
        "$schema": _SCHEMA,
        "background": None,
        "padding": {"left": left, "right": 16, "top": 4, "bottom": 4},
        **size,
        "data": {"values": rows},
        "layer": layers,
        "config": {
            "font": "sans-serif",
            "view": {"stroke": None},
            "axis": {
                "labelFontSize": 15,
                "labelColor": INK,
                "gridColor": LINE,
                "domainColor": LINE,
                "tickColor": LINE,
                "labelLimit": 220,
                "labelPadding": 8,
                "ticks": False,
            },
        },
    }
