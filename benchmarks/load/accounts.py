"""Holding what the server acknowledged against what the store has."""

from collections import Counter
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from typing import Generic, TypeVar

K = TypeVar("K", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Account(Generic[K]):
    """What came out: nothing may be lost, doubled or strange."""

    acknowledged: int
    found: int
    lost: tuple[K, ...]
    doubled: tuple[K, ...]
    strange: tuple[K, ...]

    @property
    def right(self) -> bool:
        """Whether every acknowledged mark is there exactly once, and nothing that nobody sent."""
        return not (self.lost or self.doubled or self.strange)

    def sentence(self) -> str:
        """Return the outcome in words."""
        return (
            f"{self.acknowledged:,} marks acknowledged, {self.found:,} in the store: "
            f"{len(self.lost)} lost, {len(self.doubled)} doubled, {len(self.strange)} never sent"
        )


def settle(acknowledged: Iterable[K], sent: Iterable[K], found: Iterable[K]) -> Account[K]:
    """Compare.

    Parameters
    ----------
    acknowledged : iterable
        What the server said it saved; one that it said twice counts once.
    sent : iterable
        Everything that was sent, acknowledged or not.
    found : iterable
        What the store has.

    Examples
    --------
    >>> settle("ab", "abc", "ac").lost, settle("ab", "abc", "abb").doubled
    (('b',), ('b',))
    """
    told, known, there = set(acknowledged), set(sent), Counter(found)
    return Account(
        acknowledged=len(told),
        found=there.total(),
        lost=tuple(each for each in told if each not in there),
        doubled=tuple(each for each, times in there.items() if times > 1),
        strange=tuple(each for each in there if each not in known),
    )
