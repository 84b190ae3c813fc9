"""Which flavours the table agrees on: smoothed shares of each family, liked and disliked.

Each seat counts once for a family on a coffee, however many bowls, rounds or finer words it
used; finer words roll up to their family. Shares are of the seats that gave any word on that
coffee's bowls or marked them, smoothed towards how often the family is used on this table.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from twobowls.debrief.tables import Evening
from twobowls.tasting.lexicon import FAMILIES, word_name
from twobowls.tasting.records import Feeling, Mark, Word

# The common share of a family is held as if this many seats had shown it.
PRIOR_SEATS = 2.0


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

    Notes
    -----
    The number of seats that name a family is binomial; its share has a beta prior with mean m
    and weight 2 (the margins of a Dirichlet-multinomial), where m is the family's share over
    all coffees, itself drawn to one in thirteen families.
    """
    said = _said(night)
    able = _able(night, said)
    coffees = [each for each in dict.fromkeys(night.labels.values()) if able.get(each)]
    common = _common(said, able)
    found = []
    for coffee in coffees:
        shares = [
            _share(family.key, coffee, said, able[coffee], common[family.key], level)
            for family in FAMILIES
            if any(key[:2] == (coffee, family.key) for key in said)
        ]
        shares.sort(key=lambda each: (-each.share, each.name))
        if shares:
            found.append(CoffeeWords(coffee=coffee, families=tuple(shares)))
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


def _common(said: Said, able: dict[str, set[str]]) -> dict[str, float]:
    """Return how often each family is used over all coffees."""
    total = sum(len(seats) for seats in able.values())
    uses = Counter(family for _, family, _ in said)
    start = 1 / len(FAMILIES)
    return {
        family.key: (uses[family.key] + PRIOR_SEATS * start) / (total + PRIOR_SEATS)
        for family in FAMILIES
    }


def _share(
    family: str, coffee: str, said: Said, able: set[str], common: float, level: float
) -> FamilyShare:
    from scipy.special import betaincinv

    own = {seat: words for (of, key, seat), words in said.items() if (of, key) == (coffee, family)}
    feelings = [_feeling(words) for words in own.values()]
    a = len(own) + PRIOR_SEATS * common
    b = len(able) - len(own) + PRIOR_SEATS * (1 - common)
    tail = (1 - level) / 2
    return FamilyShare(
        family=family,
        name=word_name(family, ""),
        seats=len(own),
        of=len(able),
        share=a / (a + b),
        interval=(float(betaincinv(a, b, tail)), float(betaincinv(a, b, 1 - tail))),
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
