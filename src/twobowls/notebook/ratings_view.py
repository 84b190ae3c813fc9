"""What a notebook shows of ratings: findings, pads or rankings, and the figures folded away."""

from collections.abc import Sequence
from dataclasses import replace
from html import escape

from twobowls.debrief.analysis import Analysis, SensationFit
from twobowls.debrief.charts import ranking_description, ranking_spec
from twobowls.debrief.evidence import SCALE_SENTENCE
from twobowls.debrief.findings import Findings
from twobowls.debrief.pad_svg import pad_svg
from twobowls.debrief.pads import Pad, coffee_tones
from twobowls.debrief.phrases import level_name
from twobowls.debrief.plain_text import how_sure
from twobowls.notebook.result import Section
from twobowls.notebook.tables import Table, rows_table

MOST_PICTURES = 8


def rating_sections(
    analysis: Analysis,
    findings: Findings,
    drawn: Sequence[Pad],
    mapping: Table,
    spread: Table,
    checks: tuple[str, ...] = (),
) -> tuple[Section, ...]:
    """Return what is shown of an analysis."""
    return (
        Section(heading="What it shows", sentences=_sentences(findings), notes=_notes(findings)),
        _pictures(analysis, drawn),
        Section(
            heading="The numbers",
            sentences=(
                "This table: these tasters. People: people like these. "
                f"Intervals hold {100 * analysis.model.level:g} %.",
            ),
            folded=(_findings(findings), *map(_coffees, analysis.fits), spread, mapping),
        ),
        *_checks(checks),
    )


def _checks(checks: tuple[str, ...]) -> tuple[Section, ...]:
    heading = "How far the marks follow the model"
    return (Section(heading=heading, sentences=checks),) if checks else ()


def _sentences(findings: Findings) -> tuple[str, ...]:
    said = [*findings.little]
    said += [f"{each.text} {how_sure(each)}" for each in findings.headlines]
    if not findings.all:
        said.append("No difference can be claimed.")
    return (*said, *(each.text for each in findings.open_questions))


def _notes(findings: Findings) -> tuple[str, ...]:
    if not findings.all:
        return ()
    return (" ".join([SCALE_SENTENCE, *(each.text for each in findings.tallies)]),)


def _findings(findings: Findings) -> Table:
    rows = [(each.text, each.table, each.people) for each in findings.all]
    return rows_table("findings", "All findings", ("finding", "this table", "people"), rows)


def _pictures(analysis: Analysis, drawn: Sequence[Pad]) -> Section:
    """Draw pads where both scales were marked, rankings of what is left."""
    shown = drawn[:MOST_PICTURES]
    left = _without_pad(analysis, drawn)[: MOST_PICTURES - len(shown)]
    hidden = len(drawn) + len(_without_pad(analysis, drawn)) - len(shown) - len(left)
    tones = coffee_tones(analysis)

    def draw(name: str) -> str:
        from twobowls.interchange.chart_svg import chart_svg

        pictures = [
            _titled(pad.title, pad_svg(replace(pad, id=f"{name}-{n}")))
            for n, pad in enumerate(shown)
        ]
        pictures += [
            _titled(
                level_name(fit.sensation, fit.scale),
                chart_svg(ranking_spec(fit, tones), f"{name}-r{n}", ranking_description(fit)),
            )
            for n, fit in enumerate(left)
        ]
        return f'<div class="tb-row">{"".join(pictures)}</div>'

    told = (f"{hidden} more pictures are not shown: keep fewer sensations.",) if hidden else ()
    return Section(picture=draw, sentences=told)


def _titled(title: str, svg: str) -> str:
    return f'<div><p class="tb-heading">{escape(title)}</p>{svg}</div>'


def _without_pad(analysis: Analysis, drawn: Sequence[Pad]) -> list[SensationFit]:
    on_pads = {pad.sensation for pad in drawn}
    if len(drawn) == 1 and len(analysis.fits) == 2:  # two columns of one unnamed sensation
        return []
    return [fit for fit in analysis.fits if fit.sensation not in on_pads]


def _coffees(fit: SensationFit) -> Table:
    people = {each.level: each.estimate for each in fit.fit.people.coffees}
    rows = []
    for each in sorted(fit.fit.table.coffees, key=lambda one: -one.estimate.mean):
        wide = people[each.level]
        here = (each.estimate.mean, *each.estimate.interval)
        rows.append((each.level, *map(float, (*here, wide.mean, *wide.interval))))
    header = ("coffee", "this table", "low", "high", "people", "people low", "people high")
    return rows_table(
        "coffees",
        level_name(fit.sensation, fit.scale),
        header,
        rows,
        dict.fromkeys(header[1:], fit.places),
    )
