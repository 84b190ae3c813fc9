"""Ratings with flat priors: REML, estimated marginal means, Satterthwaite's intervals."""

from collections.abc import Sequence

import numpy as np

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.mixed_model_cells import Model
from twobowls.statistics.mixed_model_kernel import Kernel
from twobowls.statistics.mixed_model_levels import Cells
from twobowls.statistics.mixed_model_moments import Moments, Reporter
from twobowls.statistics.mixed_model_reml import NoRemainderError, RemlFit, fit_reml
from twobowls.statistics.ratings_flights import apart_sentence, flight_groups
from twobowls.statistics.ratings_results import (
    CoffeeInRound,
    Contrast,
    Estimate,
    LevelMean,
    Means,
    Population,
    RatingFit,
)
from twobowls.statistics.ratings_terms import (
    assemble,
    check_random,
    flat_fixed,
    flat_random,
)

STEP = 1e-4
LEAST_DEGREES = 1e-3  # of freedom: with fewer, the deviance is level but for rounding


def fit_flat(
    cells: Cells, random: tuple[str, ...] | None, fixed: tuple[str, ...] | None, level: float
) -> RatingFit:
    """Fit by REML; see `twobowls.statistics.ratings.fit_ratings`."""
    fixed = flat_fixed(cells) if fixed is None else fixed
    cautions = _cautions_before(cells, random)
    random = flat_random(cells) if random is None else random
    check_random(cells, random)
    model = assemble(cells, random, fixed)
    keep = _independent_columns(model)
    _check_marks(cells, len(keep))
    kernel = Kernel(model, keep)
    weight = np.array([cells.rows / len(term.kept) for term in model.nested + model.dense])
    fit = _fit(kernel, cells.rows, weight)
    rounds = _rounds(cells, fixed)
    reporter = Reporter(model, kernel, len(rounds), crossed=False)
    _check_estimable(model, keep, reporter)
    return _Report(cells, model, fit, reporter, rounds, level).result(random, fixed, cautions)


def _fit(kernel: Kernel, rows: int, weight: FloatArray) -> RemlFit:
    try:
        return fit_reml(kernel, rows, weight)
    except NoRemainderError as error:
        raise InputError(
            "marks",
            "the named terms fit them without a remainder, so there is no variance to estimate",
            "Check the marks, name fewer terms, or use the weak prior",
        ) from error


def _rounds(cells: Cells, fixed: Sequence[str]) -> tuple[str, ...]:
    """Return rounds that get means of their own: those of a fixed round."""
    named = any("round" in name.split(":") for name in fixed)
    return cells.factors["round"].levels if named else ()


def _cautions_before(cells: Cells, random: tuple[str, ...] | None) -> list[str]:
    if random is None and len(cells.factors["taster"].levels) == 1:
        return ["One taster only: these numbers say nothing about other people."]
    return []


def _independent_columns(model: Model) -> IntArray:
    """Keep the fixed columns that are not sums of earlier ones (R's rule)."""
    start = model.crossed_columns
    stop = start + model.fixed_columns
    products = model.products[start:stop, start:stop].copy()
    scale = np.diagonal(products).copy()
    kept = []
    for column in range(len(products)):
        pivot = products[column, column]
        if pivot <= 1e-9 * max(scale[column], 1.0):
            continue
        kept.append(column)
        row = products[column].copy()
        products -= np.outer(row, row) / pivot
    return np.array(kept, dtype=np.intp)


def _check_marks(cells: Cells, columns: int) -> None:
    if cells.rows <= columns:
        raise InputError(
            "marks",
            f"{cells.rows} cannot settle {columns} fixed effects with a flat prior",
            "Add marks, name fewer fixed terms, or use the weak prior",
        )
    if cells.square_sum <= 1e-20 * (1.0 + cells.centre**2) * cells.rows:
        raise InputError(
            "marks",
            f"all {cells.rows} are the same ({cells.centre:g}): there is no variance to estimate",
            "Check the column, or use the weak prior",
        )


def _check_estimable(model: Model, keep: IntArray, reporter: Reporter) -> None:
    """Refuse coffee means that the fixed terms leave undetermined."""
    if len(keep) == model.fixed_columns:
        return
    start = model.crossed_columns
    stop = start + model.fixed_columns
    values, vectors = np.linalg.eigh(model.products[start:stop, start:stop])
    null = vectors[:, values < 1e-9 * values.max()]
    weights = reporter.every_column[:, start:stop]
    if np.abs(weights @ null).max() > 1e-7:
        apart = apart_sentence(flight_groups(model.cells))
        if apart is not None:
            raise InputError(
                "flight",
                f"{apart[0].lower()}{apart[1:]}, so their coffees cannot be compared",
                "Serve one coffee in both, leave the flight out, or use the weak prior",
            )
        raise InputError(
            "fixed",
            "the marks leave some coffee means undetermined "
            "(a combination of levels that was never tasted)",
            "Name fewer fixed terms, or use the weak prior",
        )


class _Report:
    """Turns a REML fit into the public result."""

    def __init__(
        self,
        cells: Cells,
        model: Model,
        fit: RemlFit,
        reporter: Reporter,
        rounds: Sequence[str],
        level: float,
    ) -> None:
        self.cells, self.model, self.fit, self.level = cells, model, fit, level
        self.coffees = cells.factors["coffee"].levels
        self.rounds = rounds
        free = fit.free
        points = np.repeat(fit.ratios[None], 1 + 2 * len(free), axis=0)
        for k, term in enumerate(free):
            points[1 + 2 * k, term] *= np.exp(STEP)
            points[2 + 2 * k, term] *= np.exp(-STEP)
        self.moments: Moments = reporter.moments(points)

    def _degrees(self, variances: FloatArray) -> float:
        """Satterthwaite's degrees of freedom from a variance at the points around the fit."""
        values = self.fit.variance * variances
        slopes = np.append((values[1::2] - values[2::2]) / (2 * STEP), values[0])
        spread = float(slopes @ self.fit.covariance @ slopes)
        if not 0.0 < spread * LEAST_DEGREES < 2.0 * float(values[0]) ** 2:
            raise InputError(
                "random",
                "the marks do not tell the variances of the random terms apart, "
                "so that nothing is known of the errors of means",
                "Name fewer random terms, or use the weak prior",
            )
        return 2.0 * float(values[0]) ** 2 / spread

    def _estimate(self, value: float, variances: FloatArray) -> tuple[Estimate, float]:
        """Estimate of a quantity, and the probability that it is above zero."""
        from scipy.special import stdtr, stdtrit

        se = max(self.fit.variance * float(variances[0]), 0.0) ** 0.5
        degrees = self._degrees(variances)
        half = float(stdtrit(degrees, 0.5 + self.level / 2)) * se
        return (
            Estimate(mean=value, se=se, interval=(value - half, value + half)),
            float(stdtr(degrees, value / se)),
        )

    def _means(self, population: Population) -> Means:
        part = self.moments.people if population == "people" else self.moments.table
        covariance, centre = part.covariance, self.cells.centre
        contrasts = []
        for a in range(len(self.coffees)):
            for b in range(a + 1, len(self.coffees)):
                apart = covariance[:, a, a] + covariance[:, b, b] - 2.0 * covariance[:, a, b]
                estimate, above = self._estimate(float(part.mean[0, a] - part.mean[0, b]), apart)
                contrasts.append(
                    Contrast(
                        a=self.coffees[a],
                        b=self.coffees[b],
                        estimate=estimate,
                        probability=above,
                    )
                )
        cells = [(c, r) for c in self.coffees for r in self.rounds]
        return Means(
            population=population,
            coffees=tuple(
                LevelMean(
                    level=name,
                    estimate=self._estimate(float(part.mean[0, c]) + centre, covariance[:, c, c])[
                        0
                    ],
                )
                for c, name in enumerate(self.coffees)
            ),
            contrasts=tuple(contrasts),
            rounds=tuple(
                CoffeeInRound(
                    coffee=c,
                    round=r,
                    estimate=self._estimate(
                        float(part.cell_mean[0, k]) + centre, part.cell_variance[:, k]
                    )[0],
                )
                for k, (c, r) in enumerate(cells)
            ),
        )

    def result(
        self, random: tuple[str, ...], fixed: tuple[str, ...], cautions: list[str]
    ) -> RatingFit:
        """Put the public result together."""
        fit = self.fit
        variances = dict(zip(self.model.random_names, fit.ratios * fit.variance, strict=True))
        variance = {name: float(variances[name]) for name in random} | {"residual": fit.variance}
        zero = [name for name in random if variance[name] == 0.0]
        if zero:
            cautions = [
                *cautions,
                f"The estimated variance of {', '.join(zero)} is zero; "
                "the intervals take it as known and may be too short.",
            ]
        people = self._means("people")
        covariance = fit.variance * self.moments.people.covariance[0]
        return RatingFit(
            rows=self.cells.rows,
            tasters=self.model.tasters,
            prior="flat",
            level=self.level,
            fixed=fixed,
            random=random,
            variance=variance,
            reml_deviance=fit.deviance,
            people=people,
            table=self._means("table"),
            covariance=tuple(tuple(map(float, row)) for row in covariance),
            share_above=self._shares(people, variance),
            cautions=tuple(cautions),
        )

    def _shares(self, people: Means, variance: dict[str, float]) -> dict[tuple[str, str], float]:
        """Share of people with a above b; needs the tasters' disagreement about coffees."""
        from scipy.special import ndtr

        spread = variance.get("taster:coffee", variance.get("coffee:taster", 0.0))
        if spread <= 0.0:
            return {}
        shares = {}
        for contrast in people.contrasts:
            sd = (contrast.estimate.se**2 + 2.0 * spread) ** 0.5
            above = float(ndtr(contrast.estimate.mean / sd))
            shares[contrast.a, contrast.b] = above
            shares[contrast.b, contrast.a] = 1.0 - above
        return shares
