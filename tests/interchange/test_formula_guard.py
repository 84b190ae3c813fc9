"""What a spreadsheet would run is guarded, and every text comes back as it was typed."""

import csv
from io import StringIO

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from twobowls.interchange.formula_guard import guarded, unguarded

RISKY = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")
_TEXTS = st.text(st.sampled_from([*RISKY, "'", ";", ",", "\t", "\n", "\r", " ", '"', "a", "1"]))


@given(_TEXTS)
@example("'=1")
@example("; ''=x")
def test_every_text_comes_back(text: str) -> None:
    assert unguarded(guarded(text)) == text


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@given(text=_TEXTS)
@example(text="x;=cmd()")
@example(text='x";=cmd()')
@example(text="\uff1dcmd()")
@example(text="x\n=cmd()")
def test_no_cell_begins_a_formula_whatever_a_spreadsheet_separates_by(
    delimiter: str, text: str
) -> None:
    out = StringIO()
    csv.writer(out, lineterminator="\r\n").writerow(["seat", guarded(text), "end"])
    if delimiter == ",":
        cells = next(csv.reader(StringIO(out.getvalue(), newline="")))
    else:  # our quotation marks do not stand at the beginning of its cells, and hold nothing
        lines = out.getvalue().replace("\r", "\n").split("\n")
        cells = [cell for line in lines for cell in line.split(delimiter)]
    assert not any(cell.lstrip(" ").startswith(RISKY) for cell in cells)


def test_an_apostrophe_of_the_typists_own_stays() -> None:
    assert unguarded("'t Hart") == guarded("'t Hart") == "'t Hart"
