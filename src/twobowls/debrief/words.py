"""Which flavours the table agrees on: smoothed shares of each family, liked and disliked.

Each seat counts once for a family on a coffee, however many bowls, rounds or finer words it
used; finer words roll up to their family. Shares are of the seats that gave any word on that
coffee's bowls or marked them, smoothed towards how often the family is used on this table as
far as coffees are alike (`twobowls.statistics.word_shares.mention_shares`).
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from twobowls.debrief.tables import Evening
from twobowls.statistics.intervals import Interval
from twobowls.statistics.word_shares import mention_shares
from twobowls.tasting.lexicon import FAMILIES, word_name
from twobowls.tasting.records import Feeling, Mark, Word


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyShare:
    """How many seats found a family in a coffee.

    ``seats`` said so of ``of`` who could have; ``share`` is the posterior mean and
    ``interval`` its central interval; ``liked`` and ``disliked`` count seats. ``finer`` has the
    finer words with the number of seats that used each, the commonest first.
    """

    family: str
    name: str
    seats: int
    of: int
    share: float
    interval: tuple[float, float]
    liked: int
    disliked: int
    finer: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CoffeeWords:
    """The families found in one coffee, the commonest first."""

    coffee: str
    families: tuple[FamilyShare, ...]


def consensus(night: Evening, level: float = 0.90) -> tuple[CoffeeWords, ...]:
    """Return the words on each coffee, in the order of the bowls; families never used are left out.

    Parameters
    ----------
    night : Evening
        The tasting.
    level : float
        Probability of the intervals.
    """
    said = _said(night)
    able = _able(night, said)
    coffees = [each for each in dict.fromkeys(night.labels.values()) if able.get(each)]
    families = [each.key for each in FAMILIES if any(key == each.key for _, key, _ in said)]
    if not coffees or not families:
        return ()
    counts = Counter((coffee, family) for coffee, family, _ in said)
    shares = mention_shares(
        [[counts[coffee, family] for family in families] for coffee in coffees],
        [len(able[coffee]) for coffee in coffees],
        level=level,
    )
    found = []
    for coffee, row in zip(coffees, shares, strict=True):
        own = [
            _share(family, coffee, said, len(able[coffee]), share)
            for family, share in zip(families, row, strict=True)
            if counts[coffee, family]
        ]
        own.sort(key=lambda each: (-each.share, each.name))
        if own:
            found.append(CoffeeWords(coffee=coffee, families=tuple(own)))
    return tuple(found)


def standing_words(words: Iterable[Word]) -> tuple[Word, ...]:
    """Return the latest word of each seat, bowl, family and term, unless it was taken back."""
    latest: dict[tuple[str, str, str, str], Word] = {}
    for word in sorted(words, key=lambda each: each.at_ms):
        latest[word.seat, word.bowl, word.family, word.term] = word
    return tuple(each for each in latest.values() if each.feeling != "removed")


Said = dict[tuple[str, str, str], list[Word]]


def _said(night: Evening) -> Said:
    """Collect the standing words by coffee, family and seat."""
    known = {family.key for family in FAMILIES}
    said: Said = {}
    words = (each for each in night.records if isinstance(each, Word))
    for word in standing_words(words):
        if word.family in known and word.bowl in night.labels:
            said.setdefault((night.labels[word.bowl], word.family, word.seat), []).append(word)
    return said


def _able(night: Evening, said: Said) -> dict[str, set[str]]:
    """Return the seats that tasted each coffee: they marked it or gave it a word."""
    able: dict[str, set[str]] = {}
    for coffee, _, seat in said:
        able.setdefault(coffee, set()).add(seat)
    for record in night.records:
        if isinstance(record, Mark) and record.bowl in night.labels:
            able.setdefault(night.labels[record.bowl], set()).add(record.seat)
    return able


def _share(family: str, coffee: str, said: Said, able: int, share: Interval) -> FamilyShare:
    own = {seat: words for (of, key, seat), words in said.items() if (of, key) == (coffee, family)}
    feelings = [_feeling(words) for words in own.values()]
    return FamilyShare(
        family=family,
        name=word_name(family, ""),
        seats=len(own),
        of=able,
        share=share.estimate,
        interval=(share.low, share.high),
        liked=feelings.count("liked"),
        disliked=feelings.count("disliked"),
        finer=_finer(family, own.values()),
    )


def _feeling(words: list[Word]) -> Feeling:
    """Return what a seat feels about a family; liked and disliked together are neither."""
    felt = {word.feeling for word in words} - {"neutral"}
    return felt.pop() if len(felt) == 1 else "neutral"


def _finer(family: str, own: Iterable[list[Word]]) -> tuple[tuple[str, int], ...]:
    terms: Counter[str] = Counter()
    known = {term.key for each in FAMILIES if each.key == family for term in each.terms}
    for words in own:
        terms.update({word.term for word in words if word.term in known})
    ranked = sorted(terms.items(), key=lambda pair: (-pair[1], pair[0]))
    return tuple((word_name(family, term), count) for term, count in ranked)
