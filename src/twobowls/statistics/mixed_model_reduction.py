"""What is left of a model after the terms within tasters have been eliminated."""

from collections.abc import Callable
from dataclasses import dataclass

from twobowls.statistics.arrays import FloatArray

Slopes = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, slots=True)
class Reduction:
    """What elimination takes away, for each of K sets of ratios.

    ``products`` (K, d, d) is subtracted from the cross-products; ``logdet`` (K,) and
    ``logdet_slopes`` (K, terms) belong to the log-determinant. ``slopes(G)`` gives
    the trace of G times the derivative of the remaining cross-products by each ratio.
    """

    products: FloatArray
    logdet: FloatArray
    logdet_slopes: FloatArray
    slopes: Slopes
