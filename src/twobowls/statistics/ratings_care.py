"""Who marks carelessly, and what the marks say if so: states of a table and their shares.

The model holds every taster's slips to be of one size. A taster who marks at random then pulls
all coffees together, and the intervals promise too much. Here each taster is steady, or careless
with slips several times as large; steady is held far likelier beforehand. Only slips count: an
opinion of one's own, held from round to round, is a taster's good right.

A *state* says who is careless. Few marks leave it open which state is true, and what one careless
taster does passes for disagreement, or for slips of all, unless each state has deviations of its
own. So the posterior is a mixture over states. They are found from the likeliest on, by making
one more taster careless; their shares are told by Laplace's method while they are looked
for, and by the integrals over the deviations in the end (`ratings_weak`).

With many tasters the states are too many, and each says little: there a taster's weight is the
posterior mean of the precision of slips, the deviations being held at their mode (empirical
Bayes).

References
----------
Box and Tiao (1968), Biometrika 55, 119-129 (good and bad observations as a mixture; from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.careless_gains import TasterParts, careless_gains, taster_parts
from twobowls.statistics.mixed_model_cells import Model
from twobowls.statistics.mixed_model_kernel import Kernel
from twobowls.statistics.mixed_model_levels import Cells, weighted
from twobowls.statistics.ratings_integral import Posterior, find_mode
from twobowls.statistics.ratings_priors import DeviationPrior
from twobowls.statistics.ratings_terms import assemble

# Marks at random over the line have a standard deviation of 0.29 of its width; steady slips are
# 0.05 to 0.15 of it (`ratings_priors`), less by a factor of 6 to 2.
FACTOR = 4.0  # of the standard deviation of a careless taster's slips
CARELESS = 0.10  # chance of it, before the marks are seen
LOG_ODDS = float(np.log(CARELESS / (1.0 - CARELESS)))
MOST_SEARCHED = 16  # tasters; in a larger panel weights are plugged in
LOOKED = 0.03  # estimated share from which on a state is looked at
EXPANDED = 0.10  # share from which on one more careless taster is tried
COUNTED = 0.08  # share below which a state is dropped
MOST_STATES = 12
SUSPECT = 0.4  # where weights are plugged in: below this chance a taster is left alone
LOOKS = 3
SETTLED = 0.03  # of a weight


@dataclass(frozen=True, slots=True)
class Weighed:
    """A model whose careless marks count for less, with the peak of its posterior.

    ``weights`` (T,) are the tasters' weights, 1 for a steady one. ``log_prior`` is the log of
    the state's chance beforehand, over that of nobody being careless, and of the factor by which
    the weights change the likelihood: what the integral over the deviations leaves out.
    """

    model: Model
    posterior: Posterior
    peak: tuple[FloatArray, FloatArray]
    weights: FloatArray
    log_prior: float = 0.0

    def log_share(self) -> float:
        """Return the log of the state's probability by Laplace's method, up to a constant."""
        z, curvature = self.peak
        values = np.maximum(np.linalg.eigvalsh(curvature), 0.25)
        height = float(self.posterior.values(z[None])[0])
        return self.log_prior + height - 0.5 * float(np.log(values).sum())


@dataclass(frozen=True, slots=True)
class _Marks:
    """What all states of one table have in common."""

    cells: Cells
    terms: tuple[str, ...]
    width: float
    slope: FloatArray | None

    def fit(self, weights: FloatArray, start: FloatArray | None, log_prior: float) -> Weighed:
        cells = self.cells
        if (weights < 1.0).any():
            cells = weighted(cells, weights[cells.factors["taster"].codes])
        model = assemble(cells, self.terms, (), self.slope)
        prior = DeviationPrior.for_terms(model.random_names, self.width)
        posterior = Posterior(Kernel(model, turned=True), prior, cells.rows)
        return Weighed(model, posterior, find_mode(posterior, start), weights, log_prior)


def weigh_cells(
    cells: Cells, terms: tuple[str, ...], width: float, slope: FloatArray | None = None
) -> tuple[Weighed, ...]:
    """Build a model with weak priors, in each state of its tasters that counts.

    Parameters
    ----------
    cells : Cells
        The marks.
    terms : tuple of str
        Random terms; the intercept is fixed.
    width : float
        Of the scale.
    slope : FloatArray or None
        (coffees,) numbers over which each taster has a slope, as a share of the width.

    Returns
    -------
    tuple of Weighed
        The likeliest state first; their shares are to be told by the integrals over them.
    """
    marks = _Marks(cells, terms, width, slope)
    tasters = len(cells.factors["taster"].levels)
    steady = marks.fit(np.ones(tasters), None, 0.0)
    if tasters < 2:
        return (steady,)
    if tasters > MOST_SEARCHED:
        return (_plugged(marks, steady),)
    return _searched(marks, steady)


@dataclass(frozen=True, slots=True)
class _State:
    """Which tasters are careless, and the log of the state's share."""

    careless: frozenset[int]
    found: Weighed
    log_share: float


def _searched(marks: _Marks, steady: Weighed) -> tuple[Weighed, ...]:
    """Look for states from the likeliest on."""
    parts = taster_parts(steady.model)
    states = [_State(frozenset(), steady, steady.log_share())]
    waiting = list(states)
    while waiting and len(states) < MOST_STATES:
        best = max(waiting, key=lambda each: each.log_share)
        waiting.remove(best)
        if best.log_share < _total(states) + np.log(EXPANDED):
            break
        for careless in _promising(best, parts, states):
            weights = np.ones(len(parts.marks))
            weights[list(careless)] = FACTOR**-2.0
            prior = len(careless) * LOG_ODDS + 0.5 * float(parts.marks @ np.log(weights))
            found = marks.fit(weights, best.found.peak[0], prior)
            states.append(_State(careless, found, found.log_share()))
            waiting.append(states[-1])
    least = _total(states) + np.log(COUNTED)
    kept = [state for state in states if state.log_share >= least]
    return tuple(each.found for each in sorted(kept, key=lambda each: -each.log_share))


def _promising(state: _State, parts: TasterParts, states: Sequence[_State]) -> list[frozenset[int]]:
    """States with one more careless taster that may count, the most promising first.

    Their shares are told at the deviations of the state they come from, which is too low.
    """
    shares = state.log_share + LOG_ODDS + _gains(state.found, parts)
    least = _total(states) + np.log(LOOKED)
    known = {each.careless for each in states}
    order = np.argsort(-shares, kind="stable").tolist()
    further = [state.careless | {taster} for taster in order if shares[taster] >= least]
    return [each for each in further if each not in known][: MOST_STATES - len(states)]


def _total(states: Sequence[_State]) -> float:
    return float(np.logaddexp.reduce([each.log_share for each in states]))


def _gains(found: Weighed, parts: TasterParts) -> FloatArray:
    deviations = found.posterior.prior.deviations(found.peak[0][None]).values[0]
    return careless_gains(found.model, parts, deviations, found.weights, FACTOR)


def _plugged(marks: _Marks, steady: Weighed) -> Weighed:
    """Settle the tasters' weights one at a time, the others' and the deviations being held."""
    parts = taster_parts(steady.model)
    found = steady
    for _ in range(LOOKS):
        chances = np.exp(-np.logaddexp(0.0, -LOG_ODDS - _gains(found, parts)))
        new = np.where(chances < SUSPECT, 1.0, 1.0 - chances * (1.0 - FACTOR**-2.0))
        if float(np.abs(new - found.weights).max()) < SETTLED:
            break
        found = marks.fit(new, found.peak[0], 0.0)
    return found
