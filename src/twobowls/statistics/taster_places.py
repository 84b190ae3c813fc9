"""Where each taster puts each coffee, given the marks: one normal distribution for the table.

The model is that of a rating fit, with its variances taken as they are. Effects that tasters
share are worked out together, then each taster's own one by one, so that the work grows with
the number of tasters only linearly. Knows nothing of picks.
"""

from dataclasses import dataclass

import numpy as np

from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.mixed_model_levels import Factor, combine, encode
from twobowls.statistics.ratings_columns import RatingColumns, checked_values
from twobowls.statistics.ratings_results import Population, RatingFit

_WIDE = 1e3  # a fixed effect's variance, in variances of the marks: as good as unknown


@dataclass(frozen=True, slots=True)
class Places:
    """T tasters' places for C coffees, given the q effects that all share.

    ``shared`` (q,) and ``covariance`` (q, q) are those effects; people like these put coffee c
    at ``lift[c] @ shared``. Taster i departs from there by ``start[i] - pull[i] @ shared``
    (C,), with covariance ``spread[i]`` (C, C) given the shared effects.
    """

    tasters: tuple[str, ...]
    coffees: tuple[str, ...]
    shared: FloatArray
    covariance: FloatArray
    lift: FloatArray
    start: FloatArray
    pull: FloatArray
    spread: FloatArray

    @property
    def own(self) -> FloatArray:
        """How each taster is expected to depart from people like these, (T, C)."""
        return np.asarray(self.start - self.pull @ self.shared)

    def share(self, population: Population) -> float:
        """Return the weight of each taster's own part in the means of a population."""
        return 1.0 / len(self.tasters) if population == "table" else 0.0

    def map(self, population: Population) -> FloatArray:
        """Return what the means of a population take of the shared effects, (C, q)."""
        return np.asarray(self.lift - self.share(population) * self.pull.sum(axis=0))

    def moments(self, population: Population) -> tuple[FloatArray, FloatArray]:
        """Return the coffees' means (C,) for a population, and their covariance (C, C)."""
        share, map_ = self.share(population), self.map(population)
        mean = self.lift @ self.shared + share * self.own.sum(axis=0)
        covariance = map_ @ self.covariance @ map_.T + share**2 * self.spread.sum(axis=0)
        return np.asarray(mean), np.asarray(covariance)


def taster_places(
    columns: RatingColumns, fit: RatingFit, scale: tuple[float, float] = (0.0, 100.0)
) -> Places:
    """Return where each taster puts each coffee.

    Parameters
    ----------
    columns : RatingColumns
        The marks.
    fit : RatingFit
        Their fit: its mean variances and its weights of tasters are taken as they are.
    scale : tuple of float
        Both ends of the scale.

    Returns
    -------
    Places
        On the scale of the marks. Bowls, places in the order and flights are averaged away.

    Examples
    --------
    >>> from twobowls.statistics.ratings import fit_ratings
    >>> columns = RatingColumns(
    ...     y=[62, 41, 70, 55, 66, 38, 50, 74],
    ...     taster=["Ada", "Ada", "Bo", "Bo", "Cy", "Cy", "Di", "Di"],
    ...     coffee=["A", "B"] * 4,
    ... )
    >>> places = taster_places(columns, fit_ratings(columns))
    >>> di = places.lift @ places.shared + places.own[3]
    >>> table, _ = places.moments("table")
    >>> bool(di[0] - di[1] < table[0] - table[1])
    True
    """
    values = checked_values(columns, scale)
    factors = {name: encode(name, labels) for name, labels in columns.factors().items()}
    wide = _WIDE * (float(np.var(values)) + 1.0)
    sizes = {name: size for name, size in fit.variance.items() if name != "residual"}
    sizes |= dict.fromkeys(fit.fixed, wide)
    shared = {name: size for name, size in sizes.items() if "taster" not in name.split(":")}
    own = {name: size for name, size in sizes.items() if "taster" in name.split(":")}
    noise = max(fit.variance["residual"], 1e-9)
    design, precision = _shared_design(factors, shared, wide)
    tasters = [
        _Taster.of(values, factors, own, noise / fit.weights.get(name, 1.0), design, rows)
        for name, rows in zip(factors["taster"].levels, _rows_of(factors["taster"]), strict=True)
    ]
    system = np.diag(precision) + sum(each.gram for each in tasters)
    covariance = np.asarray(np.linalg.inv(system), dtype=np.float64)
    return Places(
        tasters=factors["taster"].levels,
        coffees=factors["coffee"].levels,
        shared=covariance @ np.sum([each.response for each in tasters], axis=0),
        covariance=covariance,
        lift=_lift(factors, shared),
        start=np.array([each.start for each in tasters]),
        pull=np.array([each.pull for each in tasters]),
        spread=np.array([each.spread for each in tasters]),
    )


def _rows_of(taster: Factor) -> list[IntArray]:
    order = np.argsort(taster.codes, kind="stable")
    counts = np.bincount(taster.codes, minlength=len(taster.levels))
    return list(np.split(order, np.cumsum(counts)[:-1]))


def _shared_design(
    factors: dict[str, Factor], shared: dict[str, float], wide: float
) -> tuple[FloatArray, FloatArray]:
    """Return the shared effects' columns (n, q), the intercept first, and their precisions."""
    blocks, precision = [np.ones((len(factors["taster"].codes), 1))], [np.array([1.0 / wide])]
    for name, size in shared.items():
        codes, grid = combine([factors[part] for part in name.split(":")])
        blocks.append(np.eye(grid)[codes])
        precision.append(np.full(grid, 1.0 / max(size, 1e-9)))
    return np.concatenate(blocks, axis=1), np.concatenate(precision)


def _lift(factors: dict[str, Factor], shared: dict[str, float]) -> FloatArray:
    """Return what each coffee's mean takes of each shared effect, (C, q)."""
    coffees = len(factors["coffee"].levels)
    blocks = [np.ones((coffees, 1))]
    for name in shared:
        parts = name.split(":")
        weights = np.ones((coffees, 1))
        for part in parts:
            size = len(factors[part].levels)
            each = np.eye(coffees) if part == "coffee" else np.full((coffees, size), 1.0 / size)
            each = np.zeros_like(each) if part == "bowl" else each
            weights = (weights[:, :, None] * each[:, None, :]).reshape(coffees, -1)
        blocks.append(weights)
    return np.concatenate(blocks, axis=1)


@dataclass(frozen=True, slots=True)
class _Taster:
    """One taster: what their marks say of the shared effects, and their own given those."""

    gram: FloatArray
    response: FloatArray
    start: FloatArray
    pull: FloatArray
    spread: FloatArray

    @classmethod
    def of(
        cls,
        values: FloatArray,
        factors: dict[str, Factor],
        own: dict[str, float],
        noise: float,
        design: FloatArray,
        rows: IntArray,
    ) -> "_Taster":
        coffee, y, z = factors["coffee"], values[rows], design[rows]
        coffees = len(coffee.levels)
        covariance = noise * np.eye(len(rows))
        with_place, place = np.zeros((coffees, len(rows))), np.zeros((coffees, coffees))
        for name, size in own.items():
            codes, _ = combine([factors[part] for part in name.split(":")])
            covariance += size * (codes[rows][:, None] == codes[rows][None, :])
            if set(name.split(":")) == {"taster"}:
                with_place, place = with_place + size, place + size
            if set(name.split(":")) == {"taster", "coffee"}:
                with_place = with_place + size * np.eye(coffees)[:, coffee.codes[rows]]
                place = place + size * np.eye(coffees)
        inverse = np.linalg.inv(covariance)
        gain = with_place @ inverse
        return cls(
            gram=z.T @ inverse @ z,
            response=z.T @ inverse @ y,
            start=gain @ y,
            pull=gain @ z,
            spread=place - gain @ with_place.T,
        )
