"""Averaging over spreads that are not known: how far coffees and tasters lie apart.

Both are integrated out on nodes laid over the bulk of their posterior. Knows nothing of tables.
"""

from collections.abc import Callable

import numpy as np

from twobowls.statistics.picks_grid import place_nodes
from twobowls.statistics.picks_marginal import climb_alike, climb_marginal
from twobowls.statistics.picks_model import PickModel, PicksPrior
from twobowls.statistics.picks_peak import Peak, climb
from twobowls.statistics.picks_table import Array
from twobowls.statistics.ratings_results import Estimate
from twobowls.statistics.spread_prior import SHAPE

# Spreads over the scale of their prior. The coffees' is integrated over its power that has a flat
# prior near zero.
_POWER = 2.0 * SHAPE
_NARROWEST, _WIDEST_SPREAD = 1e-3, 4.0
_ABILITIES, _SPREADS = 6, 7


def over_abilities(model: PickModel) -> list[tuple[float, Peak]]:
    """Return peaks over nodes of the coffees' spread, with log weights."""
    near = climb(model.ask(0.0)).theta

    def log_density(power: float) -> float:
        ability = _ability(power)
        return climb(model.ask(0.0, ability), near).log_evidence + model.log_prior(ability)

    abilities, logs = _place_abilities(log_density)
    peaks = [climb(model.ask(0.0, ability), near) for ability in abilities]
    return [
        (log_weight + peak.log_evidence + model.log_prior(ability), peak)
        for ability, log_weight, peak in zip(abilities, logs, peaks, strict=True)
    ]


def _ability(power: float) -> float:
    return float(power ** (1.0 / _POWER))


def _place_abilities(
    log_density: Callable[[float], float], count: int = 13
) -> tuple[list[float], list[float]]:
    """Return the coffees' spreads at nodes, and log weights."""
    ends = _NARROWEST**_POWER, _WIDEST_SPREAD**_POWER
    nodes, logs = place_nodes(log_density, *ends, count)
    return [_ability(each) for each in nodes.tolist()], logs.tolist()


def over_both(
    model: PickModel, prior: PicksPrior, level: float
) -> tuple[list[tuple[float, Peak]], Estimate]:
    """Return peaks over nodes of both spreads, with log weights, and that of the tasters."""
    near = climb(model.ask(0.0)).theta
    middling = 0.7 * prior.spread

    def of_ability(power: float) -> float:
        ability = _ability(power)
        return climb(model.ask(middling, ability), near).log_evidence + model.log_prior(ability)

    abilities, ability_logs = _place_abilities(of_ability, _ABILITIES)
    heights = [
        log + of_ability(each**_POWER) for each, log in zip(abilities, ability_logs, strict=True)
    ]
    typical = abilities[int(np.argmax(heights))]

    def log_prior(spread: float) -> float:
        return -0.5 * (spread / prior.spread) ** 2

    def of_spread(spread: float) -> float:
        peak = climb_marginal(model.ask(spread, typical), near)
        return peak.log_evidence + log_prior(spread)

    spreads, spread_logs = place_nodes(of_spread, 0.0, _WIDEST_SPREAD * prior.spread, _SPREADS)
    found, weights = [], np.full(spreads.size, -np.inf)
    for one, spread in enumerate(spreads.tolist()):
        questions = [model.ask(spread, ability) for ability in abilities]
        peaks = climb_alike(model.ask(spread, typical), questions, near)
        for ability, ability_log, peak in zip(abilities, ability_logs, peaks, strict=True):
            prior_part = model.log_prior(ability) + log_prior(spread)
            height = float(spread_logs[one] + ability_log + prior_part + peak.log_evidence)
            weights[one] = np.logaddexp(weights[one], height)
            if peak.settled:
                found.append((height, peak))
    return found, grid_estimate(spreads, weights, level)


def grid_estimate(nodes: Array, log_weights: Array, level: float) -> Estimate:
    """Return mean, standard deviation and interval of a number known on nodes.

    Between nodes the distribution function is interpolated in a straight line.

    Examples
    --------
    >>> nodes = np.linspace(-4.0, 4.0, 81)
    >>> found = grid_estimate(nodes, -0.5 * nodes**2, 0.90)
    >>> round(found.se, 2), [round(end, 1) for end in found.interval]
    (1.0, [-1.6, 1.6])
    """
    weights = np.exp(log_weights - log_weights.max())
    weights = weights / weights.sum()
    mean = float(weights @ nodes)
    below = np.cumsum(weights) - 0.5 * weights
    tail = 0.5 * (1.0 - level)
    low, high = np.interp([tail, 1.0 - tail], below, nodes)
    return Estimate(
        mean=mean,
        se=float(np.sqrt(weights @ (nodes - mean) ** 2)),
        interval=(float(low), float(high)),
    )
