"""The front door for category ratings: cumulative probit and logit, with or without tasters.

Ratings in ordered categories (a nine-point sheet, a typed-in import) are modelled as cuts of
a latent scale, so that no distance between categories is assumed.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from twobowls.counting import count_of
from twobowls.errors import InputError
from twobowls.statistics.doubtful_names import near_doubles
from twobowls.statistics.inputs import between, one_of, whole
from twobowls.statistics.ordinal_design import Design, Thresholds, build_design
from twobowls.statistics.ordinal_inputs import (
    Array,
    Factor,
    Ratings,
    read_factors,
    read_numbers,
    read_ratings,
)
from twobowls.statistics.ordinal_integrate import Averaged, integrate, plug_in, typical_spreads
from twobowls.statistics.ordinal_likelihood import pose
from twobowls.statistics.ordinal_link import LINKS, LinkName
from twobowls.statistics.ordinal_optimise import Target, Top, climb
from twobowls.statistics.ordinal_prior import OrdinalPrior, PriorName, choose_prior, penalise
from twobowls.statistics.ordinal_results import OrdinalFit, RandomMode, Spread
from twobowls.statistics.ordinal_scales import MOST_SCALES

__all__ = ["OrdinalFit", "OrdinalPrior", "RandomMode", "cross_labels", "fit_ordinal"]

_RUNAWAY = 50.0
_FEW = 5


def fit_ordinal(
    ratings: Iterable[object],
    fixed: Mapping[str, Iterable[object]] | None = None,
    random: Mapping[str, Iterable[object]] | None = None,
    *,
    X: Mapping[str, ArrayLike] | None = None,
    categories: Sequence[str] | None = None,
    reference: Mapping[str, str] | None = None,
    link: LinkName = "probit",
    thresholds: Thresholds = "flexible",
    quadrature: int = 1,
    prior: PriorName | OrdinalPrior = "weak",
    level: float = 0.90,
) -> OrdinalFit:
    """Fit a cumulative link model, with any number of random factors.

    Parameters
    ----------
    ratings : sequence (n,)
        One category a rating: whole numbers, or text with ``categories`` given.
    fixed : mapping of name to sequence (n,)
        Factors whose levels are compared (coffee, round), coded against their first level
        in order. An interaction is a factor of its own (see ``cross_labels``).
    random : mapping of name to sequence (n,)
        Factors whose levels are a sample (taster, taster:coffee, bowl), crossed or nested.
    X : mapping of name to array (n,), optional
        Numeric columns, each with one effect.
    categories : sequence of str, optional
        All categories, lowest first; those found, in order, when left out.
    reference : mapping of factor to level, optional
        Which level of a fixed factor the others are compared with.
    link : {"probit", "logit"}
        Distribution of the latent noise.
    thresholds : {"flexible", "equidistant"}
        Each on its own, or evenly spaced.
    quadrature : int
        1 for the Laplace approximation; more nodes for adaptive Gauss-Hermite quadrature,
        which needs exactly one random factor.
    prior : {"weak", "flat"} or OrdinalPrior
        ``flat`` is maximum likelihood. ``weak`` keeps small and separated tables finite and
        averages over the random factors' standard deviations.
    level : float
        Of intervals, between 0 and 1.

    Returns
    -------
    OrdinalFit

    Raises
    ------
    InputError
        For columns that do not fit together, effects that cannot be told apart, and, with a
        flat prior, ratings so well separated that no finite estimate exists.

    Notes
    -----
    P(rating <= j) = F(threshold_j - x'beta - z'b), b normal with one standard deviation a
    factor. McCullagh (1980), J. R. Stat. Soc. B 42, 109-142; mixed: Tutz and Hennevogl
    (1996), Comput. Stat. Data Anal. 22, 537-557 (both from memory). Standard errors come
    from the full curvature of the marginal likelihood.

    Examples
    --------
    >>> coffee = ["A"] * 6 + ["B"] * 6
    >>> taster = ["Ines", "Tomas", "Wen"] * 4
    >>> fit = fit_ordinal([1, 2, 2, 1, 3, 2, 3, 4, 3, 2, 4, 4], {"coffee": coffee},
    ...                   {"taster": taster}, prior="flat")
    >>> round(fit.coefficients["coffee=B"], 2)
    4.57
    >>> sorted(fit.random_sd)
    ['taster']

    With a weak prior the coffees are drawn together by a spread of their own:

    >>> weak = fit_ordinal([1, 2, 2, 1, 3, 2, 3, 4, 3, 2, 4, 4], {"coffee": coffee},
    ...                    {"taster": taster})
    >>> 1.0 < weak.coefficients["coffee=B"] < 4.0, 0.5 < weak.spreads["coffee"].mean < 3.0
    (True, True)
    """
    _check_options(link, thresholds, quadrature, len(random or {}))
    chosen = choose_prior(prior)
    between("level", level, 0, 1)
    read = read_ratings(ratings, categories)
    kept, cautions = _keep_categories(read, thresholds, chosen)
    rows = read.codes.size
    fixed_factors = read_factors("fixed", fixed or {}, rows, reference)
    random_factors = read_factors("random", random or {}, rows)
    _check_levels(fixed_factors, random_factors, chosen)
    design = build_design(
        kept, fixed_factors, read_numbers(X or {}, rows), random_factors, thresholds
    )
    problem = pose(design, LINKS[link], quadrature)
    penalty = penalise(design, LINKS[link], chosen)
    target = Target(problem, penalty, np.ones(problem.parameters, dtype=bool))
    # with a weak prior the averaging finds its own curvature, and a guess is enough here
    sharpen, start = chosen is None, _start(target, kept)
    top = climb(target, start, np.zeros(problem.layout.size), sharpen=sharpen)
    if top is not None and penalty.spans:
        spreads = typical_spreads(target, top)
        target = replace(target, penalty=penalty.with_spreads(spreads))
        top = climb(target, top.parameters, top.place.plain.modes.effects, sharpen=sharpen)
    if top is None or not _is_finite(design, target, top):
        raise _no_top(design, target, top)
    return _report(
        target,
        top,
        chosen,
        thresholds=thresholds,
        quadrature=quadrature,
        level=level,
        cautions=(*cautions, *_cautions(target, top, chosen)),
    )


def cross_labels(*columns: Iterable[object]) -> list[str]:
    """Return one label a row that names a combination: ``taster:coffee``, ``coffee:round``.

    Parameters
    ----------
    *columns : sequences (n,)
        The columns to combine.

    Returns
    -------
    list of str (n,)

    Raises
    ------
    InputError
        When the columns are not equally long.

    Examples
    --------
    >>> cross_labels(["Ines", "Wen"], ["A", "A"])
    ['Ines:A', 'Wen:A']
    """
    try:
        return [":".join(map(str, row)) for row in zip(*columns, strict=True)]
    except ValueError:
        raise InputError(
            "columns", "They are not equally long", "Give one entry for every rating"
        ) from None


def _check_options(link: str, thresholds: str, quadrature: int, factors: int) -> None:
    one_of("link", link, LINKS)
    one_of("thresholds", thresholds, ("flexible", "equidistant"))
    whole("quadrature", quadrature, 1, 100)
    if quadrature > 1 and factors != 1:
        raise InputError(
            "quadrature",
            f"{quadrature} nodes need exactly one random factor, and there are {factors}",
            "Use 1 (Laplace), or keep one random factor",
        )


def _check_levels(
    fixed: Sequence[Factor], random: Sequence[Factor], prior: OrdinalPrior | None
) -> None:
    if prior is not None and len(fixed) > MOST_SCALES:
        raise InputError(
            "fixed",
            f"{len(fixed)} factors are too many to average over how far each spreads",
            f'Keep {MOST_SCALES} at most, or use prior="flat"',
        )
    for kind, factors in (("fixed", fixed), ("random", random)):
        for factor in factors:
            if len(factor.levels) == 1 and (kind == "fixed" or prior is None):
                raise InputError(
                    f"{kind} {factor.name}",
                    f'There is only one level, "{factor.levels[0]}"',
                    "Give at least two, or leave the factor out",
                )


def _keep_categories(
    ratings: Ratings, thresholds: Thresholds, prior: OrdinalPrior | None
) -> tuple[Ratings, tuple[str, ...]]:
    """Drop what cannot be estimated with a flat prior; say so."""
    used = ratings.counts > 0
    needed = 2 if thresholds == "flexible" else 3
    known = len(ratings.categories) if prior else int(used.sum())
    if known < needed:
        given = ", ".join(np.array(ratings.categories)[used])
        raise InputError(
            "ratings",
            f"Only {given} was given" if used.sum() == 1 else f"Only {given} were given",
            f"At least {needed} categories are needed to compare anything",
        )
    if prior is not None or thresholds == "equidistant" or used.all():
        return ratings, ()
    names = np.array(ratings.categories)
    left = Ratings(tuple(str(each) for each in names[used]), np.cumsum(used)[ratings.codes] - 1)
    return left, (f"Never given, so left out: {', '.join(names[~used])}.",)


def _start(target: Target, ratings: Ratings) -> Array:
    """Start at the thresholds that the category shares suggest, with middling sds."""
    problem = target.problem
    basis, unit = problem.design.basis, problem.link.sd
    counts = ratings.counts + 0.5
    share = np.cumsum(counts)[:-1] / counts.sum()
    cuts = np.log(share / (1.0 - share)) * (unit / LINKS["logit"].sd)
    start = np.zeros(problem.parameters)
    start[: basis.shape[1]] = np.linalg.lstsq(basis, cuts, rcond=None)[0]
    start[problem.effects :] = 0.7 * unit
    return start


def _errors(top: Top) -> Array | None:
    """Return the standard errors of all parameters; None where the top is flat."""
    try:
        np.linalg.cholesky(top.curvature)
        return np.asarray(np.sqrt(np.diag(np.linalg.inv(top.curvature))))
    except np.linalg.LinAlgError:
        return None


def _is_finite(design: Design, target: Target, top: Top) -> bool:
    """Whether the climb ended at a top and not on a ridge that rises for ever."""
    errors = _errors(top)
    if errors is None or not top.settled:
        return False
    return bool((errors * _units(design, target) < _RUNAWAY * target.problem.link.sd).all())


def _units(design: Design, target: Target) -> Array:
    """Return what makes each parameter comparable: numeric columns by their spread."""
    units = np.ones(target.problem.parameters)
    first = target.problem.effects - len(design.numbers)
    if design.numbers:
        units[first : target.problem.effects] = design.spread[-len(design.numbers) :]
    return units


def _no_top(design: Design, target: Target, top: Top | None) -> InputError:
    cure = 'Use prior="weak", which gives finite answers with honest errors'
    errors = None if top is None else _errors(top)
    names = (*design.names, *(f"sd {factor.name}" for factor in design.random))
    if errors is None:
        return InputError("ratings", "The likelihood has no top that can be reached", cure)
    worst = names[int(np.argmax(errors * _units(design, target)))]
    return InputError(
        "ratings", f'They are so well separated that "{worst}" has no finite estimate', cure
    )


def _cautions(target: Target, top: Top, prior: OrdinalPrior | None) -> tuple[str, ...]:
    design = target.problem.design
    said = []
    for factor in (*design.fixed, *design.random):
        for one, other in near_doubles(factor.levels):
            said.append(
                f'"{one}" and "{other}" are counted as two levels of {factor.name}; are they one?'
            )
    for factor, sd in zip(design.random, top.parameters[target.problem.effects :], strict=True):
        if len(factor.levels) < _FEW:
            said.append(
                f"With {count_of(len(factor.levels), 'level')} of {factor.name}, how much "
                "they differ is "
                "hardly known."
            )
        if prior is None and sd < 1e-4:
            said.append(f"No variation between levels of {factor.name} was found.")
    if prior is not None:
        said.extend(_separated(target, top))
    return tuple(said)


def _separated(target: Target, top: Top) -> list[str]:
    """Say which levels of fixed factors have every rating at one end of the scale."""
    design = target.problem.design
    highest = len(design.categories) - 1
    said = []
    for factor in design.fixed:
        first = design.basis.shape[1] + design.columns[factor.name].start
        columns = -design.upper[:, first : first + len(factor.levels) - 1]
        level = np.where(columns.any(axis=1), columns.argmax(axis=1) + 1, 0)
        for code, name in enumerate(factor.levels):
            found = np.unique(design.category[level == code])
            if found.size == 1 and found[0] in (0, highest):
                said.append(
                    f'Every rating of {factor.name} "{name}" is '
                    f'"{design.categories[found[0]]}", an end of the scale: how far beyond it '
                    "lies comes from the prior."
                )
    if np.isfinite(top.place.value) and not top.settled:
        said.append("The search for the best fit stopped early; take the numbers as rough.")
    return said


def _report(
    target: Target,
    top: Top,
    prior: OrdinalPrior | None,
    *,
    thresholds: Thresholds,
    quadrature: int,
    level: float,
    cautions: tuple[str, ...],
) -> OrdinalFit:
    problem, design = target.problem, target.problem.design
    if prior is None:
        averaged = Averaged(plug_in(top), np.zeros(0), np.zeros(0))
    else:
        averaged = integrate(target, top)
    posterior = averaged.parameters
    mean, error = posterior.mean, np.sqrt(np.diag(posterior.covariance))
    split = problem.effects
    factors = [factor.name for factor in design.random]
    return OrdinalFit(
        link=problem.link.name,
        thresholds=thresholds,
        quadrature=quadrature,
        prior="flat" if prior is None else "weak",
        level=level,
        ratings=design.ratings,
        rows=design.weights.size,
        categories=design.categories,
        coefficients=dict(zip(design.names, mean[:split].tolist(), strict=True)),
        standard_errors=dict(zip(design.names, error[:split].tolist(), strict=True)),
        random_sd=dict(zip(factors, mean[split:].tolist(), strict=True)),
        random_sd_error=dict(zip(factors, error[split:].tolist(), strict=True)),
        spreads=_spreads(design, averaged),
        modes=_modes(target, top),
        log_likelihood=-top.place.plain.value,
        parameters=problem.parameters,
        posterior=posterior,
        cautions=cautions,
        target=target,
        top=top,
    )


def _spreads(design: Design, averaged: Averaged) -> dict[str, Spread]:
    found = zip(design.fixed, averaged.spreads, averaged.spread_errors, strict=False)
    return {each.name: Spread(mean=float(mean), se=float(se)) for each, mean, se in found}


def _modes(target: Target, top: Top) -> dict[str, tuple[RandomMode, ...]]:
    """Return the conditional modes and their sds on the latent scale."""
    modes, layout = top.place.plain.modes, target.problem.layout
    if modes.curvature is None:
        return {}
    value = modes.scale * modes.effects
    sd = modes.scale * np.sqrt(modes.curvature.inverse().diagonal())
    return {
        factor.name: tuple(
            RandomMode(level=level, mode=float(value[place]), sd=float(sd[place]))
            for level, place in zip(factor.levels, places, strict=True)
        )
        for factor, places in zip(target.problem.design.random, layout.places, strict=True)
    }
