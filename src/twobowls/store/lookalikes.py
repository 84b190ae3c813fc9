"""When two names look the same, though they are spelt with other characters."""

import unicodedata
from functools import cache

# What fills no space or leaves an empty one, though Python calls most of it printable: Unicode's
# Default_Ignorable_Code_Point as far as it is no control, and the blanks of Braille and Hangul.
BLANKS = frozenset(
    "\u00ad\u034f\u115f\u1160\u17b4\u17b5\u180b\u180c\u180d\u180f\u2800\u3164\uffa0"
    + "".join(map(chr, range(0xFE00, 0xFE0F)))
    + "".join(map(chr, range(0xE0100, 0xE01F0)))
)
_EMOJI_STYLE = "\ufe0f"  # asks for a picture in place of a sign; a name may end in one


def looks(name: str) -> frozenset[str]:
    """Return what a name looks like: two names with one of these in common look the same.

    Each character is replaced by the one that it may be taken for, as the skeletons of Unicode
    Technical Standard 39 do; once with capitals as they are and once without, as a capital I
    looks like a small l and not like a small i.

    Parameters
    ----------
    name : str
        A nickname.

    Returns
    -------
    frozenset of str
        To be compared, not to be shown.

    Examples
    --------
    >>> [bool(looks("Paul") & looks(each)) for each in ("paul", "Раul", "PauI", "Paula")]
    [True, True, True, False]
    """
    return frozenset({_skeleton(name.casefold()), _skeleton(name).casefold(), name.casefold()})


def _skeleton(text: str) -> str:
    bare = unicodedata.normalize("NFKD", text.replace(_EMOJI_STYLE, ""))  # full width becomes plain
    return unicodedata.normalize("NFD", "".join(map(_prototype, bare)))


@cache
def _prototype(sign: str) -> str:
    """Return what stands for all characters that look like this one.

    The library lists, for each character, those it may be taken for: many for the one that
    stands for them all, and for the others that one alone.
    """
    from confusable_homoglyphs.confusables import confusables_data  # reads a large file

    like: list[str] = [each["c"] for each in confusables_data.get(sign, ())]
    if len(like) != 1:
        return sign
    (other,) = like
    return other if len(confusables_data.get(other, ())) > 1 else min(sign, other)
