"""How far the marks follow the model, and how the table marks, for the host. Names nobody."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from twobowls.debrief.marking import TableMarking
from twobowls.debrief.marking_words import table_sentence
from twobowls.debrief.model_checks import FitCheck, check_sentences
from twobowls.debrief.phrases import level_name, number, title
from twobowls.statistics.intervals import Interval
from twobowls.web.debrief_tables import Row, Table


@dataclass(frozen=True, slots=True, kw_only=True)
class ChecksView:
    """What the checks found in sentences, and fit by fit."""

    sentences: tuple[str, ...]
    table: Table


def checks_view(checks: Sequence[FitCheck], rounds: Mapping[str, str]) -> ChecksView | None:
    """Write out the checks; None where nothing was fitted."""
    if not checks:
        return None
    return ChecksView(sentences=check_sentences(checks, rounds), table=_table(checks))


def _table(checks: Sequence[FitCheck]) -> Table:
    rows = tuple(
        Row(
            cells=(
                level_name(each.sensation, each.scale),
                f"{each.marks:,}",
                number(each.slip, each.places),
                str(each.beyond),
                str(len(each.odd)),
                f"{100 * each.at_ends:.0f} %",
            )
        )
        for each in checks
    )
    header = (
        "Sensation",
        "Marks",
        "Usual error",
        "Far off",
        "Like a slip",
        "At an end",
    )
    return Table(caption="The checks", header=header, rows=rows)


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkingView:
    """How the people at a table mark, all together."""

    sentence: str
    table: Table


def marking_view(found: TableMarking | None) -> MarkingView | None:
    """Write out how a table marks; None where too few tasted."""
    if found is None:
        return None
    rows = tuple(
        Row(
            cells=(
                title(each.sensation),
                f"{each.apart} of {each.of}" if each.of else "",
                _share(each.one),
                _share(each.mean),
            )
        )
        for each in found.sensations
    )
    header = ("How strong", "Tell the coffees apart", "One person", "The table's mean")
    table = Table(caption="How far marks follow the coffees", header=header, rows=rows)
    return MarkingView(sentence=table_sentence(found), table=table)


def _share(found: Interval | None) -> str:
    """Write a share with its interval; less agreement than chance is none."""
    if found is None:
        return ""
    mean, low, high = (
        round(100 * max(each, 0.0)) for each in (found.estimate, found.low, found.high)
    )
    return f"{mean} % ({low} to {high})"
