"""Ellipses of (intensity, liking): they hold the true pair as often as they say."""

import numpy as np
import pytest
from benchmarks.calibration.joint import ALIKE, APART, depths, draw_pair, ordinary
from benchmarks.calibration.tables import Table

from twobowls.statistics.ratings import RatingColumns, fit_ratings
from twobowls.statistics.ratings_joint import joint_means
from twobowls.statistics.ratings_pairs import leaning_correlation, slip_correlation

TABLES = 60
# Four standard errors of a share of 90 % over 60 tables, as if the coffees of one table were
# one and the same: any seed passes, but for one in ten thousand.
BOUND = 4 * (0.9 * 0.1 / TABLES) ** 0.5


@pytest.mark.parametrize("rounds", [1, 3])
def test_ellipses_hold_the_true_pair(rounds: int) -> None:
    table = Table(4, 8, rounds, repeats=0)
    found = depths(table, ordinary(APART), TABLES, np.random.default_rng(rounds), bowls=False)
    for levels in found.values():
        assert np.mean(levels <= 0.90) == pytest.approx(0.90, abs=BOUND)


@pytest.mark.parametrize(("correlations", "slips"), [(ALIKE, 0.4), (APART, -0.5)])
def test_slips_are_told_from_leanings(correlations: dict[str, float], slips: float) -> None:
    rng = np.random.default_rng(2)
    drawn = draw_pair(Table(4, 60, 3, repeats=1), ordinary(correlations)(rng), rng)
    # 60 x 4 x 2 degrees of freedom and more: four standard errors are 0.18 at most
    found = slip_correlation(drawn.intensity, drawn.liking)
    assert found == pytest.approx(slips, abs=0.18)
    # leanings: weights 12^2, 8^2 and, over three marks, 9^2 / 3
    own = correlations["taster"] * 144 + correlations["taster:coffee"] * 64 + slips * 27
    assert leaning_correlation(drawn.intensity, drawn.liking) == pytest.approx(
        own / (144 + 64 + 27), abs=0.35
    )


def columns(y: list[float], **others: list[str]) -> RatingColumns:
    return RatingColumns(y=y, **{"taster": list("aabbcc"), "coffee": list("ABABAB"), **others})


def test_single_marks_fall_back_on_taster_by_coffee_means() -> None:
    strong = columns([60.0, 30, 70, 45, 50, 28])
    liked = columns([70.0, 50, 80, 60, 62, 50])
    # two degrees of freedom: r of the double-centred table, times 2 / (2 + 4)
    y = np.stack([np.reshape(each.y, (3, 2)) for each in (strong, liked)])
    away = y - y.mean(1, keepdims=True) - y.mean(2, keepdims=True) + y.mean((1, 2), keepdims=True)
    first, second = away.reshape(2, -1)
    expected = first @ second / np.sqrt(first @ first * (second @ second)) / 3
    assert slip_correlation(strong, liked) == pytest.approx(expected)


def test_only_what_both_scales_have_is_paired() -> None:
    strong = columns([60.0, 30, 70, 45, 50, 28])
    liked = columns([70.0, 50, 80, 60, 62, 50])
    more = RatingColumns(
        y=[*strong.y, 99.0], taster=[*strong.taster, "d"], coffee=[*strong.coffee, "C"]
    )
    assert leaning_correlation(more, liked) == pytest.approx(leaning_correlation(strong, liked))
    nobody = RatingColumns(y=[50.0], taster=["z"], coffee=["A"])
    assert leaning_correlation(nobody, liked) == slip_correlation(nobody, liked) == 0.0


def test_equal_marks_are_joined_without_correlation() -> None:
    same = columns([50.0] * 6)
    fit = fit_ratings(same)
    for mean in joint_means(fit, fit, same, same, "table"):
        assert mean.covariance[0][1] == 0.0
        assert mean.covariance[0][0] > 0.0


def test_variances_are_those_of_the_fits_and_the_matrix_is_positive() -> None:
    strong = columns([60.0, 30, 70, 45, 50, 28])
    liked = columns([61.0, 31, 71, 46, 51, 29])
    fits = fit_ratings(strong), fit_ratings(liked)
    for population in ("people", "table"):
        both = joint_means(*fits, strong, liked, population)
        means = [getattr(fit, population).coffees for fit in fits]
        for each, first, second in zip(both, *means, strict=True):
            assert each.covariance[0][0] == pytest.approx(first.estimate.se**2)
            assert each.covariance[1][1] == pytest.approx(second.estimate.se**2)
            assert np.linalg.eigvalsh(np.array(each.covariance)).min() > 0
