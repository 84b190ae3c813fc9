"""Which flavours go with liking: how much better coffees are liked where a family was said.

A person and coffee is one observation: liking is the mean of their verdicts on its bowls, and a
family was said or not, however often. Goes with, not causes; the coffees' own merits and the
people's levels are set aside as in `twobowls.statistics.word_lift`.
"""

from collections.abc import Collection
from dataclasses import dataclass

from twobowls.counting import count_of
from twobowls.debrief.evidence import Evidence, evidence, expected_false
from twobowls.debrief.findings import VERDICT, few
from twobowls.debrief.phrases import joined, points
from twobowls.debrief.tables import Evening
from twobowls.debrief.words import standing_words
from twobowls.statistics.intervals import Interval
from twobowls.statistics.shared_lift import SharedLift, shared_lift
from twobowls.tasting.lexicon import FAMILIES, word_name
from twobowls.tasting.records import Word

# What only two people could show would tell each about the other.
LEAST_TASTERS = 3
# A word needs so many who said it, and so many who did not: rules of thumb. By three a side the
# interval of one word alone is some 30 points wide.
LEAST_SAID = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyLift:
    """How liking goes with one family.

    ``said`` of ``of`` times that somebody liked a coffee more or less, they said the family of
    it. ``lift`` (points of 100) and ``probability`` (that it is above 0) are held down by all
    other families looked at; ``same_coffee`` compares people on the same coffee alone, by
    itself, and is None where that cannot be.
    """

    family: str
    name: str
    said: int
    of: int
    lift: Interval
    probability: float
    same_coffee: Interval | None

    @property
    def evidence(self) -> Evidence:
        """The word for how sure the direction is."""
        return evidence(self.probability)


@dataclass(frozen=True, slots=True, kw_only=True)
class LikedWords:
    """Which families go with liking, the surest first; none where too little was said.

    ``tasters`` and ``coffees`` are those with a verdict; ``too_few`` names the families that
    were said or left out too seldom to look at.
    """

    families: tuple[FamilyLift, ...]
    too_few: tuple[str, ...]
    tasters: int
    coffees: int

    @property
    def told(self) -> tuple[FamilyLift, ...]:
        """The families of which something can be told."""
        return tuple(each for each in self.families if each.evidence != "cannot tell")

    @property
    def expected_false(self) -> float:
        """How many of those are expected to go the other way, or nowhere."""
        return expected_false(max(each.probability, 1 - each.probability) for each in self.told)


def liked_words(night: Evening, level: float = 0.90) -> LikedWords | None:
    """Return which families go with liking; None where nobody said one or gave a verdict.

    Parameters
    ----------
    night : Evening
        The tasting.
    level : float
        Probability of the intervals.
    """
    liking = _liking(night)
    said = _said(night, liking)
    if not liking or not any(said.values()):
        return None
    who, what = (tuple(each) for each in zip(*liking, strict=True))
    counts = {key: len(cells) for key, cells in said.items() if cells}
    enough = len(set(who)) >= LEAST_TASTERS and len(set(what)) > 1
    kept = [
        key
        for key, count in counts.items()
        if enough and LEAST_SAID <= count <= len(liking) - LEAST_SAID
    ]
    table = [[cell in said[key] for key in kept] for cell in liking]
    lifts = shared_lift(who, what, list(liking.values()), table, kept, level=level) if kept else ()
    families = [_family(each) for each in lifts if each.lift is not None]
    shown = {each.family for each in families}
    return LikedWords(
        families=tuple(sorted(families, key=_order)),
        too_few=tuple(word_name(key, "") for key in counts if key not in shown),
        tasters=len(set(who)),
        coffees=len(set(what)),
    )


_Cell = tuple[str, str]


def _liking(night: Evening) -> dict[_Cell, float]:
    """Return how much each seat likes each coffee: the mean of its verdicts on the bowls."""
    verdicts: dict[_Cell, list[float]] = {}
    for mark in night.marks():
        if mark.sensation == VERDICT and mark.liking is not None and mark.bowl in night.labels:
            verdicts.setdefault((mark.seat, night.labels[mark.bowl]), []).append(mark.liking)
    return {cell: sum(values) / len(values) for cell, values in sorted(verdicts.items())}


def _said(night: Evening, liking: dict[_Cell, float]) -> dict[str, set[_Cell]]:
    """Return who said which family of which coffee, where liking is known."""
    said: dict[str, set[_Cell]] = {each.key: set() for each in FAMILIES}
    for word in standing_words(each for each in night.records if isinstance(each, Word)):
        cell = (word.seat, night.labels.get(word.bowl, ""))
        if word.family in said and cell in liking:
            said[word.family].add(cell)
    return said


def _family(found: SharedLift) -> FamilyLift:
    assert found.lift is not None
    assert found.probability is not None
    return FamilyLift(
        family=found.word,
        name=word_name(found.word, ""),
        said=found.alone.said,
        of=found.alone.marks,
        lift=found.lift,
        probability=found.probability,
        same_coffee=found.alone.same_coffee,
    )


def _order(each: FamilyLift) -> tuple[float, str]:
    return (-max(each.probability, 1 - each.probability), each.name)


def liking_sentences(found: LikedWords) -> tuple[str, ...]:
    """Say which families go with liking, and of which it is not clear.

    Examples
    --------
    >>> lift = Interval(9.4, 3.2, 15.9, 0.9)
    >>> fruity = FamilyLift(
    ...     family="fruity", name="Fruity", said=7, of=15, lift=lift, probability=0.97,
    ...     same_coffee=None,
    ... )
    >>> for each in liking_sentences(
    ...     LikedWords(families=(fruity,), too_few=("Spice",), tasters=5, coffees=3)
    ... ):
    ...     print(each)
    Where people said “Fruity”, they liked the coffee about 9 points better (3 to 16): likely.
    “Spice” was said, or left out, too seldom to look at.
    """
    if not found.families:
        return (_nothing_to_look_at(found),)
    said = [family_sentence(each) for each in found.told]
    unclear = [_quoted(each.name) for each in found.families if each.evidence == "cannot tell"]
    if unclear:
        where = f"Where people said {joined(unclear, 'or')}"
        said.append(f"{where}, it is not clear whether they liked the coffee better or less.")
    if found.too_few:
        were = "was" if len(found.too_few) == 1 else "were"
        names = joined([_quoted(each) for each in found.too_few])
        said.append(f"{names} {were} said, or left out, too seldom to look at.")
    return tuple(said)


def _quoted(name: str) -> str:
    return f"“{name}”"


def family_sentence(each: FamilyLift) -> str:
    """Say how liking goes with one family of which something can be told."""
    size = points(abs(each.lift.estimate))
    about = "" if size.startswith("under") else "about "
    way = "better" if each.lift.estimate > 0 else "less"
    return (
        f"Where people said {_quoted(each.name)}, they liked the coffee {about}{size} {way} "
        f"({_span(each.lift)}): {each.evidence}."
    )


def _span(lift: Interval) -> str:
    """Write an interval in the direction of its estimate; one that holds 0 says both ways."""
    ways = ("better", "less") if lift.estimate > 0 else ("less", "better")
    near, far = sorted((lift.low, lift.high), key=lambda end: end * lift.estimate)
    if round(near) * lift.estimate < 0:
        return f"from {abs(near):.0f} {ways[1]} to {abs(far):.0f} {ways[0]}"
    return f"{abs(near):.0f} to {abs(far):.0f}"


def _nothing_to_look_at(found: LikedWords) -> str:
    reason = _reason(found.tasters, found.coffees)
    return f"Whether any of these words goes with liking cannot be told: {reason}."


def _reason(tasters: int, coffees: int) -> str:
    if tasters < LEAST_TASTERS:
        people = count_of(tasters, "person", "people")
        return f"it takes verdicts of {LEAST_TASTERS} people, and there are those of {people}"
    if coffees < 2:
        return "it takes two coffees"
    return f"it takes a word that was said {LEAST_SAID} times and left out {LEAST_SAID} times"


def liking_tally(found: LikedWords) -> str:
    """Say how many families were looked at, and what the claims may cost; empty without any."""
    if not found.told:
        return ""
    looked = count_of(len(found.families), "kind of flavour was", "kinds of flavour were")
    told = count_of(len(found.told), "statement")
    return f"{looked} looked at, {told} made: {few(found.expected_false)} expected to be wrong."


def own_liking(found: LikedWords | None, families: Collection[str]) -> tuple[str, ...]:
    """Say for one person's families how they go with liking on the table; see `LikedWords`."""
    if found is None or not families:
        return ()
    told = [each for each in found.told if each.family in families]
    if told:
        return tuple(
            f"Over the whole table: {family_sentence(each).replace('W', 'w', 1)}" for each in told
        )
    return ("Whether your words go with liking is not clear from this table.",)
