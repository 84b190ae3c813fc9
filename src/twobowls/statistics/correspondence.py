"""A map of coffees and words: correspondence analysis.

Coffees near each other were described alike; a word lies towards the coffees it was said of
more than of others. Knows no lexicon; ``map_regions`` says how far the points may be trusted.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.inputs import counts


@dataclass(frozen=True, slots=True, kw_only=True)
class WordMap:
    """A correspondence analysis of coffees (rows) by words (columns).

    ``inertias`` are the principal inertias of all axes and ``inertia_shares`` their parts of
    the whole; ``chi_squared`` is the statistic of independence of the table. ``coffees`` and
    ``words`` hold principal coordinates, one row a point, one column an axis;
    ``*_contributions`` the part of each axis' inertia a point makes, ``*_quality`` the part of
    a point's inertia an axis shows (squared cosine).
    """

    inertias: tuple[float, ...]
    inertia_shares: tuple[float, ...]
    chi_squared: float
    coffees: FloatArray
    words: FloatArray
    coffee_contributions: FloatArray
    word_contributions: FloatArray
    coffee_quality: FloatArray
    word_quality: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MapPoints:
    """The points of many maps at once: principal coordinates on all axes.

    ``coffees`` and ``words`` have shape (maps, points, axes), NaN for a word with no count;
    ``roots``, shape (maps, axes), are the roots of the inertias; ``whole`` says which maps have
    a count for every coffee.
    """

    coffees: FloatArray
    words: FloatArray
    roots: FloatArray
    whole: NDArray[np.bool_]


def map_points(tables: FloatArray) -> MapPoints:
    """Lay out the coffees and words of many tables.

    Parameters
    ----------
    tables : ndarray, shape (maps, coffees, words)
        Counts, with at least one count in every table.

    Returns
    -------
    MapPoints
        As ``word_map`` has them, with the sign of every axis as it comes.

    Examples
    --------
    >>> points = map_points(np.array([[[9.0, 2, 1], [3, 8, 2], [1, 2, 9]]] * 2))
    >>> points.coffees.shape, points.roots.round(2)[0].tolist()
    ((2, 3, 2), [0.66, 0.45])
    """
    p = tables / tables.sum(axis=(1, 2), keepdims=True)
    r, c = p.sum(axis=2), p.sum(axis=1)
    even = r[:, :, None] * c[:, None, :]
    u, s, vt = np.linalg.svd((p - even) / np.sqrt(np.where(even > 0, even, 1)), full_matrices=False)
    axes = min(tables.shape[1:]) - 1
    u, s, v = u[..., :axes], s[:, :axes], np.swapaxes(vt, 1, 2)[..., :axes]
    words = v * s[:, None] / np.sqrt(np.where(c > 0, c, 1))[..., None]
    return MapPoints(
        coffees=u * s[:, None] / np.sqrt(np.where(r > 0, r, 1))[..., None],
        words=np.where((c > 0)[..., None], words, np.nan),
        roots=s,
        whole=(r > 0).all(axis=1),
    )


def word_map(table: ArrayLike) -> WordMap:
    """Lay out coffees and words by what was said of which.

    Parameters
    ----------
    table : array_like of int, shape (coffees, words)
        How often each word was said of each coffee; three or more of each, and every coffee and
        every word with at least one.

    Returns
    -------
    WordMap
        With ``min(coffees, words) - 1`` axes. The sign of an axis means nothing; here the
        largest coffee coordinate of every axis is positive.

    Raises
    ------
    InputError
        When an entry is not a count, the table is too small, a coffee or a word has none, or all
        coffees were described in the same shares.

    Notes
    -----
    Singular values of ``(P - r c') / sqrt(r c')``, P the table over its total, r and c its
    margins. Coordinates are principal: distances between coffees are chi-squared distances.

    References
    ----------
    Greenacre 1984, Theory and Applications of Correspondence Analysis.

    Examples
    --------
    >>> table = word_map([[9, 2, 1], [3, 8, 2], [1, 2, 9]])
    >>> [round(share, 2) for share in table.inertia_shares]
    [0.68, 0.32]
    """
    n = counts("table", table, (None, None))
    check_mappable(n)
    return _map(n)


def check_mappable(n: FloatArray) -> None:
    """Refuse counts that make no map.

    Parameters
    ----------
    n : ndarray, shape (coffees, words)
        Counts.

    Raises
    ------
    InputError
        When there are fewer than three coffees or words, or one of them has no counts.

    Examples
    --------
    >>> try:
    ...     check_mappable(np.array([[1, 2, 0], [2, 1, 0], [3, 1, 0]]))
    ... except InputError as refused:
    ...     print(refused)
    table: word 3 has no counts. Leave it out.
    """
    if min(n.shape) < 3:
        raise InputError(
            "table",
            f"{n.shape[0]} × {n.shape[1]} is too small for a map",
            "Give three coffees and three words or more",
        )
    for axis, what in ((1, "coffee"), (0, "word")):
        empty = np.flatnonzero(n.sum(axis=axis) == 0)
        if empty.size:
            raise InputError("table", f"{what} {empty[0] + 1} has no counts", "Leave it out")


def _map(n: FloatArray) -> WordMap:
    points = map_points(n[None])
    s = points.roots[0]
    if s[0] < 1e-10:
        raise InputError("table", "all coffees were described alike", "There is nothing to map")
    coffees, words = points.coffees[0], points.words[0]
    largest = np.abs(coffees).argmax(axis=0)
    signs = np.sign(coffees[largest, np.arange(s.size)])
    coffees, words = coffees * signs, words * signs
    masses = n / n.sum()
    parts = np.maximum(s**2, 1e-300)
    return WordMap(
        inertias=tuple(float(value) for value in s**2),
        inertia_shares=tuple(float(value) for value in s**2 / (s @ s)),
        chi_squared=float(n.sum() * (s @ s)),
        coffees=coffees,
        words=words,
        coffee_contributions=masses.sum(axis=1)[:, None] * coffees**2 / parts,
        word_contributions=masses.sum(axis=0)[:, None] * words**2 / parts,
        coffee_quality=_quality(coffees),
        word_quality=_quality(words),
    )


def _quality(points: FloatArray) -> FloatArray:
    squares = points**2
    return np.asarray(squares / np.maximum(squares.sum(axis=1, keepdims=True), 1e-300))
