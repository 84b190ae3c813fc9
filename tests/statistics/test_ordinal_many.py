"""Marginal likelihoods at many points: against plain grids, and the posterior against chains."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import ndtr

from twobowls.statistics.ordinal_design import Design, build_design
from twobowls.statistics.ordinal_inputs import Factor, Ratings
from twobowls.statistics.ordinal_likelihood import marginal, pose
from twobowls.statistics.ordinal_link import LINKS
from twobowls.statistics.ordinal_many import Many

Array = NDArray[np.float64]
CUTS = np.array([-0.8, 0.3])
LINE = np.linspace(-7.0, 7.0, 281)
NORMAL = np.exp(-0.5 * LINE**2) / np.exp(-0.5 * LINE**2).sum()


def factor(name: str, codes: list[int]) -> Factor:
    levels = tuple(str(each) for each in range(max(codes) + 1))
    return Factor(name, levels, np.array(codes))


RATING = [0, 0, 1, 2, 2, 2, 0, 1]
COFFEE = [0, 1, 0, 1, 0, 1, 0, 1]
TASTER = [0, 0, 0, 0, 1, 1, 1, 1]
TASTE = [0, 1, 0, 1, 2, 3, 2, 3]
BOWL = [0, 1, 2, 3, 0, 1, 2, 3]


def design(random: list[Factor]) -> Design:
    ratings = Ratings(("1", "2", "3"), np.array(RATING))
    return build_design(ratings, [factor("coffee", COFFEE)], {}, random, "flexible")


def share(row: int, effect: float, shift: Array) -> Array:
    """Chance of a rating, for all values that random effects add to it."""
    edges = np.array([-np.inf, *CUTS, np.inf]) - effect * COFFEE[row]
    return np.asarray(ndtr(edges[RATING[row] + 1] - shift) - ndtr(edges[RATING[row]] - shift))


def look(random: list[Factor], effect: float, sd: list[float]) -> float:
    problem = pose(design(random), LINKS["probit"], 1)
    many = Many.of(problem)
    gamma = np.array([[*CUTS, effect], [*CUTS, 0.0]])
    values = many.log_likelihoods(gamma, np.array([sd, sd]), np.zeros(problem.layout.size))
    assert values.shape == (2,)
    return float(values[0])


@pytest.mark.parametrize("sd", [0.3, 1.5])
def test_single_effects_agree_with_a_grid(sd: float) -> None:
    exact = 0.0
    for taster in (0, 1):
        rows = [row for row in range(8) if TASTER[row] == taster]
        product = np.prod([share(row, 0.6, sd * LINE) for row in rows], axis=0)
        exact += np.log(product @ NORMAL)
    assert look([factor("taster", TASTER)], 0.6, [sd]) == pytest.approx(exact, abs=1e-4)


@pytest.mark.parametrize(("sd", "off"), [((0.5, 0.4), 1e-3), ((1.0, 1.0), 0.02)])
def test_nested_effects_agree_with_a_grid(sd: tuple[float, float], off: float) -> None:
    exact = 0.0
    for taster in (0, 1):
        outer = np.ones(LINE.size)
        for taste in sorted({TASTE[row] for row in range(8) if TASTER[row] == taster}):
            rows = [row for row in range(8) if TASTE[row] == taste]
            shift = sd[0] * LINE[:, None] + sd[1] * LINE
            outer *= np.prod([share(row, 0.6, shift) for row in rows], axis=0) @ NORMAL
        exact += np.log(outer @ NORMAL)
    random = [factor("taster", TASTER), factor("taster:coffee", TASTE)]
    assert look(random, 0.6, list(sd)) == pytest.approx(exact, abs=off)
    assert look(random[::-1], 0.6, list(sd[::-1])) == pytest.approx(exact, abs=off)


def test_crossed_effects_are_those_of_laplace() -> None:
    random = [factor("taster", TASTER), factor("bowl", BOWL)]
    problem = pose(design(random), LINKS["probit"], 1)
    gamma, sd = np.array([*CUTS, 0.6]), np.array([0.8, 0.5])
    plain = marginal(problem, gamma, sd, np.zeros(problem.layout.size))
    assert plain is not None
    # their modes are found to a tenth of a standard deviation: half its square a random effect
    assert look(random, 0.6, [0.8, 0.5]) == pytest.approx(-plain.value, abs=0.02)


def test_no_random_effects_are_plain_shares() -> None:
    exact = sum(np.log(float(share(row, 0.6, np.zeros(())))) for row in range(8))
    assert look([], 0.6, []) == pytest.approx(exact, abs=1e-10)
