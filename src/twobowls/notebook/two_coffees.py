"""Two coffees, one question: how answers are counted, and how such a test is shown."""

from typing import Any

import numpy as np

from twobowls.errors import InputError
from twobowls.notebook.asked import Asked
from twobowls.notebook.estimates import INTERVAL, interval_cells
from twobowls.notebook.pictures import Bar, intervals_picture
from twobowls.notebook.result import Result, Section
from twobowls.notebook.tables import Table, rows_table
from twobowls.statistics.intervals import Interval


def counts_of(
    frame: object, right: str | None, correct: int | None, trials: int | None, name: str
) -> tuple[tuple[Any, Any], Asked | None]:
    """Return how many of how many, given or counted."""
    if frame is not None:
        refuse_counts(**{name: correct, "trials": trials})
        asked = Asked(frame)
        answers = asked.whether("right", right)
        asked.one_of_each("sensation")
        rows = asked.keep({"right": answers}, {})
        one_answer_each(asked, rows)
        return (int(answers[rows].sum()), int(rows.sum())), asked
    if correct is None or trials is None:
        missing = name if correct is None else "trials"
        raise InputError(missing, "it is missing", f"Give {name}= and trials=, or a frame")
    return (correct, trials), None


def refuse_counts(**counts: int | None) -> None:
    """Refuse counts beside a frame."""
    for name, count in counts.items():
        if count is not None:
            raise InputError(name, "there is a frame as well", f"Give a frame, or {name}=")


def one_answer_each(asked: Asked, rows: np.ndarray) -> None:
    """Caution of several tasters with several answers each: they are not independent."""
    tasters = asked.maybe_labels("taster", None)
    if tasters is None:
        return
    here = tasters.codes[rows]
    people = len(np.unique(here))
    if 1 < people < len(here):
        asked.cautions.append(
            f"{people} tasters gave {len(here)} answers: answers of one taster are no separate "
            "witnesses. Keep one each, or look at one taster."
        )


def needed(count: int | None) -> str:
    """Write a count that may be out of reach."""
    return "no count" if count is None else str(count)


def estimates_table(*rows: tuple[str, Interval]) -> Table:
    """Make the table of estimates with their intervals."""
    return rows_table(
        "estimates",
        "Estimates",
        ("of", *INTERVAL),
        [(name, *interval_cells(each)) for name, each in rows],
        dict.fromkeys(INTERVAL, 2),
    )


def two_coffees(
    *,
    title: str,
    found: Any,
    sentences: tuple[str, ...],
    notes: tuple[str, ...],
    estimates: Table,
    bars: list[tuple[str, Interval]],
    axis: str,
    neutral: float | None,
    asked: Asked | None,
    test: tuple[str, ...],
    cautions: tuple[str, ...],
) -> Result[Any]:
    """Put the result of a test together; ``test`` names what of it goes into a table."""
    tested = rows_table("test", "Test", test, [[getattr(found, name) for name in test]])
    columns = () if asked is None else (asked.columns_table(),)
    drawn = [Bar(name, each.estimate, each.low, each.high) for name, each in bars]
    section = Section(
        sentences=sentences,
        notes=notes,
        picture=intervals_picture(drawn, axis, neutral=neutral),
        tables=(estimates,),
        folded=(tested, *columns),
    )
    return Result(
        title=title,
        result=found,
        sections=(section,),
        tables=(estimates, tested, *columns),
        cautions=(*(() if asked is None else asked.cautions), *cautions),
        backend="" if asked is None else asked.frame.backend,
    )
