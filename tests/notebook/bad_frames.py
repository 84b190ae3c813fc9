"""What a bad input does to a good frame, and what a call then says.

Rows are counted from 0, as frames count them.
"""

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest
from tests.notebook.calls import CALLS, Call

from twobowls import InputError

# What a bad input does to a good frame.
Spoil = Callable[[Call], Any]


def put(frame: pd.DataFrame, column: str, row: int, cell: object) -> pd.DataFrame:
    cells = list(frame[column])
    cells[row] = cell
    kind = object if isinstance(cell, str) or cell is None else None
    return frame.assign(**{column: pd.Series(cells, index=frame.index, dtype=kind)})


def fill(call: Call, cell: object) -> pd.DataFrame:
    return call.frame.assign(**{call.judged: [cell] * len(call.frame)})


def label(call: Call, cell: object) -> pd.DataFrame:
    return call.frame.assign(**{call.labels[0]: [cell] * len(call.frame)})


def mixed(call: Call) -> pd.DataFrame:
    first = call.labels[0]
    return put(put(call.frame, first, 1, "1"), first, 0, 1)


REFUSED: dict[str, tuple[Spoil, str]] = {
    "a list": (lambda _: [1, 2], "frame: a list cannot be read. Give a data frame"),
    "a file name": (
        lambda _: "marks.csv",
        "frame: 'marks.csv' is not a data frame. Read it first, as pandas.read_csv does",
    ),
    "an array": (lambda _: np.ones((3, 2)), "frame: a ndarray cannot be read. Give a data"),
    "no columns": (lambda _: pd.DataFrame(), "frame: it has no columns. Give a data frame"),
    "no rows": (lambda call: call.frame.iloc[:0], "frame: it has no rows. Add a row for each"),
    "no rows in a dict": (lambda _: {"taster": []}, "frame: it has no rows. Add a row"),
    "uneven lists": (
        lambda _: {"taster": ["Ana", "Ben"], "coffee": ["Oro"]},
        "coffee: it has 1 cell where another column has 2. Make all columns equally long",
    ),
    "one text for a column": (
        lambda _: {"taster": "Ana", "coffee": "Oro"},
        "taster: 'Ana' is not a list of cells. Give a data frame",
    ),
    "one number for a column": (
        lambda _: {"taster": 1},
        "taster: 1 is not a list of cells. Give a data frame",
    ),
    "numbers for names": (
        lambda _: pd.DataFrame([[1, 2]]),
        "frame: a column is called 0, which is not text. Give columns names of text",
    ),
    "one name twice": (
        lambda call: pd.concat([call.frame, call.frame], axis=1),
        "frame: columns have the same name",
    ),
    "strange names": (
        lambda call: call.frame.rename(columns=lambda name: f"x{len(name)}{name[0]}"),
        "no column looks like it among x",
    ),
}

JUDGED: dict[str, tuple[Spoil, dict[str, str]]] = {
    "text": (
        lambda call: fill(call, "tasty"),
        {
            "categories": "category: 'tasty' is not a number, so the order of the categories is",
            "picks": "row 0, answer: 'tasty' is neither 'Oro' nor 'Night Ferry'. Give one of",
            "ranks": "rank: it holds no numbers, but 'tasty'. Make it numbers first",
            "taster_skill": "mark: it holds no numbers, but 'tasty'. Make it numbers first",
            "agreement": "mark: it holds no numbers, but 'tasty'. Make it numbers first",
            "discrimination": "row 0, right: 'tasty' is neither true nor false. Give true or",
            "similarity": "row 0, right: 'tasty' is neither true nor false. Give true or",
            "threshold": "row 0, right: 'tasty' is neither true nor false. Give true or",
        },
    ),
    "digits as text": (
        lambda call: fill(call, "3"),
        {
            "ratings": "intensity: it holds no numbers, but '3'. Make it numbers first",
            "stretch": "intensity: it holds no numbers, but '3'. Make it numbers first",
            "categories": "category: every rating is '3'. Without a second category nothing can",
            "picks": "row 0, answer: '3' is neither 'Oro' nor 'Night Ferry'",
            "ranks": "rank: it holds no numbers, but '3'. Make it numbers first",
            "taster_skill": "mark: it holds no numbers, but '3'. Make it numbers first",
            "agreement": "mark: it holds no numbers, but '3'. Make it numbers first",
            "discrimination": "row 0, right: '3' is neither true nor false",
            "similarity": "row 0, right: '3' is neither true nor false",
            "threshold": "row 0, right: '3' is neither true nor false",
        },
    ),
    "one text among numbers": (
        lambda call: put(call.frame, call.judged, 1, "oops"),
        {
            "ratings": "row 1, intensity: 'oops' is not a number. Give a number, or leave the",
            "stretch": "row 1, intensity: 'oops' is not a number. Give a number, or leave the",
            "categories": "category: 'oops' is not a number, so the order of the categories",
            "picks": "row 1, answer: 'oops' is neither 'Brisa' nor 'Night Ferry'",
            "ranks": "row 1, rank: 'oops' is not a number. Give a number, or leave the cell",
            "taster_skill": "row 1, mark: 'oops' is not a number. Give a number, or leave",
            "agreement": "row 1, mark: 'oops' is not a number. Give a number, or leave",
            "discrimination": "row 1, right: 'oops' is neither true nor false",
            "similarity": "row 1, right: 'oops' is neither true nor false",
            "preference": "answer: 3 different answers (Oro, oops, Brisa). Keep the rows of one",
            "threshold": "row 1, right: 'oops' is neither true nor false",
        },
    ),
    "infinity": (
        lambda call: put(call.frame, call.judged, 1, float("inf")),
        {
            "ratings": "row 1, intensity: inf is not a finite number. Give a number, or leave",
            "stretch": "row 1, intensity: inf is not a finite number. Give a number, or leave",
            "categories": "row 1, category: inf is not a finite number. Give a number, or",
            "picks": "answer: inf is a number with decimals, not a name",
            "ranks": "row 1, rank: inf is not a finite number",
            "taster_skill": "row 1, mark: inf is not a finite number",
            "agreement": "row 1, mark: inf is not a finite number",
            "words": "word: inf is a number with decimals, not a name",
            "discrimination": "row 1, right: 'inf' is neither true nor false",
            "similarity": "row 1, right: 'inf' is neither true nor false",
            "preference": "answer: inf is a number with decimals, not a name",
            "threshold": "row 1, right: 'inf' is neither true nor false",
        },
    ),
    "dates": (
        lambda call: fill(call, pd.Timestamp("2026-01-01")),
        {
            "categories": "category: it holds dates, such as 2026-01-01",
            "picks": "answer: it holds dates, such as 2026-01-01",
            "ranks": "rank: it holds dates or times. Name a column of numbers",
            "taster_skill": "mark: it holds dates or times. Name a column of numbers",
            "agreement": "mark: it holds dates or times. Name a column of numbers",
            "words": "word: it holds dates, such as 2026-01-01",
            "discrimination": "row 0, right: '2026-01-01 00:00:00' is neither true nor false",
            "similarity": "row 0, right: '2026-01-01 00:00:00' is neither true nor false",
            "preference": "answer: it holds dates, such as 2026-01-01",
            "threshold": "row 0, right: '2026-01-01 00:00:00' is neither true nor false",
        },
    ),
    "true and false": (
        lambda call: fill(call, True),
        {
            "categories": "category: 'True' is not a number, so the order of the categories",
            "picks": "row 0, answer: 'True' is neither 'Oro' nor 'Night Ferry'",
            "ranks": "rank: it holds true and false. Name a column of numbers",
            "taster_skill": "mark: it holds true and false. Name a column of numbers",
            "agreement": "mark: it holds true and false. Name a column of numbers",
        },
    ),
    "categories without numbers": (
        lambda call: call.frame.assign(
            **{call.judged: call.frame[call.judged].astype(str).astype("category")}
        ),
        {
            "ratings": "intensity: it holds categories. Make them numbers if their distances",
            "stretch": "intensity: it holds categories. Make them numbers if their distances",
            "ranks": "rank: it holds categories. Make them numbers if their distances mean",
            "taster_skill": "mark: it holds categories. Make them numbers",
            "agreement": "mark: it holds categories. Make them numbers",
            "discrimination": "row 0, right: '1' is neither true nor false",
            "similarity": "row 0, right: '1' is neither true nor false",
            "threshold": "row 0, right: '0' is neither true nor false",
        },
    ),
    "nothing at all": (
        lambda call: fill(call, None),
        {
            "categories": "frame: no row can be used. Fill in category",
            "picks": "frame: no row can be used. Fill in answer",
            "ranks": "frame: no row can be used. Fill in rank",
            "taster_skill": "frame: no row can be used. Fill in mark",
            "agreement": "frame: no row can be used. Fill in mark",
            "words": "word: nobody said a word. Fill in the words",
            "discrimination": "frame: no row can be used. Fill in right",
            "similarity": "frame: no row can be used. Fill in right",
            "preference": "frame: no row can be used. Fill in answer",
            "threshold": "frame: no row can be used. Fill in strength and right",
        },
    ),
    "one value only": (
        lambda call: fill(call, call.frame[call.judged].iloc[0]),
        {
            "categories": "category: every rating is '5'. Without a second category nothing",
            "ranks": "rank: no taster told any two coffees apart. There is nothing to test",
            "agreement": "mark: no mark differs between coffees. There is nothing to compare",
        },
    ),
    "one row": (
        lambda call: call.frame.iloc[:1],
        {
            "stretch": "model: nothing could be fitted (marks: 1 taster and 1 coffee show no",
            "categories": "coffee: there is only 'Night Ferry'. Give two or more",
            "ranks": "coffee: there is one coffee only. Give two or more",
            "agreement": "coffee: there is one coffee only. Give two or more",
            "threshold": "strength: there is one strength only. Give two or more",
        },
    ),
}

LABELS: dict[str, tuple[Spoil, str]] = {
    "numbers with decimals": (
        lambda call: label(call, 1.5),
        "taster: 1.5 is a number with decimals, not a name. Name the column that has the",
    ),
    "lists": (lambda call: label(call, ["Ana"]), "taster: a list in a cell is no name. Name"),
    "dates": (
        lambda call: label(call, pd.Timestamp("2026-01-01")),
        "taster: it holds dates, such as 2026-01-01. Name the column that has the labels",
    ),
    "a number and a text alike": (
        mixed,
        "taster: it holds 1 as a number and '1' as text. Make the column all text or all",
    ),
    "true beside names": (
        lambda call: put(call.frame, call.labels[0], 0, "x").assign(
            **{call.labels[0]: [True, *call.frame[call.labels[0]].iloc[1:]]}
        ),
        "taster: it holds true or false beside other labels. Make the column all text",
    ),
}


def said_of(call: Call, frame: object, **more: Any) -> str:
    with pytest.raises(InputError) as caught:
        call(frame, **more)
    return str(caught.value)


def shown(call: Call, frame: object, **more: Any) -> Any:
    """Return a result that can also be shown, whatever is in it."""
    found = call(frame, **more)
    assert found._repr_html_()
    assert str(found)
    return found


every_call = pytest.mark.parametrize("call", CALLS, ids=lambda call: call.name)
