"""The design of a cumulative model: thresholds, effects, random levels, counted rows.

Rows that cannot be told apart (same category, same effects, same random levels) are counted
once with a weight, so that the cost follows the distinct rows, not the ratings.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from twobowls.errors import InputError
from twobowls.statistics.ordinal_inputs import Array, Codes, Factor, Ratings
from twobowls.statistics.ordinal_link import FAR

Thresholds = Literal["flexible", "equidistant"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """Everything about the data that a likelihood needs, p parameters over n counted rows.

    Rows with the same category and the same effects are of one of P kinds. The upper edge of
    row i, of kind k, lies at ``upper[k] @ gamma + upper_far[k]`` minus its random effects, the
    lower edge likewise; gamma holds the thresholds' parameters, then the effects.
    ``levels[r][i]`` is the level of random factor r.

    Attributes
    ----------
    upper, lower : array (P, p)
        What a unit of each parameter adds to the edges.
    upper_far, lower_far : array (P,)
        FAR or -FAR where the category has no edge on that side, else 0.
    category : array (P,)
        The kind's category.
    kind : array (n,)
        The row's kind.
    weights : array (n,)
        Ratings that each row stands for.
    names : tuple of str
        Of the p parameters.
    basis : array (K - 1, q)
        From the thresholds' q parameters to the K - 1 thresholds.
    centre : array (p - q,)
        Mean of the effects' columns over all ratings.
    spread : array (p - q,)
        Their standard deviation.
    starts : array (P,) or None
        The first row of every kind, where rows are in order of their kind.
    """

    categories: tuple[str, ...]
    fixed: tuple[Factor, ...]
    numbers: tuple[str, ...]
    random: tuple[Factor, ...]
    names: tuple[str, ...]
    basis: Array
    upper: Array
    lower: Array
    upper_far: Array
    lower_far: Array
    category: Codes
    kind: Codes
    weights: Array
    levels: tuple[Codes, ...]
    centre: Array
    spread: Array
    starts: NDArray[np.intp] | None

    @property
    def ratings(self) -> int:
        """How many ratings there are."""
        return int(self.weights.sum())

    def edges(self, gamma: Array) -> tuple[Array, Array]:
        """Return the rows' upper and lower edges (n,), random effects aside."""
        upper, lower = self.upper @ gamma + self.upper_far, self.lower @ gamma + self.lower_far
        return upper[self.kind], lower[self.kind]

    def by_kind(self, rows: Array) -> Array:
        """Sum a value a row over each kind: (P,)."""
        if self.starts is not None:
            return np.asarray(np.add.reduceat(rows, self.starts))
        sums = np.bincount(self.kind, rows, minlength=self.category.size)
        return np.asarray(sums, dtype=np.float64)

    def by_parameter(self, by_upper: Array, by_lower: Array) -> Array:
        """Return derivatives in gamma (p,) from those in the rows' edges (n,)."""
        up, low = self.by_kind(by_upper), self.by_kind(by_lower)
        return np.asarray(up @ self.upper + low @ self.lower)

    @property
    def columns(self) -> dict[str, slice]:
        """Where the effects of each fixed factor sit among the effects' columns."""
        places, start = {}, 0
        for factor in self.fixed:
            places[factor.name] = slice(start, start + len(factor.levels) - 1)
            start += len(factor.levels) - 1
        return places


def threshold_basis(categories: int, thresholds: Thresholds) -> Array:
    """Return the matrix from the thresholds' parameters to the K - 1 thresholds.

    Parameters
    ----------
    categories : int
        K.
    thresholds : {"flexible", "equidistant"}
        One parameter each, or the first threshold and the spacing of all.

    Examples
    --------
    >>> threshold_basis(4, "equidistant")
    array([[1., 0.],
           [1., 1.],
           [1., 2.]])
    """
    if thresholds == "flexible":
        return np.eye(categories - 1)
    return np.column_stack([np.ones(categories - 1), np.arange(categories - 1.0)])


def threshold_names(categories: Sequence[str], thresholds: Thresholds) -> tuple[str, ...]:
    """Name the thresholds' parameters: ``1|2``, ... or ``first``, ``spacing``.

    Examples
    --------
    >>> threshold_names(["low", "middle", "high"], "flexible")
    ('low|middle', 'middle|high')
    """
    if thresholds == "equidistant":
        return ("first", "spacing")
    return tuple(f"{low}|{high}" for low, high in pairwise(categories))


def effect_columns(factor: Factor) -> Array:
    """Return the treatment-coded rows of a factor's levels: (levels, levels - 1).

    Examples
    --------
    >>> effect_columns(Factor("coffee", ("A", "B", "C"), np.array([0, 1, 2])))
    array([[0., 0.],
           [1., 0.],
           [0., 1.]])
    """
    return np.eye(len(factor.levels))[:, 1:]


def build_design(
    ratings: Ratings,
    fixed: Sequence[Factor],
    numbers: dict[str, Array],
    random: Sequence[Factor],
    thresholds: Thresholds,
) -> Design:
    """Count the rows that are alike and lay out the matrices.

    Parameters
    ----------
    ratings : Ratings
        Of n ratings.
    fixed, random : sequence of Factor
        Each coded for all n.
    numbers : dict of name to array (n,)
        Numeric columns.
    thresholds : {"flexible", "equidistant"}
        How the thresholds are made of their parameters.

    Returns
    -------
    Design

    Raises
    ------
    InputError
        When some combination of the others, or the thresholds, already says an effect.

    Examples
    --------
    >>> coffee = Factor("coffee", ("A", "B"), np.array([0, 0, 1, 1]))
    >>> design = build_design(Ratings(("1", "2"), np.array([0, 0, 0, 1])), [coffee], {}, [],
    ...                       "flexible")
    >>> design.names, design.weights.tolist()
    (('1|2', 'coffee=B'), [2.0, 1.0, 1.0])
    """
    columns = [factor.codes for factor in (*fixed, *random)]
    columns += [np.unique(each, return_inverse=True)[1] for each in numbers.values()]
    first, weights, _ = _count_alike(ratings.codes, columns)
    plain = [
        each[first] for each in (*columns[: len(fixed)], *columns[len(columns) - len(numbers) :])
    ]
    leading, _, kind = _count_alike(ratings.codes[first], plain)
    shown = first[leading]
    category = ratings.codes[shown]
    coded = [effect_columns(factor)[factor.codes[shown]] for factor in fixed]
    coded += [column[shown, None] for column in numbers.values()]
    effects = np.concatenate(coded, axis=1) if coded else np.empty((shown.size, 0))
    share = np.asarray(np.bincount(kind, weights), dtype=np.float64)
    effect_names = [f"{each.name}={level}" for each in fixed for level in each.levels[1:]]
    effect_names += list(numbers)
    _check_told_apart(effects, share, effect_names)
    basis = threshold_basis(len(ratings.categories), thresholds)
    edges = np.vstack([np.zeros(basis.shape[1]), basis, np.zeros(basis.shape[1])])
    centre = share @ effects / share.sum()
    return Design(
        categories=ratings.categories,
        fixed=tuple(fixed),
        numbers=tuple(numbers),
        random=tuple(random),
        names=(*threshold_names(ratings.categories, thresholds), *effect_names),
        basis=basis,
        upper=np.hstack([edges[category + 1], -effects]),
        lower=np.hstack([edges[category], -effects]),
        upper_far=np.where(category == basis.shape[0], FAR, 0.0),
        lower_far=np.where(category == 0, -FAR, 0.0),
        category=category,
        kind=kind,
        weights=weights,
        levels=tuple(factor.codes[first] for factor in random),
        centre=centre,
        spread=np.sqrt(share @ (effects - centre) ** 2 / share.sum()),
        starts=np.searchsorted(kind, np.arange(shown.size)) if _ascends(kind) else None,
    )


def _ascends(codes: Codes) -> bool:
    return bool((codes[1:] >= codes[:-1]).all())


def _count_alike(codes: Codes, columns: Sequence[Codes]) -> tuple[NDArray[np.intp], Array, Codes]:
    """Return the first row of each kind, how many are of that kind, and each row's kind."""
    key = codes
    for column in columns:
        size = int(column.max()) + 1
        if int(key.max()) >= np.iinfo(np.int64).max // (size + 1):
            key = np.unique(key, return_inverse=True)[1]
        key = key * size + column
    _, first, kind, counts = np.unique(
        key, return_index=True, return_inverse=True, return_counts=True
    )
    return first, counts.astype(np.float64), kind


def _check_told_apart(effects: Array, weights: Array, names: Sequence[str]) -> None:
    """Refuse effects that some combination of the others, or the thresholds, already says."""
    if not names:
        return
    centred = (effects - weights @ effects / weights.sum()) * np.sqrt(weights)[:, None]
    products = centred.T @ centred
    scale = np.sqrt(np.diag(products).clip(1e-300))
    products = products / np.outer(scale, scale)
    for column, name in enumerate(names):
        rest = products[:column, :column]
        told = products[column, :column]
        left = products[column, column]
        if column:
            left = left - told @ np.linalg.lstsq(rest, told, rcond=None)[0]
        if left < 1e-9:
            raise InputError(
                "fixed",
                f'The effect "{name}" cannot be told apart from the effects before it',
                "Leave out one of the columns that say the same thing",
            )
