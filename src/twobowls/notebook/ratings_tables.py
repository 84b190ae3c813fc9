"""The tidy tables of ratings, in the unit of the marks."""

from typing import Any

from twobowls.debrief.analysis import POPULATIONS, Analysis, SensationFit
from twobowls.debrief.findings import Findings
from twobowls.debrief.pads import Pad
from twobowls.notebook.estimates import CONTRAST, ESTIMATE, contrast_rows, estimate_cells
from twobowls.notebook.tables import Table, rows_table


def rating_tables(
    analysis: Analysis, findings: Findings, drawn: tuple[Pad, ...]
) -> tuple[Table, ...]:
    """Return ``coffees``, ``contrasts``, ``rounds``, ``spread``, ``findings`` and ``pads``."""
    each_fit = ("sensation", "scale", "population")
    return (
        rows_table(
            "coffees",
            "Coffees",
            (*each_fit, "coffee", *ESTIMATE),
            [
                (*key, each.level, *estimate_cells(each.estimate))
                for key, fit, population in _fits(analysis)
                for each in fit.means(population).coffees
            ],
        ),
        rows_table(
            "contrasts",
            "Pairs",
            (*each_fit, *CONTRAST),
            [
                (*key, *row)
                for key, fit, population in _fits(analysis)
                for row in contrast_rows(fit.means(population).contrasts)
            ],
            {"probability": 3},
        ),
        rows_table(
            "rounds",
            "Coffees, round by round",
            (*each_fit, "coffee", "round", *ESTIMATE),
            [
                (*key, each.coffee, each.round, *estimate_cells(each.estimate))
                for key, fit, population in _fits(analysis)
                for each in fit.means(population).rounds
            ],
        ),
        _spread(analysis),
        rows_table(
            "findings",
            "Findings",
            ("finding", "sensation", "scale", "table", "people"),
            [
                (each.text, each.sensation, each.scale, each.table, each.people)
                for each in findings.all
            ],
        ),
        _pads(drawn),
    )


def _fits(analysis: Analysis) -> list[tuple[tuple[str, str, str], SensationFit, Any]]:
    return [
        ((fit.sensation, fit.scale, population), fit, population)
        for fit in analysis.fits
        for population in POPULATIONS
    ]


def _spread(analysis: Analysis) -> Table:
    rows = []
    for fit in analysis.fits:
        for term, variance in fit.fit.variance.items():
            ends = fit.fit.variance_interval.get(term, (None, None))
            low, high = (None if end is None else end**0.5 for end in ends)
            rows.append((fit.sensation, fit.scale, term, variance**0.5, low, high))
    header = ("sensation", "scale", "term", "sd", "low", "high")
    return rows_table("spread", "What makes marks differ (standard deviations)", header, rows)


def _pads(drawn: tuple[Pad, ...]) -> Table:
    header = ("sensation", "coffee", "intensity", "liking", "axis_1", "axis_2", "angle_rad")
    rows = [
        (pad.sensation, each.coffee, *each.centre, *each.ellipse.semi_axes, each.ellipse.angle_rad)
        for pad in drawn
        for each in pad.coffees
    ]
    return rows_table("pads", "Pads, as shares of the two scales", header, rows)
