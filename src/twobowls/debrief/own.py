"""One person's tasting against the table's: their marks, their steadiness, their words.

Holds nothing of any other single person; what is said of the table is its means and counts.
"""

from dataclasses import dataclass

from twobowls.debrief.liked_words import own_liking
from twobowls.debrief.marking import OwnMarking
from twobowls.debrief.pads import Pad, own_places, with_own
from twobowls.debrief.phrases import chance, points, title
from twobowls.debrief.rating_table import Scale
from twobowls.debrief.repeatability import Gap
from twobowls.debrief.sour_bitter import SourBitter
from twobowls.debrief.tasting_debrief import TastingDebrief
from twobowls.debrief.words import standing_words
from twobowls.tasting.lexicon import FAMILIES, word_name
from twobowls.tasting.records import Note, Word
from twobowls.tasting.tasting import Seat

VERDICT = "verdict"
MOST_DIFFERENCES = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnMark:
    """Where one person and the table put a coffee, in points of 100."""

    sensation: str
    coffee: str
    scale: Scale
    own: float
    table: float

    @property
    def difference(self) -> float:
        """Own minus table."""
        return self.own - self.table


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnGap:
    """One person's distance between two bowls of one coffee beside the table's."""

    scale: Scale
    own: Gap
    table: Gap


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnWord:
    """A word one person gave, and how many of how many at the table used its family."""

    coffee: str
    word: str
    seats: int
    of: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnDebrief:
    """What one seat is shown.

    ``differences`` are the marks farthest from the table's, ``liking`` says of this person's
    words how they go with liking at the table.
    """

    pads: tuple[Pad, ...]
    marks: tuple[OwnMark, ...]
    differences: tuple[OwnMark, ...]
    gaps: tuple[OwnGap, ...]
    favourites: tuple[str, ...]
    table_favourite: str
    words: tuple[OwnWord, ...]
    liking: tuple[str, ...]
    notes: tuple[tuple[str, str], ...]
    sour_bitter: SourBitter | None = None
    marking: OwnMarking | None = None


def own_debrief(debrief: TastingDebrief, seat: Seat) -> OwnDebrief:
    """Return the debrief of one seat.

    Parameters
    ----------
    debrief : TastingDebrief
        The table's.
    seat : Seat
        Whose it is.
    """
    get, number = debrief.attempts.get, str(seat.number)
    places = get("own pads", lambda: own_places(debrief.table, number), {})
    marks = get("own pads", lambda: _marks(debrief, places), ())
    gaps = get("own gaps", lambda: _gaps(debrief, seat), ())
    drawn = tuple(with_own(pad, places.get(pad.sensation, {})) for pad in debrief.pads)
    families = get("own words", lambda: _families(debrief, seat), set[str]())
    return OwnDebrief(
        pads=drawn,
        marks=marks,
        differences=_differences(marks, gaps),
        gaps=gaps,
        favourites=_favourites(marks),
        table_favourite=_table_favourite(debrief),
        words=get("own words", lambda: _words(debrief, seat), ()),
        liking=get("own words", lambda: own_liking(debrief.liked_words, families), ()),
        notes=_notes(debrief, seat),
        sour_bitter=debrief.sour_bitter.get(number),
        marking=debrief.marking.tasters.get(number) if debrief.marking else None,
    )


def _marks(
    debrief: TastingDebrief, places: dict[str, dict[str, tuple[float, float]]]
) -> tuple[OwnMark, ...]:
    found = []
    for pad in debrief.pads:
        mine = places.get(pad.sensation, {})
        for each in pad.coffees:
            for place, scale in enumerate(("intensity", "liking")):
                if each.coffee in mine:
                    found.append(
                        OwnMark(
                            sensation=pad.sensation,
                            coffee=each.coffee,
                            scale="intensity" if scale == "intensity" else "liking",
                            own=100 * mine[each.coffee][place],
                            table=100 * each.centre[place],
                        )
                    )
    return tuple(found)


def _gaps(debrief: TastingDebrief, seat: Seat) -> tuple[OwnGap, ...]:
    found = []
    for each in debrief.repeatability:
        own = each.tasters.get(str(seat.number))
        if own is not None and own.repeats:
            found.append(OwnGap(scale=each.scale, own=own, table=each.table))
    return tuple(found)


def _differences(marks: tuple[OwnMark, ...], gaps: tuple[OwnGap, ...]) -> tuple[OwnMark, ...]:
    """Return the largest distances to the table, if larger than one's own usual gap."""
    usual = {gap.scale: gap.own.typical for gap in gaps}
    far = [mark for mark in marks if abs(mark.difference) > usual.get(mark.scale, 12.0)]
    far.sort(key=lambda mark: -abs(mark.difference))
    return tuple(far[:MOST_DIFFERENCES])


def _favourites(marks: tuple[OwnMark, ...]) -> tuple[str, ...]:
    liked = {
        mark.coffee: mark.own
        for mark in marks
        if (mark.sensation, mark.scale) == (VERDICT, "liking")
    }
    if len(liked) < 2:
        return ()
    best = max(liked.values())
    return tuple(coffee for coffee, value in liked.items() if value == best)


def _table_favourite(debrief: TastingDebrief) -> str:
    fit = debrief.analysis.get(VERDICT, "liking")
    if fit is None or len(fit.fit.table.coffees) < 2:
        return ""
    return max(fit.fit.table.coffees, key=lambda each: each.estimate.mean).level


def _words(debrief: TastingDebrief, seat: Seat) -> tuple[OwnWord, ...]:
    night = debrief.night
    shares = {
        (words.coffee, share.family): share for words in debrief.words for share in words.families
    }
    known = {family.key: {term.key for term in family.terms} for family in FAMILIES}
    said: dict[tuple[str, str], OwnWord] = {}
    finer: set[tuple[str, str]] = set()  # families that a finer word says better
    mine = (each for each in night.records if isinstance(each, Word) and each.seat == seat.id)
    for word in standing_words(mine):
        coffee = night.labels.get(word.bowl, "")
        share = shares.get((coffee, word.family))
        if share is None:
            continue
        term = word.term if word.term in known[word.family] else ""
        name = word_name(word.family, term)
        said[coffee, name] = OwnWord(coffee=coffee, word=name, seats=share.seats, of=share.of)
        finer |= {(coffee, word_name(word.family, ""))} if term else set()
    return tuple(said[key] for key in sorted(said) if key not in finer)


def _families(debrief: TastingDebrief, seat: Seat) -> set[str]:
    """Return the families that one person found in any coffee."""
    mine = (
        each for each in debrief.night.records if isinstance(each, Word) and each.seat == seat.id
    )
    return {word.family for word in standing_words(mine)}


def _notes(debrief: TastingDebrief, seat: Seat) -> tuple[tuple[str, str], ...]:
    """Return the latest note on each bowl: (what the bowl is called, the text)."""
    night = debrief.night
    latest: dict[str, Note] = {}
    for each in sorted(
        (each for each in night.records if isinstance(each, Note) and each.seat == seat.id),
        key=lambda note: note.at_ms,
    ):
        latest[each.bowl] = each
    return tuple(
        (bowl_name(night.labels[code], code), note.text)
        for code, note in latest.items()
        if note.text.strip() and code in night.labels
    )


def bowl_name(label: str, code: str) -> str:
    """Name a bowl: its coffee and its code, or the code alone while the coffee is unknown.

    Examples
    --------
    >>> bowl_name("Oro", "417"), bowl_name("417", "417")
    ('Oro, bowl 417', 'Bowl 417')
    """
    return f"Bowl {code}" if label == code else f"{label}, bowl {code}"


def difference_sentence(mark: OwnMark) -> str:
    """Say how one mark differs from the table's, without saying who is right.

    Examples
    --------
    >>> difference_sentence(
    ...     OwnMark(sensation="acidity", coffee="Oro", scale="intensity", own=71, table=52)
    ... )
    'Acidity of Oro: stronger for you (71) than for the table (52).'
    """
    if mark.scale == "intensity":
        word = "stronger" if mark.difference > 0 else "weaker"
        said = f"{word} for you"
    else:
        said = "you liked it more" if mark.difference > 0 else "you liked it less"
    what = mark.coffee if mark.sensation == VERDICT else f"{title(mark.sensation)} of {mark.coffee}"
    if mark.scale == "intensity":
        return f"{what}: {said} ({mark.own:.0f}) than for the table ({mark.table:.0f})."
    return f"{what}: {said} ({mark.own:.0f}) than the table did ({mark.table:.0f})."


def gap_sentence(gap: OwnGap) -> str:
    """Say kindly how steady one person was beside the table.

    Examples
    --------
    >>> own = Gap(typical=8, interval=(5, 13), repeats=7)
    >>> table = Gap(typical=10, interval=(8, 12), repeats=35)
    >>> gap_sentence(OwnGap(scale="liking", own=own, table=table))[:58]
    'In liking, you put two bowls of the same coffee about 8 po'
    """
    what = "strength" if gap.scale == "intensity" else "liking"
    low, high = gap.own.interval
    said = (
        f"In {what}, you put two bowls of the same coffee about {points(gap.own.typical)} apart "
        f"({low:.0f} to {high:.0f}); for this table it is about {gap.table.typical:.0f}."
    )
    if high < gap.table.typical:
        return f"{said} You were steadier than most."
    if low > gap.table.typical:
        return f"{said} Everybody wanders on a first evening; a second sip and a quiet corner help."
    return f"{said} That is what can be expected here."


def sour_bitter_sentence(hint: SourBitter) -> str:
    """Say kindly that two words may have changed places, and how to find out.

    Examples
    --------
    >>> sour_bitter_sentence(SourBitter(word="bitterness", chance=0.93))[:61]
    'What you marked as bitterness goes with what the table calls '
    """
    other = "acidity" if hint.word == "bitterness" else "bitterness"
    return (
        f"What you marked as {hint.word} goes with what the table calls {other} "
        f"({chance(hint.chance)} likely). That is no matter of the tongue: many people use the "
        "two words the other way round. To try: lemon in water is sour and makes the mouth water "
        "at once; cocoa powder is bitter and stays at the back."
    )
