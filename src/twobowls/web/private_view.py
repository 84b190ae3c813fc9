"""What one seat's private debrief shows, written out. Names no other person."""

from dataclasses import dataclass

from twobowls.debrief.marking_words import own_sentences
from twobowls.debrief.own import (
    OwnDebrief,
    OwnMark,
    difference_sentence,
    gap_sentence,
    sour_bitter_sentence,
)
from twobowls.debrief.phrases import joined, title
from twobowls.debrief.tasting_debrief import TastingDebrief
from twobowls.tasting.tasting import Seat
from twobowls.web.debrief_tables import Row, Table
from twobowls.web.debrief_view import Picture, pad_pictures


@dataclass(frozen=True, slots=True, kw_only=True)
class PrivateView:
    """The private page."""

    nickname: str
    tasting: str
    note: str
    favourite: str
    sour_bitter: str
    marking: tuple[str, ...]
    differences: tuple[str, ...]
    pads: tuple[Picture, ...]
    words: tuple[str, ...]
    liking: tuple[str, ...]
    notes: tuple[tuple[str, str], ...]
    marks: Table | None
    failed: tuple[str, ...] = ()


def private_view(debrief: TastingDebrief, seat: Seat, own: OwnDebrief) -> PrivateView:
    """Return the private debrief of a seat, whose ``own`` is what it is shown of itself."""
    revealed = debrief.night.revealed
    get = debrief.attempts.get
    drawn = get(
        "own pads",
        lambda: pad_pictures(own.pads, debrief.analysis, links=False) if own.marks else (),
        (),
    )
    marking = get("own marking", lambda: _marking(own), ())
    return PrivateView(
        nickname=seat.nickname,
        tasting=debrief.night.tasting.setup.name,
        note="" if revealed else _UNREVEALED,
        favourite=_favourite(own),
        sour_bitter=sour_bitter_sentence(own.sour_bitter) if own.sour_bitter else "",
        marking=marking,
        differences=tuple(difference_sentence(each) for each in own.differences),
        pads=drawn,
        words=tuple(
            f"{each.coffee}: {each.word} ({each.seats} of {each.of} found this kind of flavour)"
            for each in own.words
        ),
        liking=own.liking,
        notes=own.notes,
        marks=_marks(own.marks) if own.marks else None,
        failed=tuple(
            sentence
            for sentence, parts in _FAILED.items()
            if any(each in debrief.failed for each in parts)
        ),
    )


# What is said where something of this page could not be worked out, and the parts it is made of.
_FAILED = {
    "Where your marks lie beside the table's could not be worked out. Your marks are safe on the "
    "laptop. Please tell the host.": ("analysis", "pads", "own pads"),
    "How you mark could not be worked out. Your marks are safe on the laptop. Please tell the "
    "host.": ("marking", "sour_bitter", "repeatability", "own gaps", "own marking"),
    "What your words go with could not be worked out. Your words are safe on the laptop. Please "
    "tell the host.": ("words", "liked_words", "own words"),
}


_UNREVEALED = "The coffees are still secret: look again after the reveal, and the codes get names."


def _favourite(own: OwnDebrief) -> str:
    if not own.favourites or not own.table_favourite:
        return ""
    mine = joined(own.favourites)
    if own.favourites == (own.table_favourite,):
        return f"You liked {mine} best, and so did the table."
    if own.table_favourite in own.favourites:
        return f"You liked {mine} best, {own.table_favourite} among them, as did the table."
    return (
        f"You liked {mine} best; the table as a whole preferred {own.table_favourite}. "
        "Nobody is wrong about what they like."
    )


def _marking(own: OwnDebrief) -> tuple[str, ...]:
    """Say how this person marks: how steady first."""
    told = own_sentences(own.marking, own.sour_bitter is not None) if own.marking else ()
    return (*(gap_sentence(each) for each in own.gaps), *told)


def _marks(marks: tuple[OwnMark, ...]) -> Table:
    strong = {(each.sensation, each.coffee): each for each in marks if each.scale == "intensity"}
    liked = {(each.sensation, each.coffee): each for each in marks if each.scale == "liking"}
    rows = tuple(
        Row(
            cells=(
                title(key[0]),
                key[1],
                f"{strong[key].own:.0f}",
                f"{strong[key].table:.0f}",
                f"{liked[key].own:.0f}",
                f"{liked[key].table:.0f}",
            )
        )
        for key in strong
        if key in liked
    )
    header = ("Sensation", "Coffee", "Strength: you", "table", "Liking: you", "table")
    return Table(caption="Your marks beside the table's", header=header, rows=rows, texts=2)
