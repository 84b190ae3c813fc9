"""Chart specifications in Vega-Lite: plain dictionaries, with the numbers in them.

Colours are the page's own custom properties, so that one drawing serves light and dark.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from twobowls.debrief.analysis import SensationFit
from twobowls.debrief.pad_svg import TONES, short
from twobowls.debrief.phrases import level_name, number, span
from twobowls.statistics.ratings_results import Population

Spec = dict[str, Any]
_SCHEMA = "https://vega.github.io/schema/vega-lite/v5.json"
_INK, _SOFT, _LINE = "var(--ink)", "var(--ink-soft)", "var(--line)"
_DOT = {"type": "point", "filled": True, "stroke": _INK, "strokeWidth": 2}
_DASHES = ([1, 0], [7, 3], [2, 3], [9, 3, 2, 3])


def ranking_spec(fit: SensationFit, tones: Mapping[str, int]) -> Spec:
    """Draw the coffees from the highest mean to the lowest, with both intervals.

    A thick line holds the mean of this table, a thin one that of people like these; a dashed
    line is neutral, where the scale is liking.
    """
    people = {each.level: each.estimate for each in fit.fit.people.coffees}
    ranked = sorted(fit.fit.table.coffees, key=lambda each: (-each.estimate.mean, each.level))
    rows = [
        {
            "coffee": short(each.level),
            "mean": each.estimate.mean,
            "low": each.estimate.interval[0],
            "high": each.estimate.interval[1],
            "people_low": people[each.level].interval[0],
            "people_high": people[each.level].interval[1],
            "tone": _tone(tones[each.level]),
        }
        for each in ranked
    ]
    x = {
        "field": "mean",
        "type": "quantitative",
        "scale": {"domain": list(fit.limits), "clamp": True, "nice": False},
        "axis": {"title": None, "tickCount": 5, "grid": True},
    }
    y = {"field": "coffee", "type": "nominal", "sort": None, "axis": {"title": None}}
    tone = {"field": "tone", "type": "nominal", "scale": None}
    layers: list[Spec] = [
        _interval(x, y, ("people_low", "people_high"), {"strokeWidth": 1.5, "color": _SOFT}),
        _interval(x, y, ("low", "high"), {"strokeWidth": 7, "strokeCap": "round", "color": _SOFT}),
        {
            "mark": {
                "type": "point",
                "filled": True,
                "size": 190,
                "stroke": _INK,
                "strokeWidth": 2,
            },
            "encoding": {"x": x, "y": y, "fill": tone},
        },
    ]
    if fit.scale == "liking":
        layers.insert(0, _neutral(fit.neutral))
    return _spec(rows, layers, {"width": 460, "height": {"step": 40}})


def ranking_description(fit: SensationFit) -> str:
    """Say in words what the ranking shows.

    The first coffee is the highest; intervals are those of this table.
    """
    ranked = sorted(fit.fit.table.coffees, key=lambda each: (-each.estimate.mean, each.level))
    said = [
        f"{each.level} {number(each.estimate.mean, fit.limits)} "
        f"({span(each.estimate.interval, fit.limits)})"
        for each in ranked
    ]
    return f"{level_name(fit.sensation, fit.scale)}, highest first: {'; '.join(said)}."


def trend_spec(
    fit: SensationFit,
    tones: Mapping[str, int],
    rounds: Sequence[tuple[str, str]],
    population: Population = "table",
) -> Spec | None:
    """Draw each coffee's mean from round to round; None with fewer than two rounds.

    Parameters
    ----------
    fit : SensationFit
        One sensation on one scale.
    tones : mapping of coffee to int
        The number of each coffee.
    rounds : sequence of (key, name)
        The rounds in order.
    population : {"table", "people"}
        Whose means.
    """
    cells = {(each.coffee, each.round): each.estimate for each in fit.means(population).rounds}
    names = [(key, name) for key, name in rounds if any(of == key for _, of in cells)]
    if len(names) < 2:
        return None
    rows = [
        {
            "coffee": short(coffee),
            "round": name,
            "mean": cells[coffee, key].mean,
            "tone": _tone(tone),
            "last": key == names[-1][0],
        }
        for coffee, tone in tones.items()
        for key, name in names
        if (coffee, key) in cells
    ]
    x = {
        "field": "round",
        "type": "ordinal",
        "sort": [name for _, name in names],
        "scale": {"paddingOuter": 0.2},
        "axis": {"title": None, "labelAngle": 0, "grid": False},
    }
    y = {
        "field": "mean",
        "type": "quantitative",
        "scale": {"domain": list(fit.limits), "nice": False, "clamp": True},
        "axis": {"title": None, "tickCount": 5},
    }
    detail = {"field": "coffee", "type": "nominal", "legend": None}
    tone = {"field": "tone", "type": "nominal", "scale": None}
    dash = {**detail, "scale": {"range": list(_DASHES)}}
    layers: list[Spec] = [
        {
            "mark": {"type": "line", "strokeWidth": 2.5, "color": _SOFT},
            "encoding": {"x": x, "y": y, "detail": detail, "strokeDash": dash},
        },
        {
            "mark": {
                "type": "point",
                "filled": True,
                "size": 130,
                "stroke": _INK,
                "strokeWidth": 2,
            },
            "encoding": {"x": x, "y": y, "fill": tone},
        },
    ]
    if fit.scale == "liking":
        layers.insert(0, _neutral(fit.neutral, "y"))
    return _spec(rows, layers, {"width": {"step": 110}, "height": 240})


def trend_description(fit: SensationFit, rounds: Sequence[tuple[str, str]]) -> str:
    """Say in words how each coffee's mean at this table went from round to round."""
    cells = {(each.coffee, each.round): each.estimate.mean for each in fit.fit.table.rounds}
    said = []
    for coffee in dict.fromkeys(name for name, _ in cells):
        steps = [
            f"{name} {number(cells[coffee, key], fit.limits)}"
            for key, name in rounds
            if (coffee, key) in cells
        ]
        said.append(f"{coffee}: {', '.join(steps)}")
    return f"{level_name(fit.sensation, fit.scale)}, round by round. {'; '.join(said)}."


def _interval(x: Spec, y: Spec, ends: tuple[str, str], mark: Spec) -> Spec:
    return {
        "mark": {"type": "rule", "clip": True, **mark},
        "encoding": {"x": {**x, "field": ends[0]}, "x2": {"field": ends[1]}, "y": y},
    }


def _neutral(value: float, axis: str = "x") -> Spec:
    return {
        "data": {"values": [{"at": value}]},
        "mark": {"type": "rule", "strokeDash": [5, 4], "strokeWidth": 1.5, "color": _SOFT},
        "encoding": {axis: {"field": "at", "type": "quantitative"}},
    }


def _tone(number: int) -> str:
    return f"var(--tone-{number % TONES + 1})"


def _spec(rows: list[Spec], layers: list[Spec], size: Spec) -> Spec:
    return {
        "$schema": _SCHEMA,
        "background": None,
        "padding": 4,
        **size,
        "data": {"values": rows},
        "layer": layers,
        "config": {
            "font": "sans-serif",
            "view": {"stroke": None},
            "axis": {
                "labelFontSize": 15,
                "labelColor": _INK,
                "gridColor": _LINE,
                "domainColor": _LINE,
                "tickColor": _LINE,
                "labelLimit": 220,
                "labelPadding": 8,
                "ticks": False,
            },
        },
    }
