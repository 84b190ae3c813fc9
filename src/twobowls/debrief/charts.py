"""Chart specifications in Vega-Lite: plain dictionaries, with the numbers in them.

Colours are the page's own custom properties, so that one drawing serves light and dark.
"""

from collections.abc import Mapping, Sequence

from twobowls.debrief.analysis import SensationFit
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
from twobowls.debrief.pad_svg import short
from twobowls.debrief.phrases import level_name, number, span
from twobowls.statistics.ratings_results import Population


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
            "tone": tone_colour(tones[each.level]),
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
        interval_layer(x, y, ("people_low", "people_high"), {"strokeWidth": 1.5, "color": SOFT}),
        interval_layer(
            x, y, ("low", "high"), {"strokeWidth": 7, "strokeCap": "round", "color": SOFT}
        ),
        {
            "mark": {
                "type": "point",
                "filled": True,
                "size": 190,
                "stroke": INK,
                "strokeWidth": 2,
            },
            "encoding": {"x": x, "y": y, "fill": tone, "opacity": {"value": 1}},
        },
    ]
    if fit.scale == "liking":
        layers.insert(0, neutral_layer(fit.neutral))
    longest = max(len(short(each.level)) for each in ranked)
    return chart_spec(rows, layers, {"width": 290, "height": {"step": 36}}, left=8 + 2 * longest)


def ranking_description(fit: SensationFit) -> str:
    """Say in words what the ranking shows.

    The first coffee is the highest; intervals are those of this table.
    """
    ranked = sorted(fit.fit.table.coffees, key=lambda each: (-each.estimate.mean, each.level))
    said = [
        f"{each.level} {number(each.estimate.mean, fit.places)} "
        f"({span(each.estimate.interval, fit.places)})"
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
    cells = {(each.coffee, each.round): each.estimate.mean for each in fit.means(population).rounds}
    names = [(key, name) for key, name in rounds if any(of == key for _, of in cells)]
    if len(names) < 2:
        return None
    rows = [
        {"coffee": short(coffee), "at": at, "mean": cells[coffee, key], "tone": tone_colour(tone)}
        for coffee, tone in tones.items()
        for at, (key, _) in enumerate(names)
        if (coffee, key) in cells
    ]
    end = len(names) - 1
    x = {
        "field": "at",
        "type": "quantitative",
        "scale": {"domain": [-0.25, end + 0.12], "nice": False},
        "axis": None,
    }
    y = {
        "field": "mean",
        "type": "quantitative",
        "scale": {"domain": list(fit.limits), "nice": False, "clamp": True},
        "axis": {"title": None, "tickCount": 5},
    }
    detail = {"field": "coffee", "type": "nominal", "legend": None}
    tone = {"field": "tone", "type": "nominal", "scale": None}
    ends = {
        coffee: cells[coffee, names[-1][0]] for coffee in tones if (coffee, names[-1][0]) in cells
    }
    layers: list[Spec] = [
        *([neutral_layer(fit.neutral, "y")] if fit.scale == "liking" else []),
        {
            "mark": {"type": "line", "strokeWidth": 2.5, "color": SOFT},
            "encoding": {
                "x": x,
                "y": y,
                "strokeDash": {**detail, "scale": {"range": list(DASHES)}},
            },
        },
        {
            "mark": {**DOT, "size": 130},
            "encoding": {"x": x, "y": y, "fill": tone, "opacity": {"value": 1}},
        },
        *_end_labels(ends, end, (x, y), fit.limits),
        _round_names([name for _, name in names], (x, y), fit.limits[0]),
    ]
    return chart_spec(rows, layers, {"width": 85 * end + 40, "height": 180}, left=4)


def trend_description(fit: SensationFit, rounds: Sequence[tuple[str, str]]) -> str:
    """Say in words how each coffee's mean at this table went from round to round."""
    cells = {(each.coffee, each.round): each.estimate.mean for each in fit.fit.table.rounds}
    said = []
    for coffee in dict.fromkeys(name for name, _ in cells):
        steps = [
            f"{name} {number(cells[coffee, key], fit.places)}"
            for key, name in rounds
            if (coffee, key) in cells
        ]
        said.append(f"{coffee}: {', '.join(steps)}")
    return f"{level_name(fit.sensation, fit.scale)}, round by round. {'; '.join(said)}."


def _end_labels(
    ends: Mapping[str, float], end: int, axes: tuple[Spec, Spec], limits: tuple[float, float]
) -> list[Spec]:
    """Write each coffee's name beside the end of its line, moved apart where lines end close.

    A thin leader joins the two, so that a name that had to move is still read rightly.
    """
    names = sorted(ends, key=lambda name: ends[name])
    gap = (limits[1] - limits[0]) * 0.085
    places = spread_out([ends[name] for name in names], gap, limits)
    rows = [
        {"name": short(name), "at": end + 0.34, "mean": place, "from": end + 0.1, "of": ends[name]}
        for name, place in zip(names, places, strict=True)
    ]
    x, y = axes
    return [
        {
            "data": {"values": rows},
            "mark": {"type": "rule", "strokeWidth": 1, "color": SOFT},
            "encoding": {
                "x": {**x, "field": "from"},
                "x2": {"field": "at"},
                "y": {**y, "field": "of"},
                "y2": {"field": "mean"},
            },
        },
        {
            "data": {"values": rows},
            "mark": {"type": "text", "align": "left", "dx": 4, "fontSize": 14, "color": INK},
            "encoding": {"x": x, "y": y, "text": {"field": "name", "type": "nominal"}},
        },
    ]


def _round_names(names: Sequence[str], axes: tuple[Spec, Spec], lowest: float) -> Spec:
    rows = [{"at": at, "mean": lowest, "name": name} for at, name in enumerate(names)]
    return {
        "data": {"values": rows},
        "mark": {"type": "text", "dy": 20, "fontSize": 15, "color": INK},
        "encoding": {"x": axes[0], "y": axes[1], "text": {"field": "name", "type": "nominal"}},
    }


def spread_out(values: Sequence[float], gap: float, limits: tuple[float, float]) -> list[float]:
    """Move ascending values apart until neighbours are a gap from each other, within limits.

    Examples
    --------
    >>> spread_out([50.0, 51.0, 80.0], 8.0, (0.0, 100.0))
    [46.5, 54.5, 80.0]
    """
    groups = [[value] for value in values]
    merged = True
    while merged:
        merged = False
        for place in range(len(groups) - 1):
            low, high = groups[place], groups[place + 1]
            if _placed(high, gap, limits)[0] - _placed(low, gap, limits)[-1] < gap - 1e-9:
                groups[place : place + 2] = [low + high]
                merged = True
                break
    return [place for group in groups for place in _placed(group, gap, limits)]


def _placed(group: Sequence[float], gap: float, limits: tuple[float, float]) -> list[float]:
    """Place a group evenly about its middle, kept within the limits."""
    middle, half = sum(group) / len(group), gap * (len(group) - 1) / 2
    middle = max(min(middle, limits[1] - half), limits[0] + half)
    return [middle - half + gap * number for number in range(len(group))]
