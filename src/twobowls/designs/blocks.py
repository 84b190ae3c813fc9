"""Incomplete blocks: which treatments share a flight so that all can be compared well.

Knows treatments and blocks by number; does not know coffees, codes or orders.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from twobowls.designs.exchange import Exchange
from twobowls.designs.williams import IntArray
from twobowls.errors import InputError

_SWAPS_A_PLACE = 150


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockDesign:
    """Treatments in blocks.

    ``blocks`` lists the treatments (from 0) of each block in increasing order. ``a`` and
    ``d`` are the average efficiency factors: the harmonic and the geometric mean of the
    canonical efficiency factors, 1 for complete blocks, 0 when not all treatments can be
    compared.
    """

    blocks: tuple[tuple[int, ...], ...]
    a: float
    d: float


def efficiency(blocks: Sequence[Sequence[int]], treatments: int) -> tuple[float, float]:
    """Return the A- and D-efficiency of a design.

    Parameters
    ----------
    blocks : sequence of sequences of int
        The treatments of each block, numbered from 0.
    treatments : int
        How many treatments there are, at least 2.

    Returns
    -------
    a, d : float
        Harmonic and geometric mean of the canonical efficiency factors.

    Raises
    ------
    InputError
        When a treatment is in no block, or out of range.

    Notes
    -----
    With N the incidence matrix, r the replications and k the block sizes, the information on
    treatments is C = diag(r) - N diag(1/k) N'. The canonical efficiency factors are the
    eigenvalues of diag(r)^-1/2 C diag(r)^-1/2 other than the one that is always 0. In a
    balanced design they all equal t lambda / (r k). J. A. John and E. R. Williams, Cyclic and
    Computer Generated Designs, 1995 (from memory).

    Examples
    --------
    >>> a, d = efficiency([[0, 1], [0, 2], [1, 2]], 3)  # t 3, k 2, r 2, lambda 1: E = 3/4
    >>> round(a, 3), round(d, 3)
    (0.75, 0.75)
    """
    incidence = _incidence(blocks, treatments)
    if np.any(incidence.sum(axis=1) == 0):
        missing = int(np.flatnonzero(incidence.sum(axis=1) == 0)[0])
        raise InputError(
            "blocks", f"treatment {missing} is in none of them", "Give each treatment a block"
        )
    return _efficiency(incidence)


def _incidence(blocks: Sequence[Sequence[int]], treatments: int) -> NDArray[np.float64]:
    incidence = np.zeros((treatments, len(blocks)))
    for column, block in enumerate(blocks):
        for treatment in block:
            if not 0 <= treatment < treatments:
                raise InputError(
                    "blocks",
                    f"{treatment} is not one of the {treatments} treatments",
                    f"Number them from 0 to {treatments - 1}",
                )
            incidence[treatment, column] += 1
    return incidence


def _efficiency(incidence: NDArray[np.float64]) -> tuple[float, float]:
    factors = _canonical(incidence)[1:]
    if factors.size == 0:
        return 1.0, 1.0
    if factors.min() < 1e-9:
        return 0.0, 0.0
    return float(factors.size / (1 / factors).sum()), float(np.exp(np.log(factors).mean()))


def _canonical(incidence: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return all eigenvalues, smallest first; the first is 0 by construction."""
    replication = incidence.sum(axis=1)
    sizes = incidence.sum(axis=0)
    scaled = incidence / np.sqrt(np.outer(replication, sizes))
    shared = np.linalg.svd(scaled, compute_uv=False) ** 2
    full = np.zeros(len(replication))
    full[: len(shared)] = shared[: len(full)]
    return np.sort(np.clip(1 - full, 0, None))


def incomplete_blocks(
    replications: Sequence[int],
    sizes: Sequence[int],
    rng: np.random.Generator | None = None,
    starts: int = 12,
) -> BlockDesign:
    """Spread treatments over blocks so that they can be compared as well as possible.

    Parameters
    ----------
    replications : sequence of int
        How many times each treatment occurs, at least once. A treatment that occurs once a
        block is an anchor: common to all of them.
    sizes : sequence of int
        How many places each block has; their sum is that of the replications.
    rng : numpy.random.Generator, optional
        Source of the random starts. Without it the result is always the same.
    starts : int
        How many random starts to improve.

    Returns
    -------
    BlockDesign
        The design with the highest A-efficiency found. A treatment is twice in a block only
        when it occurs more often than there are blocks to take it.

    Raises
    ------
    InputError
        When the places do not add up.

    Notes
    -----
    Exchange algorithm with annealing: two treatments of different blocks change places when
    this lowers the sum of squares of the canonical factors ((M,S)-optimality), and at first
    sometimes when it does not; of several random starts the one with the highest A-efficiency
    is kept. For the small parameters of the published balanced designs it finds their
    efficiency factor.

    Examples
    --------
    >>> found = incomplete_blocks([3] * 7, [3] * 7)  # the seven-point plane
    >>> round(found.a, 4)
    0.7778
    """
    _check_places(replications, sizes)
    rng = np.random.default_rng(0) if rng is None else rng
    ceiling = _ceiling(replications, sizes)
    best = BlockDesign(blocks=(), a=-1.0, d=-1.0)
    for _ in range(starts):
        exchange = Exchange(_listed(_random_start(replications, sizes, rng)), replications)
        exchange.anneal(rng, _SWAPS_A_PLACE * sum(sizes))
        blocks = tuple(tuple(sorted(block)) for block in exchange.blocks)
        a, d = _efficiency(_incidence(blocks, len(replications)))
        if (a, d) > (best.a + 1e-12, best.d):
            best = BlockDesign(blocks=blocks, a=a, d=d)
        if a >= ceiling - 1e-9 or not exchange.movable:
            break
    return best


def _check_places(replications: Sequence[int], sizes: Sequence[int]) -> None:
    if not replications or min(replications) < 1 or not sizes or min(sizes) < 1:
        raise InputError(
            "blocks", "a treatment or a block is empty", "Give each at least one place"
        )
    if sum(replications) != sum(sizes):
        raise InputError(
            "blocks",
            f"the replications add up to {sum(replications)}, the sizes to {sum(sizes)}",
            "Make the block sizes add up to the replications",
        )


def _ceiling(replications: Sequence[int], sizes: Sequence[int]) -> float:
    """Return the mean of the factors where all is equal: no design's A-efficiency is higher."""
    t, k = len(replications), sizes[0]
    if len(set(replications)) > 1 or len(set(sizes)) > 1 or t < 2 or k > t:
        return 1.0
    return t * (k - 1) / (k * (t - 1))


def _random_start(
    replications: Sequence[int], sizes: Sequence[int], rng: np.random.Generator
) -> NDArray[np.float64]:
    """Deal the most frequent treatments first, each to the emptiest blocks that lack it."""
    incidence = np.zeros((len(replications), len(sizes)))
    room = np.array(sizes, dtype=float)
    for treatment in sorted(
        range(len(replications)), key=lambda t: (-replications[t], rng.random())
    ):
        for _ in range(replications[treatment]):
            price = incidence[treatment] * 1e6 - room + rng.random(len(sizes)) * 0.5
            block = int(np.argmin(np.where(room > 0, price, np.inf)))
            incidence[treatment, block] += 1
            room[block] -= 1
    return incidence


def _listed(incidence: NDArray[np.float64]) -> tuple[tuple[int, ...], ...]:
    counts: IntArray = incidence.astype(np.int64)
    return tuple(
        tuple(int(t) for t in np.repeat(np.arange(len(counts)), counts[:, b]))
        for b in range(counts.shape[1])
    )
