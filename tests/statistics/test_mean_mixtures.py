"""Means and their differences as mixtures, at the edge of what numbers can hold."""

import numpy as np

from twobowls.statistics.mean_mixtures import mixture_means


def test_a_difference_lost_in_rounding_is_neither_certain_nor_no_number() -> None:
    covariances = np.full((2, 3, 3), 41.5)  # three means that move together, whatever they are
    means = np.array([[50.0, 50.0, 50.0 + 1e-11], [50.0, 50.0, 50.0 - 2e-11]])
    names = ("A", "B", "C")
    found, contrasts = mixture_means(names, np.array([0.3, 0.7]), means, covariances, 0.90)
    assert all(abs(each.probability - 0.5) < 1e-4 for each in contrasts)
    assert all(abs(end) < 1e-3 for each in contrasts for end in each.estimate.interval)
    assert all(abs(each.estimate.se - 41.5**0.5) < 1e-9 for each in found)


def test_means_without_any_error_are_held_apart() -> None:
    means, nothing = np.array([[50.0, 40.0]]), np.zeros((1, 2, 2))
    _, (only,) = mixture_means(("A", "B"), np.ones(1), means, nothing, 0.90)
    assert only.probability == 1.0
    assert abs(only.estimate.interval[0] - 10.0) < 1e-9
