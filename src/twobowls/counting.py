"""How a count or a span stands in a sentence: "1 mark is", "4:00". Knows nothing else."""

from math import floor


def count_of(count: int, one: str, many: str = "") -> str:
    """Write a count with its noun.

    Parameters
    ----------
    count : int
        How many.
    one, many : str
        The noun for one, and for several where that is not ``one`` with an s.

    Examples
    --------
    >>> count_of(1, "pick"), count_of(4, "person", "people"), count_of(0, "mark")
    ('1 pick', '4 people', 'no marks')
    """
    said = f"{count:,}" if count else "no"
    return f"{said} {one if count == 1 else many or one + 's'}"


def counts_are(count: int, one: str, many: str = "") -> str:
    """Write a count with its noun and "is" or "are"; none is a number here.

    Examples
    --------
    >>> counts_are(1, "taster"), counts_are(1200, "mark"), counts_are(0, "entry", "entries")
    ('1 taster is', '1,200 marks are', '0 entries are')
    """
    return f"1 {one} is" if count == 1 else f"{count:,} {many or one + 's'} are"


def entries_for(entries: int, count: int, what: str) -> str:
    """Say that a column is not as long as it should be.

    Examples
    --------
    >>> entries_for(1, 12, "mark")
    '1 entry for 12 marks'
    """
    return f"{count_of(entries, 'entry', 'entries')} for {count_of(count, what)}"


def minutes(seconds: float) -> str:
    """Write a span as minutes and seconds, to the nearest second.

    Examples
    --------
    >>> minutes(240), minutes(9.6), minutes(479.9999999), minutes(3725)
    ('4:00', '0:10', '8:00', '62:05')
    """
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def times_in(amount: float, part: float) -> int:
    """Count how often a part goes into an amount; 27 times 40.3 in 1088.1, for all its digits.

    Examples
    --------
    >>> times_in(1088.1, 40.3), int(1088.1 // 40.3), times_in(700, 200)
    (27, 26, 3)
    """
    return floor(amount / part + 1e-9)
