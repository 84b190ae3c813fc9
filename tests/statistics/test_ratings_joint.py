"""Ellipses of (intensity, liking): they hold the true pair as often as they say."""

from dataclasses import replace

import numpy as np
import pytest
from benchmarks.calibration.joint import ALIKE, APART, depths, draw_pair, ordinary
from benchmarks.calibration.tables import Table

from twobowls.statistics.ratings import RatingColumns, fit_ratings
from twobowls.statistics.ratings_joint import JointMean, joint_means
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


def test_a_careless_taster_does_not_tell_how_errors_go_together() -> None:
    rng = np.random.default_rng(6)
    drawn = draw_pair(Table(4, 20, 3, repeats=1), ordinary(ALIKE)(rng), rng)
    mine = np.asarray(drawn.intensity.taster) < 4
    noise = rng.uniform(0, 100, int(mine.sum()))
    y = [np.array(each.y) for each in (drawn.intensity, drawn.liking)]
    y[0][mine], y[1][mine] = noise, 100 - noise  # four mark at random, against the others' way
    strong, liked = (RatingColumns(y=v, **drawn.intensity.factors()) for v in y)
    told = slip_correlation(strong, liked, {str(k): 0.06 for k in range(4)})
    assert told > 0.0 > slip_correlation(strong, liked)
    steady = [
        RatingColumns(
            y=v[~mine],
            **{name: np.asarray(each)[~mine] for name, each in drawn.intensity.factors().items()},
        )
        for v in y
    ]
    nobody = slip_correlation(strong, liked, {str(k): 1e-9 for k in range(4)})
    assert nobody == pytest.approx(slip_correlation(steady[0], steady[1]), abs=0.05)


def test_long_tails_make_the_middle_smaller_and_the_reach_longer() -> None:
    scales = (0.5, 0.6, 0.8, 1.0, 1.2, 1.6, 2.2, 3.0)
    plain = JointMean(coffee="A", intensity=50, liking=50, covariance=((4, 1), (1, 9)))
    tailed = replace(plain, scales=(scales, scales))
    for level, longer in ((0.50, False), (0.99, True)):
        own, other = (each.ellipse(level).semi_axes[0] for each in (tailed, plain))
        assert (own > other) is longer
    axes = tailed.ellipse(0.80).semi_axes
    edge = 50 + np.array([np.cos(tailed.ellipse(0.80).angle_rad), 0]) * axes[0]
    edge[1] = 50 + np.sin(tailed.ellipse(0.80).angle_rad) * axes[0]
    assert tailed.level_at(*edge) == pytest.approx(0.80)


def test_scales_that_never_meet_in_one_round_tell_of_leanings_alone() -> None:
    strong = RatingColumns(
        y=[60.0, 30, 70, 45], taster=list("aabb"), coffee=list("ABAB"), round=["hot"] * 4
    )
    liked = RatingColumns(
        y=[70.0, 50, 80, 60], taster=list("aabb"), coffee=list("ABAB"), round=["warm"] * 4
    )
    assert -1.0 <= slip_correlation(strong, liked) <= 1.0
