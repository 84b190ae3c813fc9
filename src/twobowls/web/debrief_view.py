"""What the debrief pages show, every sentence and number already written out."""

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from markupsafe import Markup

from twobowls.counting import count_of
from twobowls.debrief.analysis import Analysis, SensationFit
from twobowls.debrief.attempts import Attempts
from twobowls.debrief.charts import ranking_description, ranking_spec, trend_description, trend_spec
from twobowls.debrief.claims import NEUTRAL, Claim
from twobowls.debrief.evidence import SCALE_SENTENCE
from twobowls.debrief.findings import VERDICT, Finding, Findings
from twobowls.debrief.model_checks import FitCheck
from twobowls.debrief.pad_svg import pad_svg
from twobowls.debrief.pads import Pad, coffee_order, coffee_tones
from twobowls.debrief.phrases import chance, level_name, title
from twobowls.debrief.repeatability import Repeatability, repeat_sentence
from twobowls.debrief.tasting_debrief import NO_FINDINGS, TastingDebrief
from twobowls.interchange.chart_process import ChartError
from twobowls.interchange.chart_svg import chart_svg
from twobowls.web.debrief_checks import ChecksView, MarkingView, checks_view, marking_view
from twobowls.web.debrief_picks import PicksView, picks_view, with_picks_table
from twobowls.web.debrief_tables import (
    Numbers,
    Table,
    bowls_table,
    changes_table,
    numbers,
)
from twobowls.web.debrief_words import LikedWordsView, WordsView, liked_words_view, words_views
from twobowls.web.wording import day

log = logging.getLogger(__name__)

FAILED = (
    "This part could not be worked out. The marks are safe: the file “All marks” has every one of "
    "them. The terminal that runs twobowls shows what went wrong."
)
# The sections of the page, and what of a debrief each is made of.
SECTIONS: Mapping[str, tuple[str, ...]] = {
    "found": ("analysis", "findings"),
    "ranking": (),
    "pads": ("pads",),
    "rounds": ("changes",),
    "words": ("words", "liked_words"),
    "repeats": ("repeatability",),
    "picks": ("picks", "joined"),
    "numbers": (),
    "marking": ("marking", "sour_bitter"),
    "checks": ("checks",),
    "bowls": (),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Why:
    """One contrast behind a finding: a link to its row, and what it says in short."""

    href: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingView:
    """A finding with its evidence words and the contrasts behind it."""

    id: str
    text: str
    table: str
    people: str
    why: tuple[Why, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingGroup:
    """The findings on one sensation."""

    title: str
    findings: tuple[FindingView, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A drawing with its caption and the figures behind it."""

    id: str
    title: str
    svg: Markup
    caption: str
    numbers: tuple[Why, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DebriefView:
    """One debrief page, of a tasting or of a file; empty parts are not shown.

    ``failed`` says of each section, by its name, that it could not be worked out; empty where it
    could. ``failures`` are the errors behind that, for the log.
    """

    title: str
    facts: tuple[str, ...]
    note: str
    headlines: tuple[FindingView, ...]
    little: tuple[str, ...]
    groups: tuple[FindingGroup, ...]
    open_questions: tuple[FindingView, ...]
    tallies: tuple[str, ...]
    scale_sentence: str
    rankings: tuple[Picture, ...]
    verdict: Picture | None
    pads: tuple[Picture, ...]
    trends: tuple[Picture, ...]
    changes: Table | None
    settled: str
    words: tuple[WordsView, ...]
    liked_words: LikedWordsView | None
    repeats: tuple[str, ...]
    picks: PicksView | None
    cautions: tuple[str, ...]
    numbers: tuple[Numbers, ...]
    marking: MarkingView | None
    checks: ChecksView | None
    bowls: Table | None
    failed: Mapping[str, str] = field(default_factory=lambda: dict.fromkeys(SECTIONS, ""))
    failures: Mapping[str, Exception] = field(default_factory=dict)


def tasting_view(debrief: TastingDebrief) -> DebriefView:
    """Return the host's debrief of a tasting."""
    night, analysis, tried = debrief.night, debrief.analysis, Attempts()
    get = tried.get
    verdict = analysis.get(VERDICT, "liking")
    shown = [verdict] if verdict else []
    rounds = [(each.key, each.name) for each in night.tasting.setup.rounds]
    parts: dict[str, Any] = {
        **get("found", lambda: _found(debrief.findings, analysis), _found(NO_FINDINGS, analysis)),
        "rankings": get("ranking", lambda: _rankings(shown, night.tones()), ()),
        **get("pads", lambda: _pads(debrief.pads, analysis), _pads((), analysis)),
        "trends": get("rounds", lambda: _trends(analysis, rounds, night.tones()), ()),
        "changes": get("rounds", lambda: _changes(debrief), None),
        "settled": get("rounds", lambda: _settled(debrief), ""),
        "words": get("words", lambda: words_views(debrief.words), ()),
        "liked_words": get("words", lambda: liked_words_view(debrief.liked_words), None),
        "repeats": get("repeats", lambda: _repeats(debrief.repeatability), ()),
        "picks": get(
            "picks", lambda: picks_view(debrief.picks, debrief.joined, dict(rounds)), None
        ),
        "numbers": get("numbers", lambda: _numbers(debrief), ()),
        "marking": get("marking", lambda: marking_view(debrief.marking), None),
        "checks": get("checks", lambda: checks_view(debrief.checks, dict(rounds)), None),
        "bowls": get("bowls", lambda: bowls_table(night) if night.revealed else None, None),
    }
    return DebriefView(
        title=night.tasting.setup.name,
        facts=_facts(debrief),
        note=_note(debrief),
        cautions=_cautions(analysis),
        failed=_failed(debrief, tried),
        failures=tried.failed,
        **parts,
    )


def _failed(debrief: TastingDebrief, tried: Attempts) -> dict[str, str]:
    """Say of each section whether it, or what it is made of, could not be worked out."""
    return {
        section: FAILED
        if section in tried.failed or any(part in debrief.failed for part in made_of)
        else ""
        for section, made_of in SECTIONS.items()
    }


def file_view(
    name: str,
    facts: Sequence[str],
    analysis: Analysis,
    findings: Findings,
    drawn: Sequence[Pad],
    rounds: Sequence[str],
    repeats: Sequence[Repeatability],
    cautions: Sequence[str],
    checks: Sequence[FitCheck] = (),
) -> DebriefView:
    """Return the debrief of a ratings file."""
    paired = {fit.id for pad in drawn for fit in analysis.fits if fit.sensation == pad.sensation}
    verdict = analysis.get(VERDICT, "liking")
    shown = [fit for fit in analysis.fits if fit.id not in paired or fit is verdict]
    return DebriefView(
        title=name,
        facts=tuple(facts),
        note="",
        **_found(findings, analysis),
        rankings=_rankings(shown, coffee_tones(analysis)),
        **_pads(drawn, analysis),
        trends=_trends(analysis, [(each, each) for each in rounds], coffee_tones(analysis)),
        changes=None,
        settled="",
        words=(),
        liked_words=None,
        repeats=_repeats(repeats),
        picks=None,
        cautions=(*cautions, *_cautions(analysis)),
        numbers=tuple(numbers(fit, analysis.cautions) for fit in analysis.fits),
        marking=None,
        checks=checks_view(checks, {}),
        bowls=None,
    )


def _numbers(debrief: TastingDebrief) -> tuple[Numbers, ...]:
    """Return the figures of all fits, with the picks below those of the marks."""
    told = debrief.analysis.cautions
    joined = {each.id: each for each in debrief.joined}
    found = []
    for fit in debrief.analysis.fits:
        own = numbers(fit, told)
        if fit.id in joined:
            own = replace(own, tables=(*own.tables, with_picks_table(joined[fit.id], fit.places)))
        found.append(own)
    return tuple(found)


def _found(findings: Findings, analysis: Analysis) -> dict[str, Any]:
    """Return the fields that hold findings."""
    groups = [
        FindingGroup(
            title=title(sensation),
            findings=tuple(finding_view(each) for each in findings.of(sensation)),
        )
        for sensation in analysis.sensations
        if findings.of(sensation)
    ]
    return {
        "headlines": tuple(finding_view(each) for each in findings.headlines),
        "little": findings.little,
        "groups": tuple(groups),
        "open_questions": tuple(finding_view(each) for each in findings.open_questions),
        "tallies": tuple(each.text for each in findings.tallies),
        "scale_sentence": SCALE_SENTENCE,
    }


def finding_view(finding: Finding) -> FindingView:
    """Write out a finding."""
    return FindingView(
        id=finding.id,
        text=finding.text,
        table=finding.table,
        people=finding.people,
        why=tuple(Why(href=f"#{each.id}", text=_why(each, finding)) for each in finding.claims),
    )


def _why(claim: Claim, finding: Finding) -> str:
    """Say a claim as short as the sentence above it allows."""
    if claim.b == NEUTRAL:
        said = f"{claim.a} above neutral"
    elif claim.a == NEUTRAL:
        said = f"{claim.b} below neutral"
    elif all(each.a == claim.a for each in finding.claims):
        said = f"over {claim.b}"
    else:
        said = f"{claim.a} over {claim.b}"
    return f"{said}: {chance(claim.table.probability)}"


def pad_pictures(
    drawn: Sequence[Pad], analysis: Analysis, links: bool = True
) -> tuple[Picture, ...]:
    """Draw the pads; ``links`` lead to the figures, where they are on the same page."""
    pictures = []
    for pad in drawn:
        fits = [fit for fit in analysis.fits if links and fit.sensation == pad.sensation]
        pictures.append(
            Picture(
                id=f"pad-{pad.id}",
                title=pad.title,
                svg=Markup(pad_svg(pad)),
                caption="",
                numbers=tuple(_to_numbers(fit) for fit in fits),
            )
        )
    return tuple(pictures)


def _pads(drawn: Sequence[Pad], analysis: Analysis) -> dict[str, Any]:
    """Return the pads; the verdict's stands beside its ranking, where there is one."""
    pictures = pad_pictures(drawn, analysis)
    verdict = [
        picture for picture, pad in zip(pictures, drawn, strict=True) if pad.sensation == VERDICT
    ]
    rest = tuple(picture for picture in pictures if picture not in verdict)
    return {"verdict": verdict[0] if verdict else None, "pads": rest}


def _to_numbers(fit: SensationFit) -> Why:
    return Why(href=f"#{fit.id}", text="strength" if fit.scale == "intensity" else "liking")


def _rankings(fits: Sequence[SensationFit], tones: Mapping[str, int]) -> tuple[Picture, ...]:
    return tuple(
        Picture(
            id=f"ranking-{fit.id}",
            title=level_name(fit.sensation, fit.scale),
            svg=_chart(ranking_spec(fit, tones), f"ranking-{fit.id}", ranking_description(fit)),
            caption=_ranking_caption(fit),
            numbers=(_to_numbers(fit),),
        )
        for fit in fits
        if len(fit.fit.table.coffees) > 1
    )


def _ranking_caption(fit: SensationFit) -> str:
    said = "Dot: mean. Thick line: where this table's mean lies. Thin line: people like these."
    return said + (" Dashes: neither liked nor disliked." if fit.scale == "liking" else "")


def _trends(
    analysis: Analysis, rounds: Sequence[tuple[str, str]], tones: Mapping[str, int]
) -> tuple[Picture, ...]:
    """Draw how liking of the whole, and the strength of each sensation, went with the rounds."""
    tones = {name: tones[name] for name in coffee_order(analysis)}
    verdict = [fit for fit in analysis.fits if (fit.sensation, fit.scale) == (VERDICT, "liking")]
    rest = [fit for fit in analysis.fits if fit.scale == "intensity" and fit.sensation != VERDICT]
    pictures = []
    for fit in (*verdict, *rest):
        spec = trend_spec(fit, tones, rounds)
        if spec is not None:
            said = trend_description(fit, rounds)
            pictures.append(
                Picture(
                    id=f"trend-{fit.id}",
                    title=level_name(fit.sensation, fit.scale),
                    svg=_chart(spec, f"trend-{fit.id}", said),
                    caption="",
                    numbers=(_to_numbers(fit),),
                )
            )
    return tuple(pictures)


def _chart(spec: dict[str, object], name: str, description: str) -> Markup:
    """Return a chart; where it cannot be drawn, a sentence in its place."""
    try:
        return Markup(chart_svg(spec, name, description))
    except ChartError:
        log.exception("The chart %s could not be drawn.", name)
        return Markup(
            '<p class="callout">This chart could not be drawn. Its figures are further down.</p>'
        )


def _facts(debrief: TastingDebrief) -> tuple[str, ...]:
    tasting = debrief.night.tasting
    when = tasting.opened_ms or tasting.created_ms
    return (
        day(when),
        count_of(len(debrief.table.taster.labels), "taster"),
        count_of(len(tasting.setup.coffee_ids), "coffee"),
        count_of(len(tasting.plan.bowls), "bowl"),
        count_of(len(debrief.table), "mark") + " that count",
    )


def _note(debrief: TastingDebrief) -> str:
    if debrief.night.revealed:
        return ""
    return (
        "The coffees are not revealed yet, so every bowl stands for itself. After the reveal, "
        "bowls of one coffee are counted together and the hidden repeats speak."
    )


def _changes(debrief: TastingDebrief) -> Table | None:
    return changes_table(debrief.changes) if debrief.changes.rounds else None


def _repeats(found: Sequence[Repeatability]) -> tuple[str, ...]:
    return tuple(repeat_sentence(each) for each in found)


def _settled(debrief: TastingDebrief) -> str:
    found = debrief.changes
    if sum(1 for each in found.rounds if each.of) == 0:
        return ""
    if found.settled is None:
        return "Favourites still changed in the last round."
    return f"After the round “{found.settled}” nobody changed their favourite any more."


def _cautions(analysis: Analysis) -> tuple[str, ...]:
    skipped = (
        f"{level_name(each.sensation, each.scale)} could not be analysed. {each.reason}"
        for each in analysis.skipped
    )
    return (*analysis.cautions, *skipped)
