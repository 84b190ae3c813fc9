"""``twobowls.agreement``: how reliable marks are, of one taster and of the whole table."""

from collections.abc import Mapping

import numpy as np

from twobowls.counting import count_of
from twobowls.errors import InputError
from twobowls.interchange.ratings_wording import CALL
from twobowls.notebook.asked import Asked, texts
from twobowls.notebook.estimates import INTERVAL, interval_cells, interval_words
from twobowls.notebook.pictures import bars_of, intervals_picture
from twobowls.notebook.result import Result, Section
from twobowls.notebook.tables import rows_table, show
from twobowls.statistics.agreement import IntraclassCorrelations, intraclass_correlations
from twobowls.statistics.coffee_means import coffee_table

_FORMS = (
    ("one taster, tasters not told apart", "single_one_way"),
    ("one taster, tasters a sample", "single_random"),
    ("one taster, levels set aside", "single_fixed"),
    ("mean of all, tasters not told apart", "mean_one_way"),
    ("mean of all, tasters a sample", "mean_random"),
    ("mean of all, levels set aside", "mean_fixed"),
)


def agreement(
    frame: object,
    *,
    mark: str | None = None,
    taster: str | None = None,
    coffee: str | None = None,
    round: str | None = None,
    merge: Mapping[str, str] | None = None,
    level: float = 0.90,
) -> Result[IntraclassCorrelations]:
    """Return the intraclass correlations of a table of marks.

    Parameters
    ----------
    frame : data frame or dict of lists
        One row a mark, of one sensation on one scale; every taster marked every coffee.
        Repeats and rounds are averaged first.
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
        Tables ``correlations`` (0 to 1), ``mean_squares``, ``columns``.

    Raises
    ------
    InputError
        When a column is missing, a taster did not mark a coffee, or no mark differs.

    Notes
    -----
    The six forms of Shrout and Fleiss 1979, Psychological Bulletin 86:420-428; see
    `twobowls.statistics.agreement.intraclass_correlations`.

    Examples
    --------
    >>> found = agreement({
    ...     "taster": ["Ada", "Bo", "Cy"] * 4,
    ...     "coffee": ["Brisa"] * 3 + ["Lluvia"] * 3 + ["Niebla"] * 3 + ["Oro"] * 3,
    ...     "mark": [20, 25, 31, 50, 42, 55, 61, 66, 58, 80, 71, 90],
    ... })
    >>> round(found.result.single_fixed.estimate, 2)
    0.93
    """
    asked = Asked(frame, merge)
    values = asked.numbers("mark", mark)
    tasters, coffees = asked.labels("taster", taster), asked.labels("coffee", coffee)
    rounds = asked.maybe_labels("round", round, dates=True)
    asked.one_of_each()
    rows = asked.keep({"mark": values}, {"taster": tasters, "coffee": coffees, "round": rounds})
    asked.spellings("taster", tasters.take(rows), coffees.take(rows).codes)
    asked.spellings("coffee", coffees.take(rows), tasters.take(rows).codes)
    table = coffee_table(
        texts(tasters, rows),
        texts(coffees, rows),
        values[rows],
        rounds=None if rounds is None else texts(rounds, rows),
    )
    for taster_at, coffee_at in np.argwhere(np.isnan(table.means))[:1].tolist():
        raise _gap(asked, table.tasters[taster_at], table.coffees[coffee_at])
    if min(table.means.shape) < 2:
        one = "coffee" if len(table.coffees) < 2 else "taster"
        raise InputError(asked.used[one], f"there is one {one} only", "Give two or more")
    with asked.naming(table="mark"):
        found = intraclass_correlations(table.means.T, level=level)
    return _told(found, asked, table.means.shape, level)


def _gap(asked: Asked, taster: str, coffee: str) -> InputError:
    """Say what is missing, and whether a second spelling may be the reason."""
    cure = "Leave that taster or that coffee out; twobowls.ratings bears gaps"
    for name in (taster, coffee):
        if name in asked.offers:
            other = asked.offers[name]
            cure = f"If {name!r} is {other!r}, add {CALL.merge(name, other)}"
    return InputError(asked.used["mark"], f"{taster!r} has no mark of {coffee!r}", cure)


def _told(
    found: IntraclassCorrelations, asked: Asked, shape: tuple[int, ...], level: float
) -> Result[IntraclassCorrelations]:
    forms = rows_table(
        "correlations",
        "Intraclass correlations",
        ("of", "form", *INTERVAL),
        [(name, form, *interval_cells(getattr(found, form))) for name, form in _FORMS],
        dict.fromkeys(INTERVAL, 2),
    )
    squares = rows_table(
        "mean_squares",
        "Mean squares",
        ("source", "mean_square"),
        [(each, getattr(found, each)) for each in ("coffees", "tasters", "within", "residual")],
    )
    one, all_of_them = found.single_random, found.mean_random
    section = Section(
        sentences=(
            f"Reliability of one taster's mark: {one.estimate:.2f} ({one.low:.2f} to "
            f"{one.high:.2f}).",
            f"Of the mean of all {shape[0]}: {all_of_them.estimate:.2f} ({all_of_them.low:.2f} "
            f"to {all_of_them.high:.2f}).",
        ),
        notes=(f"Tasters as a sample; {interval_words(level)}; p = {show(found.p_value, 'p')}.",),
        picture=intervals_picture(
            bars_of(forms.rows(), 1, 2, 3), "Intraclass correlation", neutral=0.0
        ),
        tables=(forms,),
        folded=(squares, asked.columns_table()),
    )
    return Result(
        title=f"Agreement: {count_of(shape[1], 'coffee')}, {count_of(shape[0], 'taster')}",
        result=found,
        sections=(section,),
        tables=(forms, squares, asked.columns_table()),
        cautions=(*asked.cautions, *found.cautions),
        backend=asked.frame.backend,
    )
