"""The words on each coffee as the debrief shows them."""

from collections.abc import Sequence
from dataclasses import dataclass

from twobowls.debrief.liked_words import LikedWords, liking_sentences, liking_tally
from twobowls.debrief.phrases import chance, signed, span
from twobowls.debrief.words import CoffeeWords, FamilyShare
from twobowls.web.debrief_tables import Row, Table


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


@dataclass(frozen=True, slots=True, kw_only=True)
class LikedWordsView:
    """Which words go with liking, in sentences; ``table`` is None where none was looked at."""

    sentences: tuple[str, ...]
    tally: str
    table: Table | None


def liked_words_view(found: LikedWords | None) -> LikedWordsView | None:
    """Write out which words go with liking; None where there are no words or no verdicts."""
    if found is None:
        return None
    rows = tuple(
        Row(
            cells=(
                each.name,
                f"{each.said} of {each.of}",
                signed(each.lift.estimate, 0),
                span((each.lift.low, each.lift.high), 0),
                chance(max(each.probability, 1 - each.probability)),
                each.evidence,
            )
        )
        for each in found.families
    )
    header = ("Word", "Said", "Liked more by", "interval", "chance", "In a word")
    table = Table(caption="Liking where the word was said", header=header, rows=rows)
    return LikedWordsView(
        sentences=liking_sentences(found),
        tally=liking_tally(found),
        table=table if rows else None,
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
