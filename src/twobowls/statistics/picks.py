"""The front door for picks: which of two coffees has more, or is liked better.

Bradley-Terry abilities with Davidson's ties, by maximum likelihood or with a weak prior that
keeps a coffee that always wins at a finite place.
"""

from typing import Literal

import numpy as np

from twobowls.errors import InputError
from twobowls.statistics.doubtful_names import near_doubles
from twobowls.statistics.inputs import between, one_of
from twobowls.statistics.mixtures import blend, single
from twobowls.statistics.picks_average import over_abilities, over_both
from twobowls.statistics.picks_model import PickModel, PicksPrior
from twobowls.statistics.picks_peak import Peak, climb
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

_MOST_ROWS = 30_000


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
    model = PickModel(table, ties == "davidson" and bool(table.same.any()), order, chosen)
    spread = None
    if chosen is None:
        _check_order(model)
        peaks = [(0.0, climb(model.ask(0.0)))]
    elif dependence == "tasters":
        _check_size(model)
        peaks, spread = over_both(model, chosen, level)
    else:
        peaks = over_abilities(model)
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
    if prior is None:
        raise InputError(
            "dependence",
            'Deviations of single tasters need prior="weak"',
            'Use prior="weak", or "spread" with a flat prior',
        )


def _check_order(model: PickModel) -> None:
    """Refuse, with a flat prior, an order that says the same as some abilities."""
    design = model.ask(0.0).design
    if model.order and np.linalg.matrix_rank(design) < design.shape[1]:
        raise InputError(
            "order",
            "What being put first adds cannot be told from the coffees, as the pairs were put",
            'Put pairs both ways round, use order=False, or use prior="weak"',
        )


def _check_size(model: PickModel) -> None:
    rows = model.by_taster.first.size
    if rows > _MOST_ROWS:
        raise InputError(
            "dependence",
            f"{rows} different pairs of {len(model.table.tasters)} tasters are too many to "
            "average over what each taster adds",
            f'Use dependence="spread", or fewer tasters (up to {_MOST_ROWS} rows)',
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


def _report(
    model: PickModel,
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


def _misfit(model: PickModel, theta: Array) -> tuple[float, float, int]:
    """Return dispersion, deviance and residual degrees of freedom between rows."""
    expected, seen = model.expected(theta), model.answers
    kinds = 2 + int(model.ties)
    df = seen.shape[1] * (kinds - 1) - theta.size
    with np.errstate(divide="ignore", invalid="ignore"):
        off = np.where(expected > 0, (seen - expected) ** 2 / expected, 0.0)
        logs = np.where(seen > 0, seen * np.log(seen / expected), 0.0)
    return float(off.sum()) / df if df > 0 else 1.0, 2.0 * float(logs.sum()), max(df, 0)


def _cautions(model: PickModel, dependence: Dependence, dispersion: float) -> tuple[str, ...]:
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
