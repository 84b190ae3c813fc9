"""The words on each coffee as the debrief shows them."""

from collections.abc import Sequence
from dataclasses import dataclass

from twobowls.debrief.words import CoffeeWords, FamilyShare


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyView:
    """One family on one coffee. Bar ends are in per cent of its track."""

    name: str
    finer: str
    seats: str
    feeling: str
    share: float
    low: float
    high: float
    interval: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WordsView:
    """The families found in one coffee."""

    coffee: str
    families: tuple[FamilyView, ...]


def words_views(words: Sequence[CoffeeWords]) -> tuple[WordsView, ...]:
    """Write out the words on each coffee."""
    return tuple(
        WordsView(coffee=each.coffee, families=tuple(_family(share) for share in each.families))
        for each in words
    )


def _family(share: FamilyShare) -> FamilyView:
    low, high = share.interval
    finer = ", ".join(name if count == 1 else f"{name} ×{count}" for name, count in share.finer)
    return FamilyView(
        name=share.name,
        finer=finer,
        seats=f"{share.seats} of {share.of}",
        feeling=_feeling(share),
        share=round(100 * share.share, 1),
        low=round(100 * low, 1),
        high=round(100 * high, 1),
        interval=f"{100 * low:.0f} to {100 * high:.0f} %",
    )


def _feeling(share: FamilyShare) -> str:
    parts = []
    if share.liked:
        parts.append(f"liked by {share.liked}")
    if share.disliked:
        parts.append(f"disliked by {share.disliked}")
    return ", ".join(parts)
