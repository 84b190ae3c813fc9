"""The picks of a tasting: one row a pick ever made, safe to open in a spreadsheet."""

import csv
from dataclasses import astuple, fields
from io import StringIO

from twobowls.debrief.pick_counts import PickRow
from twobowls.interchange.marks_csv import cell

HEADER = tuple(each.name for each in fields(PickRow))


def picks_csv(rows: list[PickRow]) -> str:
    """Return the picks as CSV with a header.

    Examples
    --------
    >>> print(picks_csv([])[:36])
    seat,nickname,sensation,question,rou
    """
    out = StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEADER)
    writer.writerows([[cell(each) for each in astuple(row)] for row in rows])
    return out.getvalue()
