"""The weak prior of the category model: what keeps small or separated tables finite.

All widths are in units of the latent noise, so that probit and logit fits say the same.
"""

from dataclasses import asdict, dataclass, replace
from typing import Literal

import numpy as np

from twobowls.errors import InputError
from twobowls.statistics.inputs import scales
from twobowls.statistics.ordinal_design import Design
from twobowls.statistics.ordinal_inputs import Array
from twobowls.statistics.ordinal_link import FAR, Link, curves, log_shares, slopes


@dataclass(frozen=True, slots=True, kw_only=True)
class OrdinalPrior:
    """How far effects may plausibly lie apart, in standard deviations of the latent noise.

    Parameters
    ----------
    effect_sd : float
        Of a fixed factor: scale of the prior of how far its levels spread (their standard
        deviation around their common middle, whichever level is the reference), see
        `spread_prior`; that spread is integrated out. Of a numeric column: standard deviation
        of the normal prior of its effect times the column's standard deviation.
    random_sd : float
        Scale of the half-normal prior of every random factor's standard deviation.
    threshold_sd : float
        Of every threshold around the middle of the data. Normal, in order.
    pseudo_ratings : float
        Weight of ratings spread evenly over all categories at the middle of the data; they
        keep thresholds apart where a category was hardly used.

    Notes
    -----
    Our own choice: two noise deviations are the ratio of the rating engine's scales (coffees
    0.20 of the line, one mark 0.10), and tasters' leanings are of the size of the noise or
    less. Thresholds lie where the ratings of such coffees do. The prior of a spread
    has much room near zero, so that coffees that are all alike are drawn together and seldom set
    apart by chance.

    Examples
    --------
    >>> OrdinalPrior(effect_sd=0.0)
    Traceback (most recent call last):
    ...
    twobowls.errors.InputError: prior: effect_sd is 0.0. Give a number above zero.
    """

    effect_sd: float = 2.0
    random_sd: float = 1.0
    threshold_sd: float = 2.0
    pseudo_ratings: float = 1.0

    def __post_init__(self) -> None:
        scales("prior", asdict(self))


PriorName = Literal["weak", "flat"]


def choose_prior(prior: PriorName | OrdinalPrior) -> OrdinalPrior | None:
    """Return the prior meant by its name; None for a flat one.

    Examples
    --------
    >>> choose_prior("flat") is None, choose_prior("weak").effect_sd
    (True, 2.0)
    """
    if isinstance(prior, OrdinalPrior):
        return prior
    if prior == "weak":
        return OrdinalPrior()
    if prior == "flat":
        return None
    raise InputError("prior", f'"{prior}" is not known', 'Choose "weak" or "flat"')


@dataclass(frozen=True, slots=True)
class Penalty:
    """Minus the log prior density, up to a constant, with derivatives; all zero when flat.

    The prior of the effects is that given the spreads of the fixed factors' levels.

    Attributes
    ----------
    precision : array (p, p)
        Of the thresholds' parameters and the effects.
    spreads : array (F,)
        Standard deviation of the levels of each fixed factor, at which the prior is taken.
    spread_scale : float
        Of the prior of each spread.
    spans : tuple of F slices
        Where the effects of each factor sit.
    fixed : array (p, p)
        The precision of thresholds and of numeric columns' effects.
    """

    precision: Array
    spreads: Array
    spread_scale: float
    spans: tuple[slice, ...]
    fixed: Array
    sd_precision: float
    upper: Array
    lower: Array
    upper_far: Array
    lower_far: Array
    weight: float
    link: Link

    def of(self, gamma: Array, sd: Array) -> tuple[float, Array]:
        """Return the value and the gradient in (gamma, sd)."""
        pull, by_sd = self.precision @ gamma, self.sd_precision * sd
        value = 0.5 * float(gamma @ pull + sd @ by_sd)
        if self.weight:
            at = slopes(self.link, *self._edges(gamma))
            value -= self.weight * float(at.value.sum())
            if not np.isfinite(value):
                return np.inf, np.zeros(gamma.size + sd.size)
            pull = pull + self.weight * (self.lower.T @ at.b - self.upper.T @ at.a)
        return value, np.concatenate([pull, by_sd])

    def curvature(self, gamma: Array) -> Array:
        """Return the second derivatives in gamma."""
        if not self.weight:
            return self.precision
        second = curves(self.link, slopes(self.link, *self._edges(gamma)))
        across = self.upper.T @ (self.lower * second.ab[:, None])
        own = self.upper.T @ (self.upper * second.aa[:, None])
        own = own + self.lower.T @ (self.lower * second.bb[:, None])
        return np.asarray(self.precision - self.weight * (own + across + across.T))

    def _edges(self, gamma: Array) -> tuple[Array, Array]:
        return self.upper @ gamma + self.upper_far, self.lower @ gamma + self.lower_far

    def with_spreads(self, spreads: Array) -> "Penalty":
        """Return the prior given other spreads of the fixed factors' levels."""
        return replace(self, spreads=spreads, precision=self.precision_at(spreads))

    def precision_at(self, spreads: Array) -> Array:
        """Return the precision given other spreads, the same whichever level is the reference."""
        precision = self.fixed.copy()
        for spread, span in zip(spreads, self.spans, strict=True):
            levels = span.stop - span.start + 1
            precision[span, span] += spread**-2.0 * (np.eye(levels - 1) - 1.0 / levels)
        return precision

    def squares(self, gamma: Array) -> Array:
        """Return how far each factor's levels spread at N points: (N, F) sums of squares."""
        found = [gamma[:, span] for span in self.spans]
        return np.array(
            [(b**2).sum(axis=1) - b.sum(axis=1) ** 2 / (b.shape[1] + 1) for b in found]
        ).T.reshape(gamma.shape[0], len(self.spans))

    def log_pseudo(self, gamma: Array) -> Array:
        """Return what the pseudo-ratings say at N points: (N,)."""
        upper, lower = gamma @ self.upper.T + self.upper_far, gamma @ self.lower.T + self.lower_far
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            return np.asarray(self.weight * log_shares(self.link, upper, lower).sum(axis=1))

    def log_scale(self, spreads: Array) -> float:
        """Return what the spreads add to the log prior density: its normalising constant."""
        sizes = [span.stop - span.start for span in self.spans]
        return -float(np.log(spreads) @ np.array(sizes)) if sizes else 0.0


def penalise(design: Design, link: Link, prior: OrdinalPrior | None) -> Penalty:
    """Write a prior out for a design, the fixed factors' spreads at their prior scale."""
    categories = len(design.categories)
    edges = np.vstack([np.zeros(design.basis.shape[1]), design.basis, design.basis[:1] * 0.0])
    centre = np.tile(-design.centre, (categories, 1))
    far = np.zeros(categories)
    upper_far, lower_far = far.copy(), far.copy()
    upper_far[-1], lower_far[0] = FAR, -FAR
    flat = Penalty(
        precision=np.zeros((len(design.names),) * 2),
        spreads=np.zeros(0),
        spread_scale=0.0 if prior is None else prior.effect_sd * link.sd,
        spans=(),
        fixed=np.zeros((len(design.names),) * 2),
        sd_precision=0.0 if prior is None else (prior.random_sd * link.sd) ** -2,
        upper=np.hstack([edges[1:], centre]),
        lower=np.hstack([edges[:-1], centre]),
        upper_far=upper_far,
        lower_far=lower_far,
        weight=0.0 if prior is None else prior.pseudo_ratings / categories,
        link=link,
    )
    if prior is None:
        return flat
    first, scale = design.basis.shape[1], flat.spread_scale
    thresholds = np.hstack([design.basis, centre[1:]]) / (prior.threshold_sd * link.sd)
    places = [design.columns[factor.name] for factor in design.fixed]
    spread = np.concatenate([np.zeros(first), design.spread / scale])
    spread[: len(design.names) - len(design.numbers)] = 0.0
    spans = tuple(slice(first + each.start, first + each.stop) for each in places)
    whole = replace(flat, spans=spans, fixed=thresholds.T @ thresholds + np.diag(spread**2))
    return whole.with_spreads(np.full(len(spans), scale))
