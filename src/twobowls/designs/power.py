"""What a table can show: power by simulation under the model that analyses the marks.

Makes tables of marks with a known difference, has the rating engine judge them, and counts.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from twobowls.errors import InputError
from twobowls.statistics.ratings import RatingColumns, fit_ratings

FloatArray = NDArray[np.float64]

LIKELY, CLEAR = 0.95, 0.99  # the evidence words of the debrief
_WIDEST = 60.0  # no pair of coffees differs by more on a line of 100
_STEPS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Standard deviations of what makes marks differ, on a line of 0 to 100.

    The values given are those of an ordinary table in our own judgement; put in those of an
    earlier debrief where there is one.

    Attributes
    ----------
    taster : float
        How high or low a person sets all tokens.
    disagreement : float
        How differently people find the same coffee (taster x coffee).
    drift : float
        How a coffee moves of its own from round to round (coffee x round).
    bowl : float
        How two bowls of one coffee differ.
    residual : float
        How far one person, asked again, sets a token elsewhere.
    """

    taster: float = 12.0
    disagreement: float = 8.0
    drift: float = 3.0
    bowl: float = 2.0
    residual: float = 9.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Power:
    """How often a difference would be found.

    ``likely`` is the share of tables in which the debrief would call the right direction
    likely or clear, ``clear`` that in which it would call it clear, ``wrong`` that in which
    it would call the wrong direction likely. ``error`` is the standard error of ``likely``
    that comes from the number of tables simulated.
    """

    difference: float
    likely: float
    clear: float
    wrong: float
    tables: int
    error: float


def power(
    coffees: int,
    tasters: int,
    rounds: int,
    difference: float,
    spread: Spread | None = None,
    *,
    rng: np.random.Generator,
    runs: int = 200,
    bowls: int = 1,
) -> Power:
    """Simulate how often a true difference between two coffees gets its evidence word.

    Parameters
    ----------
    coffees, tasters, rounds : int
        The table: at least two coffees, one taster, one round.
    difference : float
        How far the two coffees lie apart, in points of a line of 0 to 100; the others lie
        halfway between them. 0 asks for false claims.
    spread : Spread, optional
        What else makes marks differ.
    rng : numpy.random.Generator
        Source of chance.
    runs : int
        How many tables to simulate. A run of an ordinary table takes about 0.03 s.
    bowls : int
        Bowls of each coffee (2: everything is a hidden repeat).

    Returns
    -------
    Power

    Raises
    ------
    InputError
        For a table that cannot be.

    Notes
    -----
    Every table is fitted by `fit_ratings` with its weak priors, as the debrief does it, for
    people like these. Marks beyond the ends of the line are set on the end. With a
    difference of 0 ``likely`` counts the claims for one direction, ``wrong`` those for the
    other.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> found = power(2, 6, 1, difference=30.0, rng=rng, runs=8)
    >>> found.likely > 0.5, found.wrong
    (True, 0.0)
    """
    table = _Table(coffees, tasters, rounds, bowls, Spread() if spread is None else spread)
    if not (np.isfinite(difference) and 0 <= difference <= 100):
        raise InputError("difference", f"{difference:g} is out of range", "Give 0 to 100 points")
    return _counted(table.probabilities(table.noises(rng, runs), difference), difference)


def smallest_difference(
    coffees: int,
    tasters: int,
    rounds: int,
    spread: Spread | None = None,
    *,
    rng: np.random.Generator,
    chance: float = 0.8,
    runs: int = 100,
    bowls: int = 1,
) -> Power | None:
    """Find the smallest difference that a table shows as likely with a given chance.

    Parameters
    ----------
    coffees, tasters, rounds : int
        The table.
    spread : Spread, optional
        What makes marks differ.
    rng : numpy.random.Generator
        Source of chance.
    chance : float
        How often the difference should be found, between 0.1 and 0.99.
    runs : int
        How many tables to simulate.
    bowls : int
        Bowls of each coffee.

    Returns
    -------
    Power or None
        The power at that difference, found to about a point; None when even 60 points would
        be missed too often.

    Raises
    ------
    InputError
        For a table or a chance that cannot be.

    Notes
    -----
    The same simulated noise serves all differences tried. The normal score of the probability
    that must be reached grows nearly in proportion to the difference, so that a few chords
    find it.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> found = smallest_difference(2, 8, 1, rng=rng, runs=20)
    >>> 5 < found.difference < 30
    True
    """
    if not 0.1 <= chance <= 0.99:
        raise InputError(
            "chance", f"{chance:g} is out of range", "Give a share from 0.1 to 0.99, such as 0.8"
        )
    table = _Table(coffees, tasters, rounds, bowls, Spread() if spread is None else spread)
    noises = table.noises(rng, runs)
    low, high = (0.0, -float(_z(chance))), (_WIDEST, float("inf"))
    best: Power | None = None
    tried = min(1.1 * table.guess(chance), _WIDEST)
    for _ in range(_STEPS):
        sure = table.probabilities(noises, tried)
        found = _counted(sure, tried)
        reached = float(np.quantile(_z(sure), 1 - chance))
        if found.likely >= chance:
            best, high = found, (tried, reached)
        else:
            low = (tried, reached)
        if high[0] - low[0] < 1.0 or low[0] >= _WIDEST:
            break
        tried = _next(low, high)
    return best


def _z(probability: float | FloatArray) -> FloatArray:
    """Turn probabilities into standard normal scores, which grow steadily with a difference."""
    from scipy.special import ndtri

    return np.asarray(ndtri(np.clip(probability, 1e-12, 1 - 1e-12)))


def _next(low: tuple[float, float], high: tuple[float, float]) -> float:
    """Aim just above where the score is high enough: by the chord, or else further out."""
    goal = float(_z(LIKELY))
    if not np.isfinite(high[1]):
        return min(max(1.5 * low[0], low[0] + 5.0), _WIDEST)
    slope = (high[1] - low[1]) / (high[0] - low[0])
    aim = low[0] + (goal - low[1]) / max(slope, 1e-9) + 0.3
    return float(np.clip(aim, low[0] + 0.5, high[0] - 0.5))


def _counted(sure: FloatArray, difference: float) -> Power:
    likely = float((sure >= LIKELY).mean())
    return Power(
        difference=difference,
        likely=likely,
        clear=float((sure >= CLEAR).mean()),
        wrong=float((sure <= 1 - LIKELY).mean()),
        tables=len(sure),
        error=float(np.sqrt(likely * (1 - likely) / len(sure))),
    )


class _Table:
    """A full table: everybody marks every bowl in every round."""

    def __init__(self, coffees: int, tasters: int, rounds: int, bowls: int, spread: Spread) -> None:
        _check_table(coffees, tasters, rounds, bowls, spread)
        self.shape = (tasters, coffees, bowls, rounds)
        self.spread = spread
        taster, coffee, bowl, round_ = (each.ravel() for each in np.indices(self.shape))
        self.taster = [f"t{number}" for number in taster]
        self.coffee = [f"c{number}" for number in coffee]
        self.bowl = [f"c{c}b{b}" for c, b in zip(coffee, bowl, strict=True)]
        self.round = [f"r{number}" for number in round_]
        self.side = np.where(coffee == 0, 0.5, np.where(coffee == 1, -0.5, 0.0))

    def noises(self, rng: np.random.Generator, runs: int) -> list[FloatArray]:
        if runs < 1:
            raise InputError("runs", f"{runs} is too few", "Simulate at least one table")
        return [self._noise(rng) for _ in range(runs)]

    def _noise(self, rng: np.random.Generator) -> FloatArray:
        tasters, coffees, bowls, rounds = self.shape
        sd = self.spread
        noise = (
            rng.normal(0, sd.taster, (tasters, 1, 1, 1))
            + rng.normal(0, sd.disagreement, (tasters, coffees, 1, 1))
            + rng.normal(0, sd.drift, (1, coffees, 1, rounds))
            + rng.normal(0, sd.bowl, (1, coffees, bowls, 1))
            + rng.normal(0, sd.residual, self.shape)
        )
        return np.asarray(noise.ravel())

    def probabilities(self, noises: Sequence[FloatArray], difference: float) -> FloatArray:
        """Return the probability that the first coffee is above the second, table by table."""
        return np.array([self.probability(noise, difference) for noise in noises])

    def probability(self, noise: FloatArray, difference: float) -> float:
        """Return the posterior probability that the first coffee is above the second."""
        marks = np.clip(50.0 + noise + difference * self.side, 0.0, 100.0)
        columns = RatingColumns(
            y=marks,
            taster=self.taster,
            coffee=self.coffee,
            round=self.round if self.shape[3] > 1 else None,
            bowl=self.bowl if self.shape[2] > 1 else None,
        )
        for contrast in fit_ratings(columns).people.contrasts:
            if (contrast.a, contrast.b) == ("c0", "c1"):
                return contrast.probability
            if (contrast.a, contrast.b) == ("c1", "c0"):
                return 1.0 - contrast.probability
        raise AssertionError("the fit has no contrast of the two coffees")  # pragma: no cover

    def guess(self, chance: float) -> float:
        """Return the difference by the normal formula, every deviation known."""
        tasters, _, bowls, rounds = self.shape
        sd = self.spread
        variance = (
            sd.disagreement**2 / tasters
            + sd.drift**2 / rounds
            + sd.bowl**2 / bowls
            + sd.residual**2 / (tasters * bowls * rounds)
        )
        return float(_z(LIKELY) + _z(chance)) * float(np.sqrt(2 * variance))


def _check_table(coffees: int, tasters: int, rounds: int, bowls: int, spread: Spread) -> None:
    for field, value, least in (
        ("coffees", coffees, 2),
        ("tasters", tasters, 1),
        ("rounds", rounds, 1),
        ("bowls", bowls, 1),
    ):
        if value < least:
            raise InputError(field, f"{value} is too few", f"Give at least {least}")
    for field in ("taster", "disagreement", "drift", "bowl", "residual"):
        value = getattr(spread, field)
        if not (np.isfinite(value) and 0 <= value <= 50):
            raise InputError(
                field,
                f"{value:g} is no standard deviation on a line of 100",
                "Give 0 to 50 points",
            )
