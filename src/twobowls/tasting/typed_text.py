"""Text that people type: which characters it may hold. Pure.

A control character is never meant: it comes from a terminal, a scanner or a spoilt file, nobody
can see it, and much of what draws or stores text breaks on it.
"""

import re

from twobowls.errors import InputError

# Controls but for the tab and line ends, those that turn the reading order of what follows, halves
# of surrogate pairs, and what is no character.
_UNSEEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069"
    "\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff]"
)


def cleaned(text: str) -> str:
    r"""Return a text without the characters that nobody can have meant.

    Parameters
    ----------
    text : str
        What somebody typed, or a file holds.

    Returns
    -------
    str
        The same text, if nothing in it is unseen.

    Examples
    --------
    >>> cleaned("Brisa\x0b No. 2\x00"), cleaned("two\nlines"), cleaned("🫖")
    ('Brisa No. 2', 'two\nlines', '🫖')
    """
    return _UNSEEN.sub("", text)


def drawable(text: str) -> str:
    r"""Return a text with a sign in the place of each character that no drawing can hold.

    For texts that were stored before such characters were refused, and for those of files.

    Parameters
    ----------
    text : str
        What somebody typed, or a file holds.

    Returns
    -------
    str
        The same text, if nothing in it is unseen.

    Examples
    --------
    >>> drawable("Brisa\x1b2")
    'Brisa�2'
    """
    return _UNSEEN.sub("\N{REPLACEMENT CHARACTER}", text)


def unseen_problem(field: str, text: str) -> InputError | None:
    r"""Return what is wrong with a text that holds a character which cannot be seen, or None.

    Parameters
    ----------
    field : str
        What the text is called where it was typed.
    text : str
        The text.

    Returns
    -------
    InputError or None
        Names the first such character and its place.

    Examples
    --------
    >>> unseen_problem("name", "Brisa\x0b").problem
    'it holds a character that cannot be seen (U+000B, at place 6)'
    """
    found = _UNSEEN.search(text)
    if found is None:
        return None
    return InputError(
        field,
        f"it holds a character that cannot be seen (U+{ord(found.group()):04X}, "
        f"at place {found.start() + 1})",
        "Delete it, or type the text again",
    )
