"""What may be said of a fit: which coffee is above which, and how sure that is.

A claim is one direction of one contrast, with its probability at this table and among people
like these. Implied claims are left out: who says A over B and B over C has said A over C.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from twobowls.debrief.analysis import SensationFit
from twobowls.debrief.evidence import LEANING, Evidence, evidence
from twobowls.debrief.rating_table import Scale
from twobowls.statistics.ratings_results import Contrast, Estimate, Population

NEUTRAL = "neutral"


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """A claim seen from one population."""

    difference: float
    interval: tuple[float, float]
    probability: float

    @property
    def evidence(self) -> Evidence:
        """The word for the probability that the claim is right."""
        return evidence(self.probability) if self.probability >= 0.5 else "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """``a`` is above ``b`` in a sensation on a scale; ``b`` or ``a`` may be the neutral point.

    ``id`` is that of the contrast whose numbers stand behind it.
    """

    id: str
    sensation: str
    scale: Scale
    a: str
    b: str
    table: Side
    people: Side

    def side(self, population: Population) -> Side:
        """Return the claim at this table, or among people like these."""
        return self.table if population == "table" else self.people


def claims(fit: SensationFit, least: float = LEANING) -> tuple[Claim, ...]:
    """Return the claims of a fit that at least lean, the surest first, none implied by others.

    Parameters
    ----------
    fit : SensationFit
        One sensation on one scale.
    least : float
        The smallest probability, at this table, of a claim that is made.
    """
    found = [
        claim
        for contrast in fit.fit.table.contrasts
        if (claim := pair_claim(fit, contrast.a, contrast.b)).table.probability >= least
    ]
    found.sort(key=lambda claim: (-claim.table.probability, -claim.table.difference, claim.id))
    return tuple(claim for claim in found if not _implied(claim, found))


def pair_claim(fit: SensationFit, a: str, b: str) -> Claim:
    """Return what is held of two coffees, the higher one first."""
    contrast = fit.contrast(a, b, "table")
    if contrast.probability < 0.5:
        a, b = b, a
    return Claim(
        id=fit.contrast_id(a, b),
        sensation=fit.sensation,
        scale=fit.scale,
        a=a,
        b=b,
        table=_side(fit.contrast(a, b, "table")),
        people=_side(fit.contrast(a, b, "people")),
    )


def standing_claims(fit: SensationFit, least: float = LEANING) -> tuple[Claim, ...]:
    """Return which coffees are liked (above neutral) or disliked (below it), strongest first.

    Empty for intensity, which has no neutral point.
    """
    if fit.scale != "liking":
        return ()
    made = [standing_claim(fit, each.level) for each in fit.fit.table.coffees]
    kept = [claim for claim in made if claim.table.probability >= least]
    return tuple(sorted(kept, key=lambda claim: (-claim.table.difference, claim.id)))


def standing_claim(fit: SensationFit, coffee: str) -> Claim:
    """Return on which side of neutral a coffee stands."""
    sides = {population: _standing(fit, coffee, population) for population in ("table", "people")}
    above = sides["table"].probability >= 0.5
    place = [each.level for each in fit.fit.table.coffees].index(coffee) + 1
    return Claim(
        id=f"{fit.id}--{place}",
        sensation=fit.sensation,
        scale=fit.scale,
        a=coffee if above else NEUTRAL,
        b=NEUTRAL if above else coffee,
        table=sides["table"] if above else _turned(sides["table"]),
        people=sides["people"] if above else _turned(sides["people"]),
    )


def _standing(fit: SensationFit, coffee: str, population: Population) -> Side:
    estimate = next(each.estimate for each in fit.means(population).coffees if each.level == coffee)
    low, high = estimate.interval
    return Side(
        difference=estimate.mean - fit.neutral,
        interval=(low - fit.neutral, high - fit.neutral),
        probability=chance_above(estimate, fit.neutral, fit.fit.level),
    )


def chance_above(estimate: Estimate, value: float, level: float) -> float:
    """Return about how likely it is that a mean exceeds a value.

    Normal, with the larger of two standard deviations: the estimate's own, and the one that
    its interval has; so heavy tails make the answer more careful, never less.

    Examples
    --------
    >>> from twobowls.statistics.ratings_results import Estimate
    >>> estimate = Estimate(mean=60, se=5, interval=(51.8, 68.2))
    >>> round(chance_above(estimate, 50, 0.90), 3)
    0.977
    """
    from scipy.special import ndtr, ndtri

    half = (estimate.interval[1] - estimate.interval[0]) / 2
    spread = max(estimate.se, half / float(ndtri(0.5 + level / 2)))
    if spread <= 0:
        return 0.5 if estimate.mean == value else float(estimate.mean > value)
    return float(ndtr((estimate.mean - value) / spread))


def _side(contrast: Contrast) -> Side:
    return Side(
        difference=contrast.estimate.mean,
        interval=contrast.estimate.interval,
        probability=contrast.probability,
    )


def _turned(side: Side) -> Side:
    low, high = side.interval
    return Side(
        difference=-side.difference, interval=(-high, -low), probability=1 - side.probability
    )


def _implied(claim: Claim, among: Iterable[Claim]) -> bool:
    """Tell whether two claims that are as sure at least say the same by way of a third coffee."""
    rank = ("cannot tell", "leaning", "likely", "clear")
    least = rank.index(claim.table.evidence)
    strong = {(each.a, each.b) for each in among if rank.index(each.table.evidence) >= least}
    between = {b for a, b in strong if a == claim.a}
    return any((middle, claim.b) in strong for middle in between)
