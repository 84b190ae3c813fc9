"""The tidy export of a tasting: one row a mark ever made, safe to open in a spreadsheet."""

import csv
from dataclasses import astuple, fields
from io import StringIO

from twobowls.debrief.tables import MarkRow
from twobowls.interchange.formula_guard import guarded

HEADER = tuple(each.name for each in fields(MarkRow))


def marks_csv(rows: list[MarkRow]) -> str:
    """Return the marks as CSV with a header.

    Texts that a spreadsheet would take for a formula get an apostrophe in front; numbers are
    written in full, so that reading them back gives the same numbers.

    Examples
    --------
    >>> print(marks_csv([])[:30])
    seat,nickname,coffee,bowl,flig
    """
    out = StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEADER)
    writer.writerows([[cell(each) for each in astuple(row)] for row in rows])
    return out.getvalue()


def cell(value: object) -> object:
    """Return a value as it is written: nothing for None, no text that begins a formula.

    Examples
    --------
    >>> cell("=1+1"), cell(None), cell(2.5)
    ("'=1+1", '', 2.5)
    """
    if value is None:
        return ""
    return guarded(value) if isinstance(value, str) else value
