"""Everything that a tasting's debrief is made of, computed once from its records."""

from dataclasses import dataclass
from functools import cached_property

from twobowls.debrief.analysis import Analysis, Model, analyse
from twobowls.debrief.changes import Changes, changes
from twobowls.debrief.findings import Findings, find
from twobowls.debrief.joined_picks import JoinedPicks, join_picks
from twobowls.debrief.liked_words import LikedWords, liked_words
from twobowls.debrief.marking import TableMarking, table_marking
from twobowls.debrief.model_checks import FitCheck, model_checks
from twobowls.debrief.pads import Pad, pads
from twobowls.debrief.pick_counts import PickPair, pick_pairs
from twobowls.debrief.rating_table import RatingTable
from twobowls.debrief.repeatability import Repeatability, repeatability
from twobowls.debrief.sour_bitter import SourBitter, sour_bitter
from twobowls.debrief.tables import Evening, rating_table
from twobowls.debrief.words import CoffeeWords, consensus


@dataclass(frozen=True, kw_only=True)
class TastingDebrief:
    """The parts of a debrief; ``pads`` and ``analysis`` are of the marks that count.

    What not every page shows is computed when it is first asked for.
    """

    night: Evening
    table: RatingTable
    analysis: Analysis
    findings: Findings
    pads: tuple[Pad, ...]
    repeatability: tuple[Repeatability, ...]
    words: tuple[CoffeeWords, ...]
    picks: tuple[PickPair, ...]
    changes: Changes

    @cached_property
    def joined(self) -> tuple[JoinedPicks, ...]:
        """Marks and picks in one posterior, wherever a sensation has both."""
        return join_picks(self.night, self.table, self.analysis)

    @cached_property
    def checks(self) -> tuple[FitCheck, ...]:
        """How far the marks follow the model, fit by fit."""
        return model_checks(self.table, self.analysis)

    @cached_property
    def liked_words(self) -> LikedWords | None:
        """Which words go with liking; None where there are no words or no verdicts."""
        return liked_words(self.night, self.analysis.model.level)

    @cached_property
    def sour_bitter(self) -> dict[str, SourBitter]:
        """Who may mix up sour and bitter, by seat number; for their own eyes."""
        return sour_bitter(self.table)

    @cached_property
    def marking(self) -> TableMarking | None:
        """How people mark, by seat number and for the table; None where too few tasted."""
        return table_marking(self.table, self.analysis, self.sour_bitter)


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
        pads=pads(analysis, table, tones=night.tones()),
        repeatability=repeatability(table, model.level),
        words=consensus(night, model.level),
        picks=pick_pairs(night, model.level),
        changes=changes(night),
    )
