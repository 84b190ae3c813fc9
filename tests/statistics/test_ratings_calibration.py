"""A short version of the calibration study in `benchmarks/calibration`."""

from pathlib import Path
from typing import get_args

import numpy as np
import pytest
from benchmarks.calibration import pieces, report
from benchmarks.calibration.scenarios import SCENARIOS, Scenario
from benchmarks.calibration.study import LEVELS, Calibration, Truths, calibrate
from benchmarks.calibration.tables import ORDINARY, Table, Truth, truth_from_prior

from twobowls.statistics.ratings_results import Population


def always(truth: Truth) -> Truths:
    return lambda _: truth


@pytest.mark.parametrize(
    ("plan", "tables"),
    [(Table(2, 1, 1), 100), (Table(3, 2, 2), 40), (Table(4, 6, 1), 40)],
    ids=str,
)
def test_intervals_hold_what_they_promise_when_the_prior_is_true(plan: Table, tables: int) -> None:
    rng = np.random.default_rng(7)
    for found in calibrate(plan, lambda r: truth_from_prior(plan, r), tables, rng).values():
        for level in LEVELS:
            # four standard errors of the simulation as if a table's contrasts were one and the
            # same: any seed passes, but for one in ten thousand
            bound = 4 * (level * (1 - level) / tables) ** 0.5
            assert found.coverage(level) == pytest.approx(level, abs=bound)
        assert found.uniformity() > 1e-4


def test_hardly_any_clear_claim_where_there_is_no_difference() -> None:
    rng = np.random.default_rng(3)
    null = Truth({**ORDINARY, "coffee": 0.0, "coffee:round": 0.0})
    for plan in (Table(5, 8, 1), Table(4, 20, 1), Table(3, 3, 2)):
        assert calibrate(plan, always(null), 30, rng)["people"].clear_claims()[0] <= 0.01


def test_intervals_stay_honest_with_a_careless_taster_and_skewed_slips() -> None:
    rng = np.random.default_rng(5)
    for truth in (
        Truth(ORDINARY, careless=1),
        Truth(ORDINARY, skew=True),
        Truth(ORDINARY, stretch=0.3),
    ):
        found = calibrate(Table(4, 10, 1), always(truth), 50, rng)["people"]
        # 85 %, less three standard errors of 50 tables whose contrasts are one and the same
        assert found.coverage(0.90) > 0.85 - 3 * (0.9 * 0.1 / 50) ** 0.5


def test_uniform_places_are_told_from_others() -> None:
    rng = np.random.default_rng(1)
    even = rng.uniform(size=(2000, 3))
    assert Calibration(even, even, even).uniformity() > 1e-3
    narrow = 0.5 + 0.9 * (even - 0.5)
    assert Calibration(narrow, even, even).uniformity() < 1e-6


def test_wrong_claims_are_those_in_the_wrong_direction() -> None:
    sure = np.array([[0.995, 0.001], [0.6, 0.999]])
    truth = np.array([[1.0, -1.0], [1.0, -1.0]])
    found = Calibration(sure, sure, truth)
    share, claims = found.wrong_claims()
    assert share == pytest.approx(1 / 3)
    assert claims == 3
    assert found.clear_claims()[0] == 0.75
    assert found.false_claims()[0] == 0.25
    # where there is no difference, every claim is false
    assert Calibration(sure, sure, 0 * truth).false_claims()[0] == 0.75


def test_the_study_goes_on_where_it_stopped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pieces, "PIECE", 5)
    plan = Table(2, 1, 1)
    scenario = Scenario("prior", "from the prior", plan, lambda r: truth_from_prior(plan, r))
    assert pieces.load(tmp_path, scenario) is None
    once = pieces.run(tmp_path, scenario, 1.0, 10)
    next(once)  # one piece, then stopped
    assert [done for done, _ in pieces.run(tmp_path, scenario, 1.0, 10)][-1] == 1.0
    whole = pieces.load(tmp_path, scenario)
    assert whole is not None
    assert len(whole["people"].places) == 10
    again = tmp_path / "again"
    list(pieces.run(again, scenario, 1.0, 10))
    other = pieces.load(again, scenario)
    assert other is not None
    for population in get_args(Population):
        np.testing.assert_array_equal(whole[population].places, other[population].places)


def test_every_scenario_has_a_name_of_its_own() -> None:
    assert len({each.key for each in SCENARIOS}) == len(SCENARIOS)


def test_a_verdict_counts_errors_in() -> None:
    def table(tables: int, inside: float) -> Calibration:
        places = np.full((tables, 1), 0.5)
        places[int(inside * tables) :] = 0.999
        return Calibration(places, places, places)

    assert report.verdict(table(100, 0.9), 0.5) == "shown"
    assert report.verdict(table(100, 0.9), 0.05) == "no"  # 90 % at the level of 50 %


def test_the_report_has_a_row_for_people_and_table(tmp_path: Path) -> None:
    (tmp_path / "README.md").write_text(f"before\n{report.START}\nold\n{report.END}\nafter\n")
    plan = Table(2, 1, 1)
    found = calibrate(plan, lambda r: truth_from_prior(plan, r), 5, np.random.default_rng(1))
    rows = [(each, found) for each in SCENARIOS if each.table.coffees == 2]
    report.write(rows, tmp_path)
    text = (tmp_path / "README.md").read_text()
    assert text.startswith("before\n")
    assert text.endswith("\nafter\n")
    assert "old" not in text
    assert "| from the prior | 2 coffees, 1 taster, 1 round | people | 5 |" in text
    assert "| from the prior | 2 coffees, 1 taster, 1 round | table | 5 |" in text
    assert (tmp_path / report.PICTURE).read_text().startswith("<svg")
