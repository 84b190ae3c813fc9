"""What is left of a model after the terms within tasters have been eliminated."""

from collections.abc import Callable
from dataclasses import dataclass

from twobowls.statistics.arrays import FloatArray

Slopes = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, slots=True)
class Reduction:
    """What elimination takes away, for each of K sets of ratios.

    ``products`` (K, d, d) is subtracted from the cross-products, and whoever asked for it may
    write over it; ``logdet`` (K,) belongs to the
    log-determinant, and ``logdet_slopes()`` (K, terms) are its slopes. ``slopes(G)`` gives
    the trace of G times the derivative of the remaining cross-products by each ratio. Slopes are
    made when they are asked for: most evaluations need none.
    """

    products: FloatArray
    logdet: FloatArray
    logdet_slopes: Callable[[], FloatArray]
    slopes: Slopes
