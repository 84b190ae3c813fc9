"""Evidence in words: one scale across the tool, and what a list of claims may cost."""

from collections.abc import Iterable
from typing import Literal

Evidence = Literal["clear", "likely", "leaning", "cannot tell"]

CLEAR, LIKELY, LEANING = 0.99, 0.95, 0.80

SCALE_SENTENCE = (
    "Clear: at least 99 in 100 that the difference goes this way. Likely: at least 95. "
    "Leaning: at least 80. Below that we cannot tell."
)


def evidence(probability: float) -> Evidence:
    """Name how sure a direction is.

    Parameters
    ----------
    probability : float
        Probability that a difference is above zero, in [0, 1]; 0.02 is as sure as 0.98, of
        the opposite.

    Examples
    --------
    >>> evidence(0.995), evidence(0.04), evidence(0.85), evidence(0.5)
    ('clear', 'likely', 'leaning', 'cannot tell')
    """
    sure = max(probability, 1.0 - probability)
    if sure >= CLEAR:
        return "clear"
    if sure >= LIKELY:
        return "likely"
    return "leaning" if sure >= LEANING else "cannot tell"


def expected_false(probabilities: Iterable[float]) -> float:
    """Return how many of some claims are expected to be wrong: the sum of 1 - p.

    ``probabilities`` are those of the direction that each claim states. The expectation needs
    no independence between the claims.

    Examples
    --------
    >>> round(expected_false([0.99, 0.95, 0.80]), 2)
    0.26
    """
    return sum(1.0 - each for each in probabilities)
