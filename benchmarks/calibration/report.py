"""Writing the study down: tables in Markdown, and one picture."""

from datetime import date
from pathlib import Path
from typing import Any, get_args

from benchmarks.calibration.pieces import Found
from benchmarks.calibration.scenarios import Scenario, describe
from benchmarks.calibration.study import LEVELS, Calibration
from twobowls.statistics.ratings_results import Population

Row = tuple[Scenario, Found]

TITLES = {
    "prior": "Truth drawn from the prior",
    "usual": "Tables as they may be: with and without disagreement and stretch",
    "odd": "What the model does not know of",
    "null": "No difference between the coffees",
}
LIMITS = {"prior": 0.02, "usual": 0.05, "odd": 0.05}
SHOWN = 2.0  # standard errors
MOST_FALSE = 0.01
START, END = "<!-- figures -->", "<!-- end of figures -->"
PICTURE = "coverage.svg"


def verdict(found: Calibration, limit: float) -> str:
    """Say whether all coverages are within a limit of nominal, two standard errors counted in.

    *shown* when they are even two standard errors further off, *no* when one is not even two
    standard errors nearer, *open* else.
    """
    away = [abs(found.coverage(level) - level) for level in LEVELS]
    errors = [SHOWN * found.coverage_error(level) for level in LEVELS]
    if all(a + e <= limit for a, e in zip(away, errors, strict=True)):
        return "shown"
    if any(a - e > limit for a, e in zip(away, errors, strict=True)):
        return "no"
    inside = all(a <= limit for a in away)
    return "open, within" if inside else "open, beyond"


def _percent(share: float, error: float) -> str:
    return f"{100 * share:.1f} ± {100 * error:.1f}"


def _line(scenario: Scenario, population: str, found: Calibration) -> str:
    cells = [scenario.name, describe(scenario.table), population, f"{len(found.places):,}"]
    cells += [_percent(found.coverage(level), found.coverage_error(level)) for level in LEVELS]
    cells.append(_percent(*found.clear_claims()))
    if scenario.group == "null":
        share, error = found.false_claims()
        cells.append(_percent(share, error))
        cells.append("shown" if share + SHOWN * error <= MOST_FALSE else "no")
        return f"| {' | '.join(cells)} |"
    wrong, claims = found.wrong_claims()
    cells.append(f"{100 * wrong:.2f} of {claims:,}")
    if scenario.group == "prior":
        cells.append(f"{found.uniformity():.3f}")
    cells.append(verdict(found, LIMITS[scenario.group]))
    return f"| {' | '.join(cells)} |"


def _head(group: str) -> list[str]:
    names = ["truth", "table", "for", "tables", *(f"{100 * level:.0f} %" for level in LEVELS)]
    names.append("clear, %")
    if group == "null":
        names += ["false, %", "at most 1 %"]
    else:
        names.append("of these wrong, %")
        names += ["ranks, p"] if group == "prior" else []
        names.append(f"within {100 * LIMITS[group]:.0f} points")
    return [f"| {' | '.join(names)} |", f"|{'---|' * len(names)}"]


def tables(rows: list[Row]) -> str:
    """Return all tables in Markdown."""
    parts = []
    for group, title in TITLES.items():
        mine = [row for row in rows if row[0].group == group]
        if not mine:
            continue
        lines = [
            _line(scenario, population, found[population])
            for scenario, found in mine
            for population in get_args(Population)
        ]
        parts.append("\n".join([f"### {title}\n", *_head(group), *lines]))
    return "\n\n".join(parts)


def _points(rows: list[Row]) -> list[dict[str, Any]]:
    """Return the picture's data: a record for each scenario, population and level."""
    found = []
    for scenario, parts in rows:
        if scenario.group == "null":
            continue
        name = "prior" if scenario.group == "prior" else scenario.name
        for population, each in parts.items():
            for level in LEVELS:
                away = 100 * (each.coverage(level) - level)
                reach = 100 * SHOWN * each.coverage_error(level)
                found.append(
                    {
                        "where": f"{name}: {describe(scenario.table)}",
                        "for": population,
                        "level": f"{100 * level:.0f} %",
                        "away": round(away, 2),
                        "low": round(away - reach, 2),
                        "high": round(away + reach, 2),
                        "limit": 100 * LIMITS[scenario.group],
                    }
                )
    return found


def spec(rows: list[Row]) -> dict[str, Any]:
    """Return the picture: how far coverages are from nominal, with two standard errors."""
    y: dict[str, Any] = {"field": "where", "type": "nominal", "sort": None, "title": None}
    y["axis"] = {"labelLimit": 320}
    colours = {"range": ["#35404d", "#b4552d"]}
    apart = {
        "y": y,
        "color": {"field": "for", "type": "nominal", "scale": colours},
        "yOffset": {"field": "for", "type": "nominal"},
    }
    layers = [
        {
            "mark": {"type": "bar", "color": "#e8e2d6", "height": 14},
            "encoding": {"y": y, "x": _points_from("left"), "x2": {"field": "right"}},
        },
        {"mark": "rule", "encoding": apart | {"x": _points_from("low"), "x2": {"field": "high"}}},
        {
            "mark": {"type": "point", "filled": True, "size": 28},
            "encoding": apart | {"x": _points_from("away")},
        },
    ]
    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v5.json",
        "background": "white",
        "title": "Coverage of intervals: points from nominal, with two standard errors",
        "data": {"values": _points(rows)},
        "transform": [
            {"calculate": "-datum.limit", "as": "left"},
            {"calculate": "datum.limit", "as": "right"},
        ],
        "facet": {"column": {"field": "level", "type": "nominal", "title": None}},
        "spec": {"width": 170, "height": {"step": 22, "for": "position"}, "layer": layers},
        "config": {"view": {"stroke": "#ccc"}},
    }


def _points_from(field: str) -> dict[str, Any]:
    return {"field": field, "type": "quantitative", "title": "points from nominal"}


def write(rows: list[Row], folder: Path) -> str:
    """Put the tables into README.md between its marks, and the picture beside it."""
    import vl_convert

    (folder / PICTURE).write_text(vl_convert.vegalite_to_svg(spec(rows)) + "\n")
    readme = folder / "README.md"
    before, rest = readme.read_text().split(START)
    after = rest.split(END)[1]
    count = sum(len(found["people"].places) for _, found in rows)
    text = f"Written {date.today():%-d %B %Y} from {count:,} tables.\n\n{tables(rows)}"
    readme.write_text(f"{before}{START}\n\n{text}\n\n{END}{after}")
    return text
