"""Findings: what the tasting showed, in sentences that each lead back to their numbers."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from twobowls.counting import count_of
from twobowls.debrief.analysis import Analysis, SensationFit
from twobowls.debrief.claims import NEUTRAL, Claim, claims, pair_claim, standing_claims
from twobowls.debrief.evidence import LEANING, Evidence, evidence, expected_false
from twobowls.debrief.phrases import above, joined, number, signed, span, standing, title
from twobowls.debrief.rating_table import SCALES, Scale

MOST_HEADLINES = 6
VERDICT = "verdict"
_RANK: dict[Evidence, int] = {"clear": 3, "likely": 2, "leaning": 1, "cannot tell": 0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One sentence, how sure it is, and the contrasts that it rests on.

    ``table`` and ``people`` are the evidence at this table and for people like these: that of
    the weakest claim in the sentence.
    """

    id: str
    text: str
    sensation: str
    scale: Scale
    table: Evidence
    people: Evidence
    claims: tuple[Claim, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """How many claims are made on one scale, and how many of them are expected to be wrong."""

    scale: Scale
    table: int
    table_false: float
    people: int
    people_false: float

    @property
    def text(self) -> str:
        """The tally as a sentence."""
        if not self.table:
            return f"Nothing is claimed about {_in_words(self.scale)}."
        what = count_of(self.table, "statement")
        said = (
            f"{what} about {_in_words(self.scale)} at this table: {few(self.table_false)} "
            "expected to be wrong."
        )
        if self.people:
            holds = "holds" if self.people == 1 else "hold"
            said += (
                f" For people like these {self.people} of them {holds} up: "
                f"{few(self.people_false)} expected to be wrong."
            )
        return said


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """All sentences of a debrief: the few that matter most, then all, sensation by sensation.

    ``open_questions`` are the sensations in which nothing can be told, ``tallies`` the expected
    number of false claims on each scale, over ``all``.
    """

    headlines: tuple[Finding, ...]
    all: tuple[Finding, ...]
    open_questions: tuple[Finding, ...]
    tallies: tuple[Tally, ...]
    little: tuple[str, ...]

    def of(self, sensation: str) -> tuple[Finding, ...]:
        """Return the findings on one sensation."""
        return tuple(each for each in self.all if each.sensation == sensation)


def few(count: float) -> str:
    """Write an expected number of errors.

    Examples
    --------
    >>> few(0.03), few(1.24)
    ('fewer than 0.1', 'about 1.2')
    """
    return "fewer than 0.1" if count < 0.095 else f"about {count:.1f}"


def find(analysis: Analysis) -> Findings:
    """Say what an analysis shows.

    Parameters
    ----------
    analysis : Analysis
        The fits.

    Returns
    -------
    Findings
        The same for the same fits, always.
    """
    stated: list[Finding] = []
    unknown: list[Finding] = []
    for fit in analysis.fits:
        made = [*_comparisons(fit), *_standings(fit)]
        stated += made
        if not any(NEUTRAL not in (each.a, each.b) for one in made for each in one.claims):
            unknown += _open_question(fit)
    return Findings(
        headlines=_headlines(analysis, stated),
        all=tuple(stated),
        open_questions=tuple(unknown),
        tallies=tuple(_tally(scale, stated) for scale in _scales(analysis)),
        little=_how_little(analysis),
    )


def _scales(analysis: Analysis) -> list[Scale]:
    return [scale for scale in SCALES if any(fit.scale == scale for fit in analysis.fits)]


def _comparisons(fit: SensationFit) -> list[Finding]:
    """Join the claims of a fit that have the same winner and the same evidence."""
    groups: dict[tuple[str, Evidence, Evidence], list[Claim]] = {}
    for claim in claims(fit):
        key = (claim.a, claim.table.evidence, claim.people.evidence)
        groups.setdefault(key, []).append(claim)
    return [
        _finding(above(fit.sensation, fit.scale, a, [each.b for each in group]), fit, group)
        for (a, _, _), group in groups.items()
    ]


def _standings(fit: SensationFit) -> list[Finding]:
    made = []
    for claim in standing_claims(fit):
        liked = claim.b == NEUTRAL
        coffee = claim.a if liked else claim.b
        made.append(_finding(standing(fit.sensation, coffee, liked), fit, [claim]))
    return made


def _finding(text: str, fit: SensationFit, group: Sequence[Claim]) -> Finding:
    return Finding(
        id="finding-" + "-".join(each.id for each in group),
        text=f"{text}.",
        sensation=fit.sensation,
        scale=fit.scale,
        table=_weakest(each.table.evidence for each in group),
        people=_weakest(each.people.evidence for each in group),
        claims=tuple(group),
    )


def _weakest(words: Iterable[Evidence]) -> Evidence:
    return min(words, key=lambda word: _RANK[word])


def _open_question(fit: SensationFit) -> list[Finding]:
    """Say how far apart the coffees may still be where nothing can be told."""
    pairs = [pair_claim(fit, each.a, each.b) for each in fit.fit.table.contrasts]
    if not pairs:
        return []
    widest = max(pairs, key=lambda claim: claim.table.difference)
    gap, interval = widest.table.difference, widest.table.interval
    text = (
        f"{title(fit.sensation)}: we cannot tell the coffees apart in {_in_words(fit.scale)}. "
        f"The widest gap is {number(gap, fit.places)}, {widest.a} over {widest.b}, and anything "
        f"from {span(interval, fit.places)} would fit"
    )
    return [_finding(text, fit, [widest])]


def _in_words(scale: Scale) -> str:
    return "strength" if scale == "intensity" else "liking"


def _headlines(analysis: Analysis, stated: Sequence[Finding]) -> tuple[Finding, ...]:
    """Pick the verdict first, then the surest and largest difference of each sensation.

    Where there are few sensations the next surest differences follow.
    """
    top = _verdict(analysis)
    used = {claim.id for finding in top for claim in finding.claims}
    best: dict[tuple[str, Scale], Finding] = {}
    others: list[Finding] = []
    for finding in sorted(stated, key=_weight(analysis), reverse=True):
        fresh = not any(claim.id in used for claim in finding.claims)
        comparison = all(NEUTRAL not in (each.a, each.b) for each in finding.claims)
        if fresh and comparison:
            key = (finding.sensation, finding.scale)
            if key in best:
                others.append(finding)
            best.setdefault(key, finding)
    return (*top, *best.values(), *others)[: max(MOST_HEADLINES, len(top))]


def _weight(analysis: Analysis) -> Callable[[Finding], tuple[int, int, float]]:
    widths = {(fit.sensation, fit.scale): fit.limits[1] - fit.limits[0] for fit in analysis.fits}

    def weight(finding: Finding) -> tuple[int, int, float]:
        gap = max(each.table.difference for each in finding.claims)
        share = gap / widths[finding.sensation, finding.scale]
        return (_RANK[finding.table], _RANK[finding.people], share)

    return weight


def _verdict(analysis: Analysis) -> list[Finding]:
    """Say who leads and who trails in liking, where there is one liking to speak of."""
    liking = [fit for fit in analysis.fits if fit.scale == "liking"]
    fit = analysis.get(VERDICT, "liking") or (liking[0] if len(liking) == 1 else None)
    if fit is None or len(fit.fit.table.coffees) < 2:
        return []
    ranked = sorted(fit.fit.table.coffees, key=lambda each: -each.estimate.mean)
    names = [each.level for each in ranked]
    found = [_leader(fit, names)]
    if len(names) > 2:
        found += _trailer(fit, names)
    found += [each for each in _standings(fit) if each.claims[0].a == NEUTRAL]
    return found


def _leader(fit: SensationFit, names: list[str]) -> Finding:
    first, rest = names[0], names[1:]
    against = [pair_claim(fit, first, other) for other in rest]
    level = [
        other
        for other, claim in zip(rest, against, strict=True)
        if claim.a != first or claim.table.probability < LEANING
    ]
    if level:
        text = f"{first} is ahead in liking, but we cannot tell it from {joined(level, 'or')}"
    elif len(rest) == 1:
        text = f"{first} is liked better than {rest[0]}"
    else:
        text = f"{first} is the most liked"
    return _finding(text, fit, against)


def _trailer(fit: SensationFit, names: list[str]) -> list[Finding]:
    last, rest = names[-1], names[:-1]
    against = [pair_claim(fit, other, last) for other in rest]
    if any(claim.b != last or claim.table.probability < LEANING for claim in against):
        return []
    return [_finding(f"{last} is the least liked", fit, against)]


def _tally(scale: Scale, stated: Sequence[Finding]) -> Tally:
    made = [claim for each in stated if each.scale == scale for claim in each.claims]
    held = [each.people.probability for each in made if each.people.probability >= LEANING]
    return Tally(
        scale=scale,
        table=len(made),
        table_false=expected_false(each.table.probability for each in made),
        people=len(held),
        people_false=expected_false(held),
    )


def _named(fit: SensationFit) -> str:
    name = title(fit.sensation)
    return name if name.casefold() == fit.scale else f"{name} ({fit.scale})"


def _how_little(analysis: Analysis) -> tuple[str, ...]:
    """Say how little is known where one person or very few marks are all there is."""
    if not analysis.fits:
        return ()
    said = []
    most = max(analysis.fits, key=lambda fit: fit.fit.rows)
    tasters, rows = max(fit.fit.tasters for fit in analysis.fits), most.fit.rows
    coffees = len(most.fit.table.coffees)
    if tasters == 1:
        said.append(
            "One person tasted. What differs here may differ for that person only, and "
            "nothing is known yet about other people."
        )
    if rows <= 2 * coffees and coffees > 1:
        widest = max(most.fit.table.contrasts, key=lambda each: abs(each.estimate.mean))
        said.append(
            f"There are {rows} marks on {coffees} coffees for {_named(most)}. "
            "That is very little: the gap of "
            f"{signed(widest.estimate.mean, most.places)} between {widest.a} and {widest.b} "
            f"could be anything from {span(widest.estimate.interval, most.places)} "
            f"({evidence(widest.probability)})."
        )
    return tuple(said)
