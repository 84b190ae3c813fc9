"""The posterior of stretches: its slopes and curvature against small steps."""

import numpy as np
import pytest

from twobowls.statistics.stretch_posterior import StretchParts, _look, across


def test_slopes_and_curvature_are_those_of_small_steps() -> None:
    rng = np.random.default_rng(1)
    weight = np.array([across(rng.uniform(0.01, 0.1, (4, 3))) for _ in range(2)])
    pull = np.einsum("ptcd,ptd->ptc", weight, rng.normal(50, 10, (2, 4, 3)))
    parts = StretchParts(
        weight=weight, pull=pull, precision=np.full((2, 3), 0.01), quadratic=0.0, rank=16
    )
    deviation, noise, step = np.array([0.3]), np.array([1.2]), 1e-5
    place = 1 + rng.normal(0, 0.2, (1, 4))
    here = _look(parts, deviation, noise, place)
    for taster in range(4):
        aside = step * np.eye(4)[taster]
        more = _look(parts, deviation, noise, place + aside)
        less = _look(parts, deviation, noise, place - aside)
        slope = (more.value - less.value)[0] / (2 * step)
        assert slope == pytest.approx(here.slopes[0, taster], abs=1e-7)
        bend = (less.slopes - more.slopes)[0] / (2 * step)
        assert bend == pytest.approx(here.curvature[0, taster], abs=1e-6)
