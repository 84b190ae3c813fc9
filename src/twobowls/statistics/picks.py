"""The front door for picks: which of two coffees has more, or is liked better.

Bradley-Terry abilities with Davidson's ties, by maximum likelihood or with a weak prior that
keeps a coffee that always wins at a finite place.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from twobowls.errors import InputError
from twobowls.statistics.doubtful_names import near_doubles
from twobowls.statistics.inputs import between, one_of
from twobowls.statistics.mixtures import blend, single
from twobowls.statistics.picks_grid import place_nodes
from twobowls.statistics.picks_marginal import climb_marginal
from twobowls.statistics.picks_peak import Peak, Question, answer_shares, climb
from twobowls.statistics.picks_results import Dependence, JointFit, PicksFit
from twobowls.statistics.picks_table import (
    SAME,
    Array,
    PickTable,
    count_picks,
    tabulate_picks,
)
from twobowls.statistics.ratings_results import Estimate

__all__ = [
    "SAME",
    "JointFit",
    "PickTable",
    "PicksFit",
    "PicksPrior",
    "count_picks",
    "fit_picks",
    "tabulate_picks",
]

# spreads over the scale of their prior
_NARROWEST, _WIDEST_SPREAD = 0.01, 4.0
_ABILITIES, _SPREADS = 6, 7
_MOST_ROWS = 30_000


@dataclass(frozen=True, slots=True, kw_only=True)
class PicksPrior:
    """How far abilities may plausibly lie apart, in log-odds.

    Parameters
    ----------
    ability_sd : float
        Scale of the half-normal prior of how far the coffees spread (their standard deviation
        around their common middle); that spread is integrated out.
    tie_sd : float
        Of the log tie weight around 0 (equal coffees the same one time in three).
    order_sd : float
        Of what being put first adds.
    spread : float
        Scale of the half-normal prior of how much one taster's odds for a coffee deviate.

    Notes
    -----
    Our own choice: with a spread of 1.5, two coffees are 2.1 apart in the typical case, which
    is one being picked nine times in ten. A half-normal prior allows a spread of zero, so that
    coffees that are all alike are drawn together and seldom set apart by chance.

    Examples
    --------
    >>> PicksPrior(ability_sd=0)
    Traceback (most recent call last):
    ...
    twobowls.errors.InputError: prior: ability_sd is 0. Give a number above zero.
    """

    ability_sd: float = 1.5
    tie_sd: float = 1.5
    order_sd: float = 1.0
    spread: float = 1.0

    def __post_init__(self) -> None:
        for name in ("ability_sd", "tie_sd", "order_sd", "spread"):
            value = getattr(self, name)
            if not (np.isfinite(value) and value > 0):
                raise InputError("prior", f"{name} is {value}", "Give a number above zero")


def fit_picks(
    table: PickTable,
    *,
    ties: Literal["davidson", "half"] = "davidson",
    order: bool = False,
    dependence: Dependence = "independent",
    prior: Literal["weak", "flat"] | PicksPrior = "weak",
    level: float = 0.90,
) -> PicksFit:
    """Fit abilities to picks.

    Parameters
    ----------
    table : PickTable
        From ``count_picks`` or ``tabulate_picks``; one sensation and one question at a time.
    ties : {"davidson", "half"}
        A tie weight of its own, or every tie half a pick for each.
    order : bool
        Whether being put first adds something.
    dependence : {"independent", "tasters", "spread"}
        What is assumed of picks by one taster. ``independent``: every pick is a witness of
        its own. ``tasters``: each taster adds something of their own to each coffee, the
        same in all their picks (needs tasters and a weak prior). ``spread``: errors are
        widened by the root of the dispersion between rows, where above 1.
    prior : {"weak", "flat"} or PicksPrior
        ``flat`` is maximum likelihood.
    level : float
        Of intervals, between 0 and 1.

    Returns
    -------
    PicksFit

    Raises
    ------
    InputError
        When options do not go together and, with a flat prior, when some coffees were never
        picked over some others, so that no finite abilities exist.

    Notes
    -----
    Bradley and Terry (1952), Biometrika 39, 324-345; ties: Davidson (1970), J. Am. Stat.
    Assoc. 65, 317-328; when estimates exist: Ford (1957), Am. Math. Mon. 64(8), 28-33 (all
    from memory). With a weak prior the coffees' spread is integrated out on a grid; with
    ``tasters``, theirs too, and their deviations by an average over points.

    Examples
    --------
    >>> table = tabulate_picks(["A", "B", "A"], ["B", "C", "C"], [8, 7, 9], [2, 3, 1])
    >>> fit = fit_picks(table, prior="flat")
    >>> [(each.level, round(each.estimate.mean, 2)) for each in fit.against("C")]
    [('A', 2.22), ('B', 0.84), ('C', 0.0)]
    >>> round(fit.contrasts[0].probability, 2)
    0.98
    """
    one_of("ties", ties, ("davidson", "half"))
    one_of("dependence", dependence, ("independent", "tasters", "spread"))
    between("level", level, 0, 1)
    chosen = _choose(prior)
    _check_dependence(table, dependence, chosen)
    if chosen is None:
        _check_connected(table)
    model = _Model(table, ties == "davidson" and bool(table.same.any()), order, chosen)
    spread = None
    if chosen is None:
        peaks = [(0.0, climb(model.ask(0.0)))]
    elif dependence == "tasters":
        peaks, spread = _over_both(model, chosen, level)
    else:
        peaks = _over_abilities(model)
    if not any(peak.settled for _, peak in peaks):
        raise InputError("picks", "The search for the abilities did not settle", 'Use prior="weak"')
    return _report(model, peaks, spread, dependence, level)


def _choose(prior: str | PicksPrior) -> PicksPrior | None:
    if isinstance(prior, PicksPrior):
        return prior
    return PicksPrior() if one_of("prior", prior, ("weak", "flat")) == "weak" else None


def _check_dependence(table: PickTable, dependence: str, prior: PicksPrior | None) -> None:
    if dependence != "tasters":
        return
    if len(table.tasters) < 2:
        raise InputError(
            "dependence",
            "It is not known who picked, or one taster made all picks",
            'Name the tasters when counting, or use "independent" or "spread"',
        )
    if table.first.size > _MOST_ROWS:
        raise InputError(
            "dependence",
            f"{table.first.size} different pairs of {len(table.tasters)} tasters are too many to "
            "average over what each taster adds",
            f'Use dependence="spread", or fewer tasters (up to {_MOST_ROWS} rows)',
        )
    if prior is None:
        raise InputError(
            "dependence",
            'Deviations of single tasters need prior="weak"',
            'Use prior="weak", or "spread" with a flat prior',
        )


def _reach(over: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> list[list[int]]:
    """Return, for each coffee, all it stands over by a chain of picks, itself included."""
    reach = over | np.eye(over.shape[0], dtype=bool)
    for _ in range(int(np.ceil(np.log2(max(over.shape[0], 2)))) + 1):
        reach = (reach.astype(int) @ reach.astype(int)) > 0
    return [np.flatnonzero(row).tolist() for row in reach]


def _check_connected(table: PickTable) -> None:
    """Refuse tables without finite estimates: Ford's condition, and ties alone."""
    if not (table.for_first.any() or table.for_second.any()):
        raise InputError(
            "picks",
            "Every pick is a tie, so that ties are infinitely likely",
            'Use prior="weak", which gives finite answers with honest errors',
        )
    for coffee, below in enumerate(_reach(table.wins > 0)):
        missing = [name for i, name in enumerate(table.coffees) if i not in below]
        if missing:
            raise InputError(
                "picks",
                f'No chain of picks puts "{table.coffees[coffee]}" over '
                f'"{missing[0]}", so their abilities lie infinitely far apart',
                'Use prior="weak", which gives finite answers with honest errors',
            )


class _Model:
    """A table with its options: what to ask the climber, and how to read its answer."""

    def __init__(self, table: PickTable, ties: bool, order: bool, prior: PicksPrior | None) -> None:
        size = len(table.coffees)
        self.table, self.ties, self.order, self.prior = table, ties, order, prior
        # an orthonormal basis of the abilities that sum to zero
        self.basis = np.linalg.svd(np.eye(size) - 1.0 / size)[0][:, : size - 1]
        scale = 1.0 if prior is None else prior.ability_sd
        self.columns = scale * self.basis
        design = self.columns[table.first] - self.columns[table.second]
        self.design = np.hstack([design, np.ones((design.shape[0], int(order)))])
        half = 0.0 if ties else 0.5 * table.same
        self.answers = np.array(
            [table.for_first + half, table.for_second + half, table.same * float(ties)]
        )

    def ask(self, spread: float, ability: float = 1.0) -> Question:
        """Return the question at one spread of the tasters' deviations.

        ``ability`` is that of the coffees, in units of its prior scale.
        """
        table, prior = self.table, self.prior
        free = self.design.shape[1] + int(self.ties)
        precision = np.zeros(free)
        if prior is not None:
            precision[: self.basis.shape[1]] = ability**-2.0
            if self.order:
                precision[self.basis.shape[1]] = prior.order_sd**-2
            if self.ties:
                precision[-1] = prior.tie_sd**-2
        return Question(
            design=self.design,
            offset=np.zeros(self.design.shape[0]),
            answers=self.answers,
            precision=precision,
            centre=np.zeros(free),
            ties=self.ties,
            sway=spread * (self.basis[table.first] - self.basis[table.second])
            if spread
            else np.zeros((table.first.size, 0)),
            taster=table.taster,
        )

    def expected(self, theta: Array) -> Array:
        """Return the expected answers of every row: (3, m)."""
        odds = self.design @ theta[: self.design.shape[1]]
        tie = float(theta[-1]) if self.ties else -np.inf
        return np.asarray(answer_shares(odds, tie) * self.answers.sum(axis=0))

    def log_prior(self, ability: float) -> float:
        """Return the log prior density of a spread of the coffees, with the abilities' constant."""
        return float(-self.basis.shape[1] * np.log(ability) - 0.5 * ability**2)


def _over_abilities(model: _Model) -> list[tuple[float, Peak]]:
    """Return peaks over a grid of the coffees' spread, with log weights."""
    near = climb(model.ask(0.0)).theta

    def log_density(ability: float) -> float:
        return climb(model.ask(0.0, ability), near).log_evidence + model.log_prior(ability)

    nodes, logs = place_nodes(log_density, _NARROWEST, _WIDEST_SPREAD)
    peaks = [climb(model.ask(0.0, float(node)), near) for node in nodes]
    return [
        (log_weight + peak.log_evidence + model.log_prior(float(node)), peak)
        for node, log_weight, peak in zip(nodes, logs, peaks, strict=True)
    ]


def _over_both(
    model: _Model, prior: PicksPrior, level: float
) -> tuple[list[tuple[float, Peak]], Estimate]:
    """Return peaks over a grid of both spreads, with log weights, and that of the tasters."""
    near = climb(model.ask(0.0)).theta
    middling = 0.7 * prior.spread

    def of_ability(ability: float) -> float:
        asked = model.ask(middling, ability)
        return climb(asked, near).log_evidence + model.log_prior(ability)

    abilities, ability_logs = place_nodes(of_ability, _NARROWEST, _WIDEST_SPREAD, _ABILITIES)
    heights = ability_logs + np.array([of_ability(float(each)) for each in abilities])
    typical = float(abilities[int(np.argmax(heights))])

    def log_prior(spread: float) -> float:
        return -0.5 * (spread / prior.spread) ** 2

    def of_spread(spread: float) -> float:
        peak = climb_marginal(model.ask(spread, typical), near)
        return peak.log_evidence + log_prior(spread)

    spreads, spread_logs = place_nodes(of_spread, 0.0, _WIDEST_SPREAD * prior.spread, _SPREADS)
    found, weights = [], np.full(spreads.size, -np.inf)
    for one, spread in enumerate(spreads.tolist()):
        for ability, ability_log in zip(abilities.tolist(), ability_logs, strict=True):
            peak = climb_marginal(model.ask(spread, ability), near)
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


def _report(
    model: _Model,
    peaks: list[tuple[float, Peak]],
    spread: Estimate | None,
    dependence: Dependence,
    level: float,
) -> PicksFit:
    table = model.table
    theta = blend(
        [height for height, _ in peaks],
        [peak.theta for _, peak in peaks],
        [peak.covariance for _, peak in peaks],
    )
    dispersion, deviance, df = _misfit(model, theta.mean)
    if dependence == "spread":
        theta = single(theta.mean, theta.covariance * max(1.0, dispersion))
    inside = model.basis.shape[1]
    widen = np.hstack([model.columns, np.zeros((model.columns.shape[0], theta.mean.size - inside))])
    ends = np.eye(theta.mean.size)
    return PicksFit(
        coffees=table.coffees,
        picks=table.picks,
        prior="flat" if model.prior is None else "weak",
        dependence=dependence,
        level=level,
        tie=theta.estimate(ends[-1], level) if model.ties else None,
        order=theta.estimate(ends[inside], level) if model.order else None,
        spread=spread,
        dispersion=dispersion,
        deviance=deviance,
        residual_df=df,
        log_likelihood=max(peaks, key=lambda pair: pair[0])[1].log_likelihood,
        cautions=_cautions(model, dependence, dispersion),
        posterior=theta.project(widen),
    )


def _misfit(model: _Model, theta: Array) -> tuple[float, float, int]:
    """Return dispersion, deviance and residual degrees of freedom between rows."""
    expected, seen = model.expected(theta), model.answers
    kinds = 2 + int(model.ties)
    df = seen.shape[1] * (kinds - 1) - theta.size
    with np.errstate(divide="ignore", invalid="ignore"):
        off = np.where(expected > 0, (seen - expected) ** 2 / expected, 0.0)
        logs = np.where(seen > 0, seen * np.log(seen / expected), 0.0)
    return float(off.sum()) / df if df > 0 else 1.0, 2.0 * float(logs.sum()), max(df, 0)


def _cautions(model: _Model, dependence: Dependence, dispersion: float) -> tuple[str, ...]:
    table, said = model.table, []
    for kind, names in (("coffees", model.table.coffees), ("tasters", model.table.tasters)):
        said += [
            f'"{one}" and "{other}" are counted as two {kind}; are they one?'
            for one, other in near_doubles(names)
        ]
    if model.prior is not None:
        loose = _reach((table.wins + table.wins.T) > 0)[0]
        missing = [name for i, name in enumerate(table.coffees) if i not in loose]
        if missing:
            said.append(
                f'No chain of picks joins "{table.coffees[0]}" and "{missing[0]}": how they '
                "compare comes from the prior."
            )
        for i, name in enumerate(table.coffees):
            if not table.wins[i].any() or not table.wins[:, i].any():
                always = "always" if table.wins[i].any() else "never"
                said.append(
                    f'"{name}" was {always} picked: how far it stands out comes from the prior.'
                )
    if dependence == "independent" and len(table.tasters) > 1 and dispersion > 1.5:
        said.append(
            "Tasters differ more than chance allows; errors that treat every pick as a witness "
            "of its own are too small."
        )
    return tuple(said)
