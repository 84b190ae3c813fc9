"""Model checks: each mark against a refit without it, and what a host is told."""

import numpy as np
import pytest

from twobowls.statistics import ratings_checks
from twobowls.statistics.ratings import RatingColumns, fit_ratings
from twobowls.statistics.ratings_checks import check_marks


def table(seed: int = 1, tasters: int = 8, noise: float = 6.0) -> RatingColumns:
    rng = np.random.default_rng(seed)
    rows = [(t, c, r) for t in range(tasters) for c in range(4) for r in range(2)]
    level, own = rng.normal(0, 8, 4), rng.normal(0, 5, tasters)
    y = [50 + level[c] + own[t] + rng.normal(0, noise) for t, c, _ in rows]
    return RatingColumns(
        y=np.clip(y, 0, 100),
        taster=[f"t{t}" for t, _, _ in rows],
        coffee=[f"c{c}" for _, c, _ in rows],
        round=[("hot", "cool")[r] for _, _, r in rows],
    )


def with_mark(columns: RatingColumns, row: int, mark: float) -> RatingColumns:
    y = np.array(columns.y)
    y[row] = mark
    return RatingColumns(y=y, **columns.factors())


def test_prediction_is_that_of_the_other_marks_alone() -> None:
    columns = table()
    fit = fit_ratings(columns)
    found = check_marks(columns, fit)
    y, row = np.asarray(columns.y), 13
    labels = {name: np.array(values) for name, values in columns.factors().items()}
    covariance = fit.variance["residual"] * np.eye(len(y)) + 1e8  # a vague intercept
    for name, size in fit.variance.items():
        if name != "residual":
            alike = np.ones((len(y), len(y)), dtype=bool)
            for part in name.split(":"):
                alike &= labels[part][:, None] == labels[part][None, :]
            covariance += size * alike
    rest = np.arange(len(y)) != row
    gain = np.linalg.solve(covariance[np.ix_(rest, rest)], covariance[rest, row])
    expected = y[rest].mean() + gain @ (y[rest] - y[rest].mean())
    spread = np.sqrt(covariance[row, row] - gain @ covariance[rest, row])
    assert found.standardised[row] == pytest.approx((y[row] - expected) / spread, rel=1e-4)


def test_a_slip_of_the_finger_is_found_and_told() -> None:
    columns = with_mark(table(), 21, 99.0)
    found = check_marks(columns, fit_ratings(columns))
    assert [each.row for each in found.outlying] == [21]
    assert found.outlying[0].standardised > 3.5
    expected = found.outlying[0].expected
    assert found.sentences[0] == (
        f"t2 put c2 in round cool at 99, where the other marks foretell about {expected:.0f}: "
        "a slip of the finger?"
    )


def test_a_good_table_gives_no_sentence() -> None:
    found = check_marks(table(), fit_ratings(table()))
    assert found.sentences == ()
    assert found.at_ends == 0.0
    assert np.mean(np.square(found.standardised)) == pytest.approx(1, abs=0.35)
    assert set(found.spread) == {f"t{t}" for t in range(8)}


def test_a_careless_taster_is_told() -> None:
    columns = table(noise=3.0)
    y = np.array(columns.y)
    y[:8] = [5, 95, 20, 90, 10, 85, 99, 15]
    careless = RatingColumns(y=y, **columns.factors())
    found = check_marks(careless, fit_ratings(careless))
    assert any(each.startswith("t0's marks scatter") for each in found.sentences)


def test_marks_at_the_ends_are_told() -> None:
    columns = table()
    y = np.array(columns.y)
    y[::4] = 100.0
    found = check_marks(
        RatingColumns(y=y, **columns.factors()),
        fit_ratings(RatingColumns(y=y, **columns.factors())),
    )
    assert found.at_ends == 0.25
    assert (
        "25 % of the marks sit at an end of the scale: "
        "differences there look smaller than they are."
    ) in found.sentences


def test_a_large_panel_is_checked_taster_by_taster(monkeypatch: pytest.MonkeyPatch) -> None:
    columns = with_mark(table(tasters=40), 21, 99.0)
    fit = fit_ratings(columns)
    whole = check_marks(columns, fit)
    monkeypatch.setattr(ratings_checks, "WHOLE_LIMIT", 10)
    apart = check_marks(columns, fit)
    assert [each.row for each in apart.outlying] == [each.row for each in whole.outlying] == [21]
    assert np.corrcoef(apart.standardised, whole.standardised)[0, 1] > 0.98


def test_a_flat_fit_can_be_checked_too() -> None:
    columns = with_mark(table(), 21, 99.0)
    found = check_marks(columns, fit_ratings(columns, prior="flat"))
    assert [each.row for each in found.outlying] == [21]
