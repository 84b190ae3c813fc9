"""The debrief as plain text for a terminal: findings first, the numbers below."""

from collections.abc import Iterable, Iterator, Sequence
from textwrap import wrap

from twobowls.counting import count_of
from twobowls.debrief.analysis import Analysis, SensationFit
from twobowls.debrief.claims import chance_above
from twobowls.debrief.evidence import SCALE_SENTENCE, evidence
from twobowls.debrief.findings import Finding, Findings
from twobowls.debrief.phrases import chance, level_name, number, signed, span
from twobowls.debrief.repeatability import Repeatability, repeat_sentence

WIDTH = 88
_MOST_CONTRASTS = 28
_MOST_FINDINGS = 40


def debrief_text(
    analysis: Analysis,
    findings: Findings,
    cautions: Sequence[str] = (),
    repeats: Sequence[Repeatability] = (),
    rest: str = "all are in the JSON (--json OUT)",
    checks: Sequence[str] = (),
) -> str:
    """Return the whole debrief as text of at most 88 columns where tables allow it.

    ``rest`` says where to find what is too much to print, ``checks`` how far the marks follow
    the model.
    """
    lines = [*_heading("What it shows"), *_sentences(findings, rest), *_heading("The numbers")]
    for fit in analysis.fits:
        lines += [*_fit(fit, analysis.cautions, rest), ""]
    for skipped in analysis.skipped:
        lines += [*wrapped(f"{skipped.sensation} ({skipped.scale}) not fitted. {skipped.reason}")]
    if repeats:
        lines += [*_heading("The same coffee again"), *_bullets(map(repeat_sentence, repeats))]
    if checks:
        lines += [*_heading("How far the marks follow the model"), *_bullets(checks)]
    told = [*cautions, *analysis.cautions]
    if told:
        lines += [*_heading("Mind this"), *_bullets(told)]
    return "\n".join(lines).replace("\n\n\n", "\n\n").rstrip() + "\n"


def text_table(
    header: Sequence[str], rows: Sequence[Sequence[str]], numeric: Sequence[bool] | None = None
) -> list[str]:
    r"""Line up a table: numbers to the right, which are all columns but the first by default.

    Examples
    --------
    >>> print("\n".join(text_table(["coffee", "mean"], [["Oro", "61"], ["Niebla", "8"]])))
      coffee  mean
      ------  ----
      Oro       61
      Niebla     8
    """
    cells = [list(header), *map(list, rows)]
    widths = [max(len(row[place]) for row in cells) for place in range(len(header))]
    cells.insert(1, ["-" * width for width in widths])
    to_the_right = numeric or [place > 0 for place in range(len(header))]
    return [
        "  "
        + "  ".join(
            cell.rjust(width) if right else cell.ljust(width)
            for cell, width, right in zip(row, widths, to_the_right, strict=True)
        ).rstrip()
        for row in cells
    ]


def _sentences(findings: Findings, rest: str) -> Iterator[str]:
    for each in findings.little:
        yield from wrapped(each)
    listed = [*findings.headlines]
    listed += [each for each in findings.all if each.id not in {one.id for one in listed}]
    if not listed:
        yield "No difference can be claimed."
    for finding in listed[:_MOST_FINDINGS]:
        yield from _finding(finding)
    if len(listed) > _MOST_FINDINGS:
        more = len(listed) - _MOST_FINDINGS
        yield f"  and {more} more findings; {rest}"
    for question in findings.open_questions:
        yield from wrapped(question.text, "  ? ")
    if listed:
        yield ""
        yield from wrapped(SCALE_SENTENCE)
        for tally in findings.tallies:
            yield from wrapped(tally.text)


def how_sure(finding: Finding) -> str:
    """Say how sure a finding is, at this table and for people like these."""
    if finding.table == finding.people:
        both = "here, and for people like these"
        return f"{finding.table.capitalize()} {both}."
    return f"{finding.table.capitalize()} here; {finding.people} for people like these."


def _finding(finding: Finding) -> list[str]:
    said = f"{finding.text} {how_sure(finding)}"
    return wrapped(said, "  * ")


def _fit(fit: SensationFit, told: Sequence[str], rest: str) -> Iterator[str]:
    result = fit.fit
    yield level_name(fit.sensation, fit.scale)
    yield from wrapped(
        f"{count_of(result.rows, 'mark')} by {count_of(result.tasters, 'taster')} "
        f"on a scale from {fit.limits[0]:g} to "
        f"{fit.limits[1]:g}; {result.prior} prior; intervals hold {100 * result.level:g} %.",
        "  ",
    )
    yield from text_table(*_coffees(fit))
    if result.people.contrasts:
        yield ""
        yield from text_table(*_contrasts(fit))
        more = len(result.people.contrasts) - _MOST_CONTRASTS
        if more > 0:
            yield f"  and {count_of(more, 'more pair')}; {rest}"
    yield from wrapped(_terms(fit), "  ")
    for each in result.cautions:
        if each not in told:
            yield from wrapped(each, "  ! ")


def _coffees(fit: SensationFit) -> tuple[list[str], list[list[str]]]:
    people = {each.level: each.estimate for each in fit.fit.people.coffees}
    rows = []
    for mean in sorted(fit.fit.table.coffees, key=lambda each: -each.estimate.mean):
        wide = people[mean.level]
        row = [
            mean.level,
            number(mean.estimate.mean, fit.places),
            span(mean.estimate.interval, fit.places),
            number(wide.mean, fit.places),
            span(wide.interval, fit.places),
        ]
        if fit.scale == "liking":
            row.append(chance(chance_above(wide, fit.neutral, fit.fit.level)))
        rows.append(row)
    header = ["coffee", "this table", "interval", "people", "interval"]
    return ([*header, "liked"] if fit.scale == "liking" else header), rows


def _contrasts(fit: SensationFit) -> tuple[list[str], list[list[str]]]:
    table = {(each.a, each.b): each for each in fit.fit.table.contrasts}
    rows = []
    sure = sorted(fit.fit.people.contrasts, key=lambda each: -abs(each.probability - 0.5))
    for contrast in sure[:_MOST_CONTRASTS]:
        up = contrast.probability >= 0.5
        a, b = (contrast.a, contrast.b) if up else (contrast.b, contrast.a)
        wide = fit.contrast(a, b, "people")
        here = table[contrast.a, contrast.b].probability
        here = here if up else 1 - here
        rows.append(
            [
                f"{a} over {b}",
                signed(wide.estimate.mean, fit.places),
                span(wide.estimate.interval, fit.places),
                chance(wide.probability),
                evidence(wide.probability),
                evidence(here) if here >= 0.5 else "cannot tell",
            ]
        )
    return ["pair", "people", "interval", "chance", "people", "this table"], rows


def _terms(fit: SensationFit) -> str:
    width = (fit.limits[1] - fit.limits[0]) / 100
    terms = ", ".join(
        f"{name} {value**0.5 / width:.1f}" for name, value in fit.fit.variance.items()
    )
    said = f"Spread (standard deviation, % of the scale): {terms}."
    if fit.fit.reml_deviance is not None:
        said += f" REML deviance {fit.fit.reml_deviance:.4f}."
    return said


def _heading(text: str) -> list[str]:
    return ["", text, "=" * len(text)]


def _bullets(sentences: Iterable[str]) -> Iterator[str]:
    for each in sentences:
        yield from wrapped(each, "  - ")


def wrapped(text: str, first: str = "") -> list[str]:
    """Break a sentence into lines for a terminal."""
    return wrap(
        text,
        WIDTH,
        initial_indent=first,
        subsequent_indent=" " * len(first),
        break_long_words=False,
        break_on_hyphens=False,
    )
