"""The rating benchmark's own parts: peers that fail are told, curves are drawn."""

import shutil
from pathlib import Path

import pytest
from benchmarks import peers
from benchmarks.growth import AXES, Point, draw
from benchmarks.made_up import marks
from benchmarks.ratings import FULL, columns_of, compare, lme4

from twobowls.statistics.ratings import fit_ratings

SMALL = marks(12, 3, repeats=2)


def test_a_peer_that_is_not_there_is_told_aloud(capsys: pytest.CaptureFixture[str]) -> None:
    assert peers.time_python("no-such-peer", FULL, columns_of(SMALL)) is None
    assert "NOT MEASURED: no-such-peer: it said: it is not installed; `make peers`" in (
        capsys.readouterr().out
    )


def test_a_comparison_goes_on_without_a_missing_peer(capsys: pytest.CaptureFixture[str]) -> None:
    figure = compare("small", SMALL, FULL, ("no-such-peer",), runs=1, goal_peer="no-such-peer")
    assert figure.peers == ()
    assert figure.met is None
    assert figure.value > 0
    assert "NOT MEASURED" in capsys.readouterr().out


@pytest.mark.skipif(shutil.which("Rscript") is None, reason="R is not installed")
def test_r_is_timed_and_reaches_the_same_deviance(capsys: pytest.CaptureFixture[str]) -> None:
    timed = lme4(FULL, SMALL, runs=1)
    if timed is None:
        assert "NOT MEASURED: R lme4: it said: " in capsys.readouterr().out
        return
    deviance = fit_ratings(SMALL, prior="flat", random=("taster", "taster:coffee")).reml_deviance
    assert timed.score == pytest.approx(deviance, abs=1e-4)
    assert timed.seconds > 0


def test_an_error_in_r_is_told_aloud(capsys: pytest.CaptureFixture[str]) -> None:
    assert peers.time_r("no.such.package", "lm(y ~ 1, d)", "deviance(m)", columns_of(SMALL)) is None
    assert "NOT MEASURED: R no.such.package: " in capsys.readouterr().out


def test_the_curves_are_drawn_with_an_axis_for_each_thing_that_grows(tmp_path: Path) -> None:
    points = [
        Point(axis=axis, marks=n * 6, tasters=n, coffees=n, prior="flat", seconds=n / 1000)
        for axis in AXES
        for n in (2, 20, 200)
    ]
    drawn = draw(points, tmp_path / "growth.svg").read_text()
    assert drawn.startswith("<svg")
    assert all(title in drawn for title in AXES.values())
    assert "milliseconds" in drawn
