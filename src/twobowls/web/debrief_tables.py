"""The tables of a debrief, cell by cell as text."""

from collections.abc import Sequence
from dataclasses import dataclass

from twobowls.counting import count_of
from twobowls.debrief.analysis import SensationFit
from twobowls.debrief.changes import Changes
from twobowls.debrief.claims import chance_above, pair_claim
from twobowls.debrief.phrases import chance, level_name, number, signed, span
from twobowls.debrief.tables import Evening


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row; ``id`` lets a finding point at it."""

    cells: tuple[str, ...]
    id: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table; the first ``texts`` columns are words, the others numbers."""

    caption: str
    header: tuple[str, ...]
    rows: tuple[Row, ...]
    texts: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Numbers:
    """The figures of one fit: coffees, pairs, and what the marks vary by."""

    id: str
    title: str
    summary: str
    tables: tuple[Table, ...]
    spread: str
    cautions: tuple[str, ...]


def numbers(fit: SensationFit, told: Sequence[str]) -> Numbers:
    """Return the figures of a fit; cautions in ``told`` are shown elsewhere."""
    result = fit.fit
    marks, people = count_of(result.rows, "mark"), count_of(result.tasters, "taster")
    low, high = fit.limits
    summary = (
        f"{marks} by {people}, on a line from {low:g} to {high:g}. "
        f"Intervals hold the true value with {100 * result.level:g} % probability."
    )
    if result.reml_deviance is not None:
        summary += f" Flat prior; REML deviance {result.reml_deviance:.4f}."
    tables = [coffee_table(fit)]
    if result.table.contrasts:
        tables.append(contrast_table(fit))
    return Numbers(
        id=fit.id,
        title=level_name(fit.sensation, fit.scale),
        summary=summary,
        tables=tuple(tables),
        spread=spread(fit),
        cautions=tuple(each for each in result.cautions if each not in told),
    )


def coffee_table(fit: SensationFit) -> Table:
    """Return the means, the highest first."""
    decimals = fit.places
    people = {each.level: each.estimate for each in fit.fit.people.coffees}
    places = {each.level: place for place, each in enumerate(fit.fit.table.coffees, start=1)}
    rows = []
    for mean in sorted(fit.fit.table.coffees, key=lambda each: -each.estimate.mean):
        wide = people[mean.level]
        cells = [
            mean.level,
            number(mean.estimate.mean, decimals),
            span(mean.estimate.interval, decimals),
            number(wide.mean, decimals),
            span(wide.interval, decimals),
        ]
        if fit.scale == "liking":
            cells.append(chance(chance_above(mean.estimate, fit.neutral, fit.fit.level)))
            cells.append(chance(chance_above(wide, fit.neutral, fit.fit.level)))
        rows.append(Row(cells=tuple(cells), id=f"{fit.id}--{places[mean.level]}"))
    header = ["Coffee", "This table", "interval", "People like these", "interval"]
    if fit.scale == "liking":
        header += ["Chance it is liked here", "by people like these"]
    return Table(caption="Means", header=tuple(header), rows=tuple(rows))


def contrast_table(fit: SensationFit) -> Table:
    """Return all pairs, the surest at this table first, the higher coffee named first."""
    decimals = fit.places
    claims = [pair_claim(fit, each.a, each.b) for each in fit.fit.table.contrasts]
    claims.sort(key=lambda claim: -claim.table.probability)
    rows = [
        Row(
            cells=(
                f"{claim.a} over {claim.b}",
                signed(claim.table.difference, decimals),
                span(claim.table.interval, decimals),
                chance(claim.table.probability),
                claim.table.evidence,
                signed(claim.people.difference, decimals),
                span(claim.people.interval, decimals),
                chance(claim.people.probability),
                claim.people.evidence,
            ),
            id=claim.id,
        )
        for claim in claims
    ]
    here = ("This table", "interval", "chance", "in a word")
    header = ("Pair", *here, "People like these", "interval", "chance", "in a word")
    return Table(caption="Differences", header=header, rows=tuple(rows))


def spread(fit: SensationFit) -> str:
    """Say what the marks vary by, the largest first, in points of 100."""
    names = {
        "taster": "people's level on the line",
        "coffee": "coffees",
        "taster:coffee": "disagreement about coffees",
        "bowl": "bowls of one coffee",
        "round": "rounds",
        "coffee:round": "coffees as they cool",
        "taster:round": "people as bowls cool",
        "position": "place in the order",
        "flight": "flights",
        "residual": "what is left (slips of the hand)",
    }
    width = (fit.limits[1] - fit.limits[0]) / 100
    parts = sorted(fit.fit.variance.items(), key=lambda pair: -pair[1])
    listed = ", ".join(f"{names.get(name, name)} {value**0.5 / width:.0f}" for name, value in parts)
    return f"What the marks vary by (standard deviation, in hundredths of the line): {listed}."


def changes_table(found: Changes) -> Table:
    """Return how opinions moved from round to round."""
    rows = tuple(
        Row(
            cells=(
                each.name,
                f"{each.moved} of {each.marks}",
                f"{each.new_favourite} of {each.of}" if each.of else "",
            )
        )
        for each in found.rounds
    )
    header = ("Round", "Tokens moved again", "New favourite")
    return Table(caption="Changes of mind", header=header, rows=rows)


def bowls_table(night: Evening) -> Table:
    """Return which bowl was which, once that may be told; flights where there are several."""
    bowls = night.tasting.plan.bowls
    several = len({bowl.flight for bowl in bowls}) > 1
    rows = tuple(
        Row(
            cells=(bowl.code, night.labels[bowl.code], *([str(bowl.flight + 1)] if several else []))
        )
        for bowl in bowls
    )
    header = ("Code", "Coffee", *(["Flight"] if several else []))
    return Table(caption="The bowls", header=header, rows=rows, texts=2)
