"""``twobowls.taster_skill``: how each taster marks, for the taster's own eyes."""

from collections.abc import Mapping

import numpy as np

from twobowls.counting import count_of
from twobowls.notebook.asked import Asked, texts
from twobowls.notebook.estimates import interval_cells, interval_words
from twobowls.notebook.pictures import bars_of, intervals_picture
from twobowls.notebook.result import Result, Section
from twobowls.notebook.tables import rows_table
from twobowls.statistics.taster_skill import TableSkill, TasterSkill
from twobowls.statistics.taster_skill import taster_skill as skill_of

_HEADER = (
    "taster",
    "marks",
    "coffees",
    "repeatability",
    "repeatability_low",
    "repeatability_high",
    "repeats",
    "f",
    "p_value",
    "signal",
    "agreement",
    "agreement_low",
    "agreement_high",
    "stretch",
    "stretch_low",
    "stretch_high",
    "offset",
    "offset_low",
    "offset_high",
    "lowest",
    "highest",
    "spread",
)
_SHOWN = ("taster", "repeatability", "repeats", "p_value", "agreement", "stretch", "offset")
_MOST_BARS = 30


def taster_skill(
    frame: object,
    *,
    mark: str | None = None,
    taster: str | None = None,
    coffee: str | None = None,
    round: str | None = None,
    merge: Mapping[str, str] | None = None,
    level: float = 0.90,
) -> Result[TableSkill]:
    """Say how each taster marks one sensation: repeats, discrimination, agreement, stretch.

    Parameters
    ----------
    frame : data frame or dict of lists
        One row a mark, of one sensation on one scale. The same coffee twice in one round is a
        hidden repeat.
    mark : str, optional
        Column of the marks; ``"intensity"`` or ``"liking"`` in this tool's own export.
    taster, coffee, round : str, optional
        Columns of labels; found by their names when left out.
    merge : dict, optional
        Spellings to read as others: ``{"ana": "Ana"}``.
    level : float
        Coverage of the intervals.

    Returns
    -------
    Result
        Tables ``tasters`` (in the unit of the marks) and ``columns``.

    Raises
    ------
    InputError
        When a column is missing or of the wrong kind, or several sensations are mixed.

    Notes
    -----
    After the notions of ISO 11132; see `twobowls.statistics.taster_skill.taster_skill`. Tell
    each taster their own line, kindly.

    Examples
    --------
    >>> found = taster_skill({
    ...     "taster": ["Ada"] * 6 + ["Bo"] * 6 + ["Cy"] * 6,
    ...     "coffee": ["Brisa", "Brisa", "Niebla", "Niebla", "Oro", "Oro"] * 3,
    ...     "mark": [20, 24, 50, 46, 70, 78, 30, 33, 45, 40, 60, 62, 25, 20, 55, 60, 80, 85],
    ... })
    >>> round(found.to_frame()["repeatability"][0], 1), found.to_frame()["repeats"][0]
    (4.0, 3)
    """
    asked = Asked(frame, merge)
    values = asked.numbers("mark", mark)
    tasters, coffees = asked.labels("taster", taster), asked.labels("coffee", coffee)
    rounds = asked.maybe_labels("round", round, dates=True)
    asked.one_of_each()
    rows = asked.keep({"mark": values}, {"taster": tasters, "coffee": coffees, "round": rounds})
    coffees_here = coffees.take(rows)
    asked.spellings("taster", tasters.take(rows), coffees_here.codes)
    asked.spellings("coffee", coffees_here, tasters.take(rows).codes)
    with asked.naming(marks="mark"):
        found = skill_of(
            texts(tasters, rows),
            texts(coffees, rows),
            values[rows],
            rounds=None if rounds is None else texts(rounds, rows),
            level=level,
        )
    return _told(found, asked, level)


def _told(found: TableSkill, asked: Asked, level: float) -> Result[TableSkill]:
    every = rows_table(
        "tasters",
        "Tasters",
        _HEADER,
        [_row(each) for each in found.tasters],
        {"p_value": "p"},
    )
    shown = rows_table(
        "tasters",
        "Tasters",
        _SHOWN,
        list(zip(*(every.columns[name] for name in _SHOWN), strict=True)),
        {"p_value": "p", "agreement": 2, "stretch": 2, "repeatability": 1, "offset": 1},
    )
    bars = bars_of(every.rows(), 0, _HEADER.index("agreement"), _HEADER.index("agreement_low"))
    section = Section(
        sentences=_sentences(found),
        notes=(
            "Repeatability: standard deviation between hidden repeats. p: chance that somebody "
            "who tells no coffees apart marks like this. Agreement: correlation with the others. "
            f"Stretch: 1 is the table's use of the scale. {interval_words(level).capitalize()}.",
        ),
        picture=intervals_picture(bars[:_MOST_BARS], "Agreement with the others", neutral=0.0),
        tables=(shown,),
        folded=(asked.columns_table(),),
    )
    return Result(
        title=f"Taster skill: {count_of(len(found.tasters), 'taster')}",
        result=found,
        sections=(section,),
        tables=(every, asked.columns_table()),
        cautions=(*asked.cautions, *_cautions(found)),
        backend=asked.frame.backend,
    )


def _row(each: TasterSkill) -> tuple[object, ...]:
    told = each.discrimination
    agreement = None if each.agreement is None else each.agreement.interval
    return (
        each.taster,
        each.marks,
        each.coffees,
        *interval_cells(each.repeatability),
        each.repeat_df,
        None if told is None or not np.isfinite(told.f) else float(told.f),
        None if told is None else float(told.p_value),
        None if told is None else float(told.signal.estimate),
        *interval_cells(agreement),
        *interval_cells(each.stretch),
        *interval_cells(each.offset),
        each.lowest,
        each.highest,
        each.spread,
    )


def _sentences(found: TableSkill) -> tuple[str, ...]:
    if found.repeatability is None:
        return ("No hidden repeats: nothing tells how well marks are repeated.",)
    sd = found.repeatability
    return (
        f"Pooled over the tasters, repeats lie {sd.estimate:.3g} apart (standard deviation; "
        f"{sd.low:.3g} to {sd.high:.3g}).",
    )


def _cautions(found: TableSkill) -> tuple[str, ...]:
    """Return each caution once, with how many tasters it is about."""
    told: dict[str, int] = {}
    for each in found.tasters:
        for caution in each.cautions:
            told[caution] = told.get(caution, 0) + 1
    everybody = len(found.tasters)
    return tuple(
        text if count == everybody else f"{count} of {everybody} tasters: {text}"
        for text, count in told.items()
    )
