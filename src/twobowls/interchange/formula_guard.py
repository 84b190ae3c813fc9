"""Keeps spreadsheets from taking what people typed for a formula, and takes the guard off again.

A spreadsheet runs a cell that begins with one of a few signs. Where semicolons or tabs separate
its cells it also cuts ours there, and at line ends, whatever the quotation marks say; so a sign
after one of these is guarded too. The guard is an apostrophe, which spreadsheets do not show.
"""

import re

# The full-width twins are read as the plain signs in some languages.
_SIGNS = "=+\\-@\uff1d\uff0b\uff0d\uff20"
_BEGINS = re.compile(rf"(^|[;\t\r\n])([ \u00a0]*)('*)(?=[{_SIGNS}])")
_GUARDED = re.compile(rf"(^|[;\t\r\n])([ \u00a0]*)'('*)(?=[{_SIGNS}])")


def guarded(text: str) -> str:
    """Return a text with an apostrophe wherever a spreadsheet would see a formula begin.

    Examples
    --------
    >>> guarded("=1+1"), guarded("plum; =1+1"), guarded("-5 to 5"), guarded("plum - pear")
    ("'=1+1", "plum; '=1+1", "'-5 to 5", 'plum - pear')
    """
    return _BEGINS.sub(r"\1\2\3'", text)


def unguarded(text: str) -> str:
    """Take the apostrophes of `guarded` off; other apostrophes stay.

    Examples
    --------
    >>> unguarded("'=Oro"), unguarded("'t Hart"), unguarded("plum; '=1+1")
    ('=Oro', "'t Hart", 'plum; =1+1')
    """
    return _GUARDED.sub(r"\1\2\3", text)
