"""Ratings with weak priors: all deviations integrated out, exact normal mixtures reported."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.mixed_model_levels import Cells
from twobowls.statistics.mixed_model_moments import Moments, Part, Reporter, joined_moments
from twobowls.statistics.ratings_care import Weighed, weigh_cells
from twobowls.statistics.ratings_flights import apart_sentence, flight_groups
from twobowls.statistics.ratings_integral import weigh_points
from twobowls.statistics.ratings_mixtures import (
    mixture_above,
    mixture_mean_sd,
    mixture_quantiles,
    node_quantiles,
)
from twobowls.statistics.ratings_results import (
    CoffeeInRound,
    Contrast,
    Estimate,
    LevelMean,
    Means,
    Population,
    RatingFit,
)
from twobowls.statistics.ratings_terms import STRETCH, levels_of, placing_terms, weak_terms
from twobowls.statistics.scale_mixtures import mixture_scales

NOTED = 0.7  # a weight below this is worth a sentence
NEGLIGIBLE = 3e-3  # the lightest points that weigh this together change nothing shown


@dataclass(frozen=True, slots=True)
class Nodes:
    """The posterior of the deviations as weighted nodes, with the moments at each.

    ``weights`` (K,), ``deviations`` (K, terms + 1) with the residual last; ``care`` (T,) how
    much each taster's marks count (see `ratings_care`), ``log_total`` the log of the integral.
    """

    weights: FloatArray
    deviations: FloatArray
    moments: Moments
    effective: float
    care: FloatArray
    log_total: float


def fit_weak(
    cells: Cells,
    random: tuple[str, ...] | None,
    fixed: tuple[str, ...] | None,
    width: float,
    level: float,
    *,
    placings: bool = False,
) -> RatingFit:
    """Fit with weak priors; see `twobowls.statistics.ratings.fit_ratings`.

    Every named term, fixed ones too, gets exchangeable effects with a deviation of its own.
    """
    terms = chosen_terms(cells, random, fixed)
    if placings and random is None:
        terms = (*terms, *placing_terms(cells))
    nodes, names = weak_nodes(cells, terms, width)
    return report_nodes(cells, terms, nodes, names, width, level)


def report_nodes(
    cells: Cells,
    terms: tuple[str, ...],
    nodes: Nodes,
    names: tuple[str, ...],
    width: float,
    level: float,
    slope: FloatArray | None = None,
) -> RatingFit:
    """Turn weighted nodes, as `weak_nodes` gives them, into the public result."""
    rounds = cells.factors["round"].levels if "round" in cells.factors else ()
    return _Report(cells, names, nodes, rounds, level, slope).result(terms, width)


def weak_nodes(
    cells: Cells, terms: tuple[str, ...], width: float, slope: FloatArray | None = None
) -> tuple[Nodes, tuple[str, ...]]:
    """Return the posterior of a model as weighted nodes, and the order of its deviations."""
    states = weigh_cells(cells, terms, width, slope)
    rounds = len(cells.factors["round"].levels) if "round" in cells.factors else 0
    found = [
        integrate(each, Reporter(each.model, each.posterior.kernel, rounds, crossed=True))
        for each in states
    ]
    return mixed_nodes(found), states[0].model.random_names


@dataclass(frozen=True, slots=True)
class ContrastMixtures:
    """Posteriors of all contrasts a - b (a before b) as mixtures of normals.

    ``weights`` (K,), ``means`` and ``sds`` (K, Q).
    """

    weights: FloatArray
    means: FloatArray
    sds: FloatArray


def contrast_mixtures(nodes: Nodes, population: Population) -> ContrastMixtures:
    """Take the contrasts' posteriors out of the nodes, for studies of calibration."""
    part = nodes.moments.people if population == "people" else nodes.moments.table
    first, second = np.triu_indices(part.mean.shape[1], 1)
    own = np.diagonal(part.covariance, axis1=1, axis2=2)
    apart = own[:, first] + own[:, second] - 2.0 * part.covariance[:, first, second]
    variance = np.maximum(apart, 0.0) * nodes.deviations[:, -1:] ** 2
    return ContrastMixtures(
        nodes.weights, part.mean[:, first] - part.mean[:, second], np.sqrt(variance)
    )


def chosen_terms(
    cells: Cells, random: tuple[str, ...] | None, fixed: tuple[str, ...] | None
) -> tuple[str, ...]:
    """Take the named terms, and the default ones of a kind that was not named."""
    default = weak_terms(cells)
    apart = [name for name in default if "taster" not in name.split(":") and name != "bowl"]
    within = [name for name in default if name not in apart]
    chosen: list[str] = []
    for name in (*(apart if fixed is None else fixed), *(within if random is None else random)):
        if all(set(name.split(":")) != set(other.split(":")) for other in chosen):
            chosen.append(name)
    return tuple(chosen)


def integrate(weighed: Weighed, reporter: Reporter) -> Nodes:
    """Weigh points over the deviations of one state and take the moments at those that count."""
    posterior = weighed.posterior
    found = weigh_points(posterior, weighed.peak)
    keep = found.weights > found.weights[_light(found.weights)].max(initial=0.0)
    z, weights = found.z[keep], found.weights[keep] / found.weights[keep].sum()
    moments = reporter.moments(posterior.ratios(z)[0])
    deviations = posterior.prior.deviations(z).values
    log_total = weighed.log_prior + found.log_total
    return Nodes(weights, deviations, moments, found.effective, weighed.weights, log_total)


def mixed_nodes(states: Sequence[Nodes]) -> Nodes:
    """Put the nodes of all states of the tasters together, by the states' shares."""
    if len(states) == 1:
        return states[0]
    logs = np.array([each.log_total for each in states])
    log_total = float(np.logaddexp.reduce(logs))
    shares = np.exp(logs - log_total)
    return Nodes(
        np.concatenate([share * each.weights for share, each in zip(shares, states, strict=True)]),
        np.concatenate([each.deviations for each in states]),
        joined_moments([each.moments for each in states]),
        float(shares @ [each.effective for each in states]),
        1.0 - np.asarray(shares @ [1.0 - each.care for each in states]),  # steady: exactly 1
        log_total,
    )


def _light(weights: FloatArray) -> IntArray:
    """Return the lightest points, which together weigh next to nothing."""
    order = np.argsort(weights)
    count = int(np.searchsorted(np.cumsum(weights[order]), NEGLIGIBLE))
    return order[:count]


class _Report:
    """Turns weighted nodes into the public result."""

    def __init__(
        self,
        cells: Cells,
        names: tuple[str, ...],
        nodes: Nodes,
        rounds: tuple[str, ...],
        level: float,
        slope: FloatArray | None,
    ) -> None:
        self.cells, self.names, self.nodes, self.level = cells, names, nodes, level
        self.slope = slope
        self.coffees = cells.factors["coffee"].levels
        self.rounds = rounds
        self.residual = nodes.deviations[:, -1] ** 2
        first, second = np.triu_indices(len(self.coffees), 1)
        self.pairs = list(zip(first.tolist(), second.tolist(), strict=True))
        self.first, self.second = first, second

    def _parts(self, part: Part) -> tuple[FloatArray, FloatArray]:
        """Means and sds (K, Q) of coffees, contrasts and rounds, in this order."""
        own = np.diagonal(part.covariance, axis1=1, axis2=2)
        first, second = self.first, self.second
        apart = own[:, first] + own[:, second] - 2.0 * part.covariance[:, first, second]
        variance = np.concatenate([own, apart, part.cell_variance], axis=1)
        mean = np.concatenate(
            [part.mean, part.mean[:, first] - part.mean[:, second], part.cell_mean], axis=1
        )
        return mean, np.sqrt(np.maximum(variance, 0.0) * self.residual[:, None])

    def means(self, population: Population) -> Means:
        """All coffees, contrasts and rounds of one population."""
        count, pairs = len(self.coffees), len(self.pairs)
        contrast = slice(count, count + pairs)
        moments = self.nodes.moments
        mean, sd = self._parts(moments.people if population == "people" else moments.table)
        above = mixture_above(self.nodes.weights, mean[:, contrast], sd[:, contrast])
        mean += self.cells.centre
        mean[:, contrast] -= self.cells.centre
        estimates = self._estimates(mean, sd)
        scales = mixture_scales(self.nodes.weights, mean[:, :count], sd[:, :count]).tolist()
        return Means(
            population=population,
            coffees=tuple(
                LevelMean(level=name, estimate=estimate, scales=tuple(own))
                for name, estimate, own in zip(self.coffees, estimates[:count], scales, strict=True)
            ),
            contrasts=tuple(
                Contrast(
                    a=self.coffees[a],
                    b=self.coffees[b],
                    estimate=estimates[count + k],
                    probability=float(above[k]),
                )
                for k, (a, b) in enumerate(self.pairs)
            ),
            rounds=tuple(
                CoffeeInRound(coffee=c, round=r, estimate=estimate)
                for (c, r), estimate in zip(
                    [(c, r) for c in self.coffees for r in self.rounds],
                    estimates[count + pairs :],
                    strict=True,
                )
            ),
        )

    def _estimates(self, mean: FloatArray, sd: FloatArray) -> list[Estimate]:
        weights = self.nodes.weights
        centre, spread = mixture_mean_sd(weights, mean, sd)
        low = mixture_quantiles(weights, mean, sd, 0.5 - self.level / 2)
        high = mixture_quantiles(weights, mean, sd, 0.5 + self.level / 2)
        return [
            Estimate(mean=float(m), se=float(s), interval=(float(a), float(b)))
            for m, s, a, b in zip(centre, spread, low, high, strict=True)
        ]

    def _covariance(self) -> FloatArray:
        """Posterior covariance of the coffee means, for people."""
        weights, people = self.nodes.weights, self.nodes.moments.people
        within = np.tensordot(weights * self.residual, people.covariance, axes=1)
        away = people.mean - weights @ people.mean
        return np.asarray(within + (away * weights[:, None]).T @ away)

    def _shares(self) -> dict[tuple[str, str], float]:
        """Share of people with a above b, over what is known of means and disagreement."""
        from scipy.special import ndtr

        terms = [set(name.split(":")) for name in self.names]
        if {"taster", "coffee"} not in terms or not self.pairs:
            return {}
        own = 2.0 * self.nodes.deviations[:, [terms.index({"taster", "coffee"})]] ** 2
        if self.slope is not None:
            apart = self.slope[self.first] - self.slope[self.second]
            own = own + (self.nodes.deviations[:, [terms.index({STRETCH})]] * apart) ** 2
        mean, sd = self._parts(self.nodes.moments.people)
        contrast = slice(len(self.coffees), len(self.coffees) + len(self.pairs))
        mean, sd = mean[:, contrast], sd[:, contrast]
        above = self.nodes.weights @ ndtr(mean / np.sqrt(sd**2 + own))
        shares = {}
        for (a, b), share in zip(self.pairs, above.tolist(), strict=True):
            shares[self.coffees[a], self.coffees[b]] = share
            shares[self.coffees[b], self.coffees[a]] = 1.0 - share
        return shares

    def _weights(self) -> dict[str, float]:
        """Return the weights of those tasters whose marks count for less."""
        names = self.cells.factors["taster"].levels
        pairs = zip(names, self.nodes.care.tolist(), strict=True)
        return {name: weight for name, weight in pairs if weight < 1.0}

    def result(self, terms: tuple[str, ...], width: float) -> RatingFit:
        """Put the public result together."""
        variances = self.nodes.deviations**2
        names = [*self.names, "residual"]
        mean = dict(zip(names, (self.nodes.weights @ variances).tolist(), strict=True))
        low = node_quantiles(self.nodes.weights, variances, 0.5 - self.level / 2)
        high = node_quantiles(self.nodes.weights, variances, 0.5 + self.level / 2)
        bounds = dict(zip(names, zip(low.tolist(), high.tolist(), strict=True), strict=True))
        order = (*terms, "residual")
        return RatingFit(
            rows=self.cells.rows,
            tasters=len(self.cells.factors["taster"].levels),
            prior="weak",
            level=self.level,
            fixed=(),
            random=terms,
            variance={name: mean[name] for name in order},
            variance_interval={name: bounds[name] for name in order},
            people=self.means("people"),
            table=self.means("table"),
            covariance=tuple(tuple(row) for row in self._covariance().tolist()),
            share_above=self._shares(),
            weights=self._weights(),
            cautions=_cautions(self.cells, width, self.nodes),
        )


def _cautions(cells: Cells, width: float, nodes: Nodes) -> tuple[str, ...]:
    """Sentences that must stand beside the numbers."""
    found = []
    tasters = len(cells.factors["taster"].levels)
    if tasters == 1:
        found.append(
            "One taster only: what other people would say is mostly a guess from the prior."
        )
    elif tasters < 4:
        found.append(f"Only {tasters} tasters: little is known about other people.")
    apart = apart_sentence(flight_groups(cells))
    if apart is not None:
        found.append(
            f"{apart}, so their coffees cannot be compared by these marks: such differences "
            "rest on the belief that flights are marked much alike."
        )
    if levels_of(cells, "taster:coffee") == cells.rows:
        found.append(
            "Nobody marked a coffee twice, so a taster's slips and a taster's own opinion "
            "are told apart by the prior alone."
        )
    if cells.square_sum <= 1e-12 * width**2 * cells.rows and cells.rows > 1:
        found.append("All marks are the same: the intervals rest on the prior.")
    if cells.rows == 1:
        found.append("One mark only: nearly everything here is the prior.")
    careless = int(np.count_nonzero(nodes.care < NOTED))
    if careless > 0:
        who = "one taster" if careless == 1 else f"{careless} tasters"
        found.append(
            f"The marks of {who} scatter far more than the others', so they count for less."
        )
    if nodes.effective < 100.0:
        found.append("The numerical integration is rough here; read the intervals loosely.")
    return tuple(found)
