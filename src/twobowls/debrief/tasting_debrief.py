"""Everything that a tasting's debrief is made of, computed once from its records."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from twobowls.debrief.analysis import Analysis, Model, analyse
from twobowls.debrief.attempts import Attempts
from twobowls.debrief.changes import Changes, changes
from twobowls.debrief.findings import Findings, find
from twobowls.debrief.joined_picks import JoinedPicks, join_picks
from twobowls.debrief.liked_words import LikedWords, liked_words
from twobowls.debrief.marking import TableMarking, table_marking
from twobowls.debrief.model_checks import FitCheck, model_checks
from twobowls.debrief.pads import Pad, pads
from twobowls.debrief.pick_counts import PickPair, pick_pairs
from twobowls.debrief.rating_table import Factor, RatingTable
from twobowls.debrief.repeatability import Repeatability, repeatability
from twobowls.debrief.sour_bitter import SourBitter, sour_bitter
from twobowls.debrief.tables import Evening, rating_table
from twobowls.debrief.words import CoffeeWords, consensus


@dataclass(frozen=True, kw_only=True)
class TastingDebrief:
    """The parts of a debrief; ``pads`` and ``analysis`` are of the marks that count.

    What not every page shows is computed when it is first asked for. A part that fails is empty,
    and named in ``failed``.
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
    attempts: Attempts = field(default_factory=Attempts)

    @property
    def failed(self) -> Mapping[str, Exception]:
        """What went wrong so far, by the name of the part or of the fit."""
        return self.attempts.failed

    @cached_property
    def joined(self) -> tuple[JoinedPicks, ...]:
        """Marks and picks in one posterior, wherever a sensation has both."""
        return self.attempts.get(
            "joined", lambda: join_picks(self.night, self.table, self.analysis), ()
        )

    @cached_property
    def checks(self) -> tuple[FitCheck, ...]:
        """How far the marks follow the model, fit by fit."""
        return self.attempts.get("checks", lambda: model_checks(self.table, self.analysis), ())

    @cached_property
    def liked_words(self) -> LikedWords | None:
        """Which words go with liking; None where there are no words or no verdicts."""
        return self.attempts.get(
            "liked_words", lambda: liked_words(self.night, self.analysis.model.level), None
        )

    @cached_property
    def sour_bitter(self) -> dict[str, SourBitter]:
        """Who may mix up sour and bitter, by seat number; for their own eyes."""
        return self.attempts.get("sour_bitter", lambda: sour_bitter(self.table), {})

    @cached_property
    def marking(self) -> TableMarking | None:
        """How people mark, by seat number and for the table; None where too few tasted."""
        return self.attempts.get(
            "marking", lambda: table_marking(self.table, self.analysis, self.sour_bitter), None
        )


_NO_MARKS = RatingTable(taster=Factor.of(()), coffee=Factor.of(()))
NO_FINDINGS = Findings(headlines=(), all=(), open_questions=(), tallies=(), little=())


def debrief_of(night: Evening, model: Model | None = None) -> TastingDebrief:
    """Compute the debrief of a tasting.

    Parameters
    ----------
    night : Evening
        The tasting and its records.
    model : Model, optional
        Weak priors and 90 % intervals by default.
    """
    model, tried = model or Model(), Attempts()
    table = tried.get("analysis", lambda: rating_table(night), _NO_MARKS)
    analysis = tried.get("analysis", lambda: analyse(table, model), Analysis(fits=(), model=model))
    for each in analysis.skipped:
        if each.failure is not None:
            tried.failed[f"{each.sensation}-{each.scale}"] = each.failure
    return TastingDebrief(
        night=night,
        table=table,
        analysis=analysis,
        findings=tried.get("findings", lambda: find(analysis), NO_FINDINGS),
        pads=tried.get("pads", lambda: pads(analysis, table, tones=night.tones()), ()),
        repeatability=tried.get("repeatability", lambda: repeatability(table, model.level), ()),
        words=tried.get("words", lambda: consensus(night, model.level), ()),
        picks=tried.get("picks", lambda: pick_pairs(night, model.level), ()),
        changes=tried.get("changes", lambda: changes(night), Changes(rounds=(), settled=None)),
        attempts=tried,
    )
