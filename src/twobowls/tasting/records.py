"""What a seat records: marks, picks, words and notes. Append-only; the latest counts.

All instants are the host's, in milliseconds since 1970-01-01 UTC; all values on the two
lines run from 0 to 100, and 50 is neutral on the liking line.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Feeling = Literal["liked", "disliked", "neutral", "removed"]
Question = Literal["more", "better"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One placing of a bowl's token on a sensation's pad.

    ``intensity`` and ``liking`` lie in [0, 100]; either may be None (not judged).
    ``since_pour_s`` is the time since that bowl was poured and ``temperature_c`` what the
    cooling model makes of it; both are None for a bowl with no clock (paper, imports).
    ``kept`` tells a mark that repeats the place of a former round ("still so") from a fresh
    one: it is an answer, and no new evidence.
    """

    id: str
    seat: str
    bowl: str
    sensation: str
    round: str
    intensity: float | None
    liking: float | None
    at_ms: int
    since_pour_s: float | None = None
    temperature_c: float | None = None
    kept: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Pick:
    """A paired judgement of two bowls: which has more, or which is liked better.

    ``answer`` is the code of the bowl picked, or ``"same"``.
    """

    id: str
    seat: str
    bowl_a: str
    bowl_b: str
    sensation: str
    round: str
    question: Question
    answer: str
    at_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """A flavour family, or a finer term of it, on a bowl.

    ``term`` is empty at family level. ``feeling`` is ``"removed"`` when the word was taken
    back; the latest record of a (seat, bowl, family, term) counts.
    """

    id: str
    seat: str
    bowl: str
    family: str
    term: str
    feeling: Feeling
    round: str
    at_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Free text on a bowl. A later note on the same bowl replaces the earlier one."""

    id: str
    seat: str
    bowl: str
    text: str
    round: str
    at_ms: int


Record = Mark | Pick | Word | Note


def latest_marks(marks: Iterable[Mark]) -> tuple[Mark, ...]:
    """Return the mark that counts for each (seat, bowl, sensation, round), oldest first.

    Parameters
    ----------
    marks : iterable of Mark
        All marks, in any order. Later ones win by ``at_ms``, those of the same instant by their
        order here.

    Returns
    -------
    tuple of Mark

    Examples
    --------
    >>> def mark(id: str, value: float, at_ms: int) -> Mark:
    ...     return Mark(id=id, seat="s", bowl="417", sensation="body", round="hot",
    ...                 intensity=value, liking=None, at_ms=at_ms)
    >>> [each.intensity for each in latest_marks([mark("b", 55.0, 9_000), mark("a", 40.0, 1_000)])]
    [55.0]
    """
    latest: dict[tuple[str, str, str, str], Mark] = {}
    for mark in sorted(marks, key=lambda each: each.at_ms):
        key = (mark.seat, mark.bowl, mark.sensation, mark.round)
        latest.pop(key, None)
        latest[key] = mark
    return tuple(latest.values())
