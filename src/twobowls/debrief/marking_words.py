"""How somebody marks, told kindly; and how the table does, told without names."""

from collections.abc import Sequence

from twobowls.debrief.evidence import Evidence, evidence
from twobowls.debrief.marking import OwnMarking, OwnSensation, TableMarking
from twobowls.debrief.phrases import joined, number
from twobowls.statistics.correlation import Correlation
from twobowls.statistics.intervals import Interval
from twobowls.statistics.ratings_results import Estimate

# A habit smaller than this, in points, is nothing that a hand would notice.
LEAST_OFFSET = 3.0
CLOSE = 0.5
_WORDS: tuple[Evidence, ...] = ("clear", "likely", "leaning")


def own_sentences(own: OwnMarking, swapped: bool = False) -> tuple[str, ...]:
    """Say how one person marks.

    Parameters
    ----------
    own : OwnMarking
        What their marks show.
    swapped : bool
        Whether sour and bitter may have changed places for them.
    """
    said = [
        _spread(own.spread) if own.spread else "",
        _offset(own.offset) if own.offset else "",
        _apart(own.sensations),
        _agreement(own.agreement, swapped) if own.agreement else "",
    ]
    return tuple(each for each in said if each)


def _spread(found: Estimate) -> str:
    low, high = found.interval
    if low <= 0:
        return ""  # their order of the coffees is not the table's: no width to compare
    said = (
        f"Along the lines of strength you spread the coffees about {_percent(found.mean)} as far "
        f"as the table does ({_percent(low)} to {_percent(high)})."
    )
    if high < 1:
        return f"{said} There is room towards both ends: what you notice will show more clearly."
    if low > 1:
        return f"{said} You use the line generously, so what you notice shows."
    return f"{said} That is much like the others."


def _offset(found: Interval) -> str:
    if found.low <= 0 <= found.high or abs(found.estimate) < LEAST_OFFSET:
        return ""
    side = "right" if found.estimate > 0 else "left"
    low, high = sorted((abs(found.low), abs(found.high)))
    return (
        f"You set your tokens about {abs(found.estimate):.0f} points further {side} than the "
        f"others ({low:.0f} to {high:.0f}). That is a habit of the hand; comparisons of coffees "
        "are free of it."
    )


def _apart(sensations: Sequence[OwnSensation]) -> str:
    """Say in which sensations the marks follow the coffees, the surest first."""
    known = [(each.sensation, each.apart) for each in sensations if each.apart is not None]
    if not known:
        return ""
    groups = [
        (word, [name for name, chance in known if chance >= 0.5 and evidence(chance) == word])
        for word in _WORDS
    ]
    found = [f"{joined(names)} ({word})" for word, names in groups if names]
    told = {name for _, names in groups for name in names}
    rest = [name for name, _ in known if name not in told]
    if not found:
        return (
            "From your marks alone we cannot tell yet whether they follow the coffees or chance. "
            "More bowls and rounds would tell; the table as a whole gains from them all the same."
        )
    said = f"Your marks tell the coffees apart in {joined(found)}."
    return f"{said} In {joined(rest)} it is too early to tell." if rest else said


def _agreement(found: Correlation, swapped: bool) -> str:
    low, high = found.interval.low, found.interval.high
    size = (
        f"{number(found.interval.estimate, 2)} ({number(low, 2)} to {number(high, 2)}), where 1 is "
        "the very same and 0 no relation"
    )
    aside = " Sour and bitter are left out of this." if swapped else ""
    if low > CLOSE:
        return f"In what is stronger you agree closely with the others: {size}.{aside}"
    if low > 0:
        return f"In what is stronger you agree with the others: {size}.{aside}"
    if high < 0:
        return (
            f"In what is stronger you and the others go different ways: {size}. Perhaps you mean "
            f"different things by the words; it is worth a talk.{aside}"
        )
    return (
        "Whether you and the others agree in what is stronger cannot be told from so few coffees: "
        f"{size}.{aside}"
    )


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def table_sentence(found: TableMarking) -> str:
    """Say how differently people at a table spread the coffees; empty where it is not known."""
    if found.spread is None:
        return ""
    low, high = found.spread.interval
    return (
        "People use the lines of strength differently: one in three spreads the coffees more than "
        f"{_percent(found.spread.mean)} ({_percent(low)} to {_percent(high)}) further, or less "
        "far, than the table does."
    )
