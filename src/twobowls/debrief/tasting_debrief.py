"""Everything that a tasting's debrief is made of, computed once from its records."""

from dataclasses import dataclass

from twobowls.debrief.analysis import Analysis, Model, analyse
from twobowls.debrief.changes import Changes, changes
from twobowls.debrief.findings import Findings, find
from twobowls.debrief.pads import Pad, pads
from twobowls.debrief.pick_counts import PickPair, pick_pairs
from twobowls.debrief.rating_table import RatingTable
from twobowls.debrief.repeatability import Repeatability, repeatability
from twobowls.debrief.tables import Evening, rating_table
from twobowls.debrief.words import CoffeeWords, consensus


@dataclass(frozen=True, slots=True, kw_only=True)
class TastingDebrief:
    """The parts of a debrief; ``pads`` and ``analysis`` are of the marks that count."""

    night: Evening
    table: RatingTable
    analysis: Analysis
    findings: Findings
    pads: tuple[Pad, ...]
    repeatability: tuple[Repeatability, ...]
    words: tuple[CoffeeWords, ...]
    picks: tuple[PickPair, ...]
    changes: Changes


def debrief_of(night: Evening, model: Model | None = None) -> TastingDebrief:
    """Compute the debrief of a tasting.

    Parameters
    ----------
    night : Evening
        The tasting and its records.
    model : Model, optional
        Weak priors and 90 % intervals by default.
    """
    model = model or Model()
    table = rating_table(night)
    analysis = analyse(table, model)
    return TastingDebrief(
        night=night,
        table=table,
        analysis=analysis,
        findings=find(analysis),
        pads=pads(analysis, table),
        repeatability=repeatability(table, model.level),
        words=consensus(night, model.level),
        picks=pick_pairs(night, model.level),
        changes=changes(night),
    )
