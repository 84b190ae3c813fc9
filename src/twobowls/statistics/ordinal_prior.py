"""The weak prior of the category model: what keeps small or separated tables finite.

All widths are in units of the latent noise, so that probit and logit fits say the same.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from twobowls.errors import InputError
from twobowls.statistics.ordinal_design import Design
from twobowls.statistics.ordinal_inputs import Array
from twobowls.statistics.ordinal_link import FAR, Link, curves, slopes


@dataclass(frozen=True, slots=True, kw_only=True)
class OrdinalPrior:
    """How far effects may plausibly lie apart, in standard deviations of the latent noise.

    Parameters
    ----------
    effect_sd : float
        Of every level of a fixed factor around their common middle (whichever level is the
        reference), and of a numeric column's effect times its standard deviation. Normal.
    random_sd : float
        Scale of the half-normal prior of every random factor's standard deviation.
    pseudo_ratings : float
        Weight of ratings spread evenly over all categories at the middle of the data; they
        keep thresholds finite where a category was hardly used.

    Notes
    -----
    Our own choice: two noise deviations are as far as coffees on one table commonly lie from
    their middle, and tasters' leanings are of the size of the noise or less.

    Examples
    --------
    >>> OrdinalPrior(effect_sd=0.0)
    Traceback (most recent call last):
    ...
    twobowls.errors.InputError: prior: effect_sd is 0.0. Give a number above zero.
    """

    effect_sd: float = 2.0
    random_sd: float = 1.0
    pseudo_ratings: float = 1.0

    def __post_init__(self) -> None:
        for name in ("effect_sd", "random_sd", "pseudo_ratings"):
            value = getattr(self, name)
            if not (np.isfinite(value) and value > 0.0):
                raise InputError("prior", f"{name} is {value}", "Give a number above zero")


PriorName = Literal["weak", "flat"]


def choose_prior(prior: PriorName | OrdinalPrior) -> OrdinalPrior | None:
    """Return the prior meant by its name; None for a flat one."""
    if isinstance(prior, OrdinalPrior):
        return prior
    if prior == "weak":
        return OrdinalPrior()
    if prior == "flat":
        return None
    raise InputError("prior", f'"{prior}" is not known', 'Choose "weak" or "flat"')


@dataclass(frozen=True, slots=True)
class Penalty:
    """Minus the log prior density, up to a constant, with derivatives; all zero when flat."""

    precision: Array
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


def penalise(design: Design, link: Link, prior: OrdinalPrior | None) -> Penalty:
    """Write a prior out for a design."""
    count, categories = len(design.names), len(design.categories)
    edges = np.vstack([np.zeros(design.basis.shape[1]), design.basis, design.basis[:1] * 0.0])
    centre = np.tile(-design.centre, (categories, 1))
    far = np.zeros(categories)
    upper_far, lower_far = far.copy(), far.copy()
    upper_far[-1], lower_far[0] = FAR, -FAR
    return Penalty(
        precision=np.zeros((count, count)) if prior is None else _precision(design, link, prior),
        sd_precision=0.0 if prior is None else (prior.random_sd * link.sd) ** -2,
        upper=np.hstack([edges[1:], centre]),
        lower=np.hstack([edges[:-1], centre]),
        upper_far=upper_far,
        lower_far=lower_far,
        weight=0.0 if prior is None else prior.pseudo_ratings / categories,
        link=link,
    )


def _precision(design: Design, link: Link, prior: OrdinalPrior) -> Array:
    """Return the effects' prior precision, the same whichever level is the reference."""
    first = design.basis.shape[1]
    precision = np.zeros((len(design.names),) * 2)
    unit = (prior.effect_sd * link.sd) ** -2
    for factor in design.fixed:
        place = design.columns[factor.name]
        span = slice(first + place.start, first + place.stop)
        levels = len(factor.levels)
        precision[span, span] = unit * (np.eye(levels - 1) - 1.0 / levels)
    start = len(design.names) - len(design.numbers)
    for column in range(start, len(design.names)):
        precision[column, column] = unit * design.spread[column - first] ** 2
    return precision
