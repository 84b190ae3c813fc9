"""How far the marks follow the model, as the debrief shows it. Names nobody."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from twobowls.debrief.model_checks import FitCheck, check_sentences
from twobowls.debrief.phrases import level_name, number
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
        "Usual slip",
        "Further off than 19 in 20",
        "Like a slip of the finger",
        "At an end",
    )
    return Table(caption="The checks", header=header, rows=rows)
