import numpy as np
import pytest

from twobowls.errors import InputError
from twobowls.tasting import cooling
from twobowls.tasting.cooling import cooling_model
from twobowls.tasting.heat_loss import after_pour, heat_path, shape_of
from twobowls.tasting.setup import Vessel

# Coffee in a mug in a room of 17 °C, every two minutes from 0 to 46: the data of Gould and
# Tobochnik, An Introduction to Computer Simulation Methods, as carried by public course pages
# (ten files agree on the black series).
MINUTES = np.arange(0.0, 48.0, 2.0)
SERIES = {
    "black": (
        "82.3 78.5 74.3 70.7 67.6 65.0 62.5 60.1 58.1 56.1 54.3 52.8 51.2 49.9 48.6 47.2 46.1 "
        "45.0 43.9 43.0 41.9 41.0 40.1 39.5"
    ),
    "cream": (
        "68.8 64.8 62.1 59.9 57.7 55.9 53.9 52.3 50.8 49.5 48.1 46.8 45.9 44.8 43.7 42.6 41.7 "
        "40.8 39.9 39.3 38.6 37.7 37.0 36.4"
    ),
}
ROOM = 17.0


def series(name: str) -> np.ndarray:
    return np.array([float(value) for value in SERIES[name].split()])


def misses(name: str, water: float, probes: list[int]) -> np.ndarray:
    measured = series(name)
    model = cooling_model(Vessel(), water, ROOM, crust_s=0).with_probes(
        [(60 * MINUTES[i], measured[i]) for i in probes]
    )
    return np.asarray(model.temperature(60 * MINUTES) - measured)


@pytest.mark.reference
@pytest.mark.parametrize("probes", [[0, 2, 5], [0, 5], [0, 3, 6, 10]])
def test_a_few_probes_foretell_the_black_series(probes: list[int]) -> None:
    """From two to four readings in 20 minutes, 46 minutes within a degree."""
    assert np.abs(misses("black", 90.0, probes)).max() < 1.0


@pytest.mark.reference
def test_four_probes_foretell_the_series_with_cream() -> None:
    """Fat closes the surface in part, so it is harder; still better than Newton's best fit."""
    off = misses("cream", 80.0, [0, 3, 6, 10])
    assert np.abs(off).max() < 1.6
    assert np.sqrt((off**2).mean()) < 1.0


@pytest.mark.reference
@pytest.mark.parametrize(
    ("name", "water", "newton"), [("black", 90.0, 1.67), ("cream", 80.0, 1.42)]
)
def test_with_all_readings_it_fits_far_better_than_newton(
    name: str, water: float, newton: float
) -> None:
    off = misses(name, water, list(range(24)))
    rms = float(np.sqrt((off**2).mean()))
    assert rms < 0.4
    assert rms < newton / 3


@pytest.mark.reference
@pytest.mark.parametrize(
    ("name", "rate", "rms"), [("black", 0.02592, 1.67), ("cream", 0.02370, 1.42)]
)
def test_one_newton_constant_misses_by_well_over_a_degree(
    name: str, rate: float, rms: float
) -> None:
    """Least squares with the first reading fixed; the rates and errors were computed before."""
    measured = series(name)

    def off(r: float) -> np.ndarray:
        return np.asarray(ROOM + (measured[0] - ROOM) * np.exp(-r * MINUTES) - measured)

    rates = np.linspace(0.015, 0.035, 20_001)
    best = rates[np.argmin([(off(r) ** 2).sum() for r in rates])]
    assert best == pytest.approx(rate, abs=5e-6)
    assert np.sqrt((off(best) ** 2).mean()) == pytest.approx(rms, abs=0.005)
    assert np.abs(off(best)).max() > 2.0


def test_a_bowl_before_any_probe_is_like_trade_practice() -> None:
    """About 71 °C after 8-10 min (SCAA 2009, secondary) lies in what is thought possible."""
    bowl = cooling_model(Vessel(volume_ml=200, rim_mm=82), 93.0, 21.0)
    early, late = bowl.seconds_to_interval(71.0) or (0.0, 0.0)
    assert early / 60 < 8 < late / 60
    assert 4 < (bowl.seconds_to(71.0) or 0) / 60 < 10
    assert 9 < (bowl.seconds_to(60.0) or 0) / 60 < 20


def test_temperature_falls_and_never_below_the_room() -> None:
    bowl = cooling_model(Vessel(), 93.0, 21.0)
    curve = bowl.temperature(np.linspace(0, 14_400, 500))
    assert (np.diff(curve) < 0).all()
    assert curve[0] < 93
    assert curve[-1] > 21


def test_seconds_to_is_the_inverse_of_temperature() -> None:
    bowl = cooling_model(Vessel(), 93.0, 21.0)
    for goal in (75.0, 60.0, 48.0, 36.0):
        seconds = bowl.seconds_to(goal)
        assert seconds is not None
        assert bowl.temperature(seconds) == pytest.approx(goal, abs=0.01)


def test_temperatures_that_are_not_on_the_way() -> None:
    bowl = cooling_model(Vessel(), 93.0, 21.0)
    assert bowl.seconds_to(92.9) == 0.0
    assert bowl.seconds_to(21.0) is None
    assert bowl.seconds_to_interval(20.0) is None


def test_a_wide_bowl_cools_faster_and_a_big_one_slower() -> None:
    def minutes(volume: float, rim: float) -> float:
        return cooling_model(Vessel(volume_ml=volume, rim_mm=rim), 93.0, 21.0).seconds_to(50.0) or 0

    assert minutes(200, 100) < minutes(200, 82) < minutes(200, 70)
    assert minutes(150, 82) < minutes(200, 82) < minutes(300, 82)


def test_the_crust_keeps_a_bowl_warm() -> None:
    covered = cooling_model(Vessel(), 93.0, 21.0)
    bare = cooling_model(Vessel(), 93.0, 21.0, crust_s=0)
    assert covered.temperature(240) > bare.temperature(240) + 3


def test_probes_narrow_what_is_not_known() -> None:
    bowl = cooling_model(Vessel(), 93.0, 21.0)
    early, late = bowl.seconds_to_interval(60.0) or (0.0, 0.0)
    probed = bowl.with_probes([(420, 68.0)])
    sooner, later = probed.seconds_to_interval(60.0) or (0.0, 0.0)
    assert later - sooner < (late - early) / 2
    assert probed.temperature(420) == pytest.approx(68.0, abs=0.7)
    assert probed.temperature_sd(900) < bowl.temperature_sd(900)
    assert probed.loss_sd < bowl.loss_sd


def test_probes_may_come_one_by_one() -> None:
    bowl = cooling_model(Vessel(), 93.0, 21.0)
    together = bowl.with_probes([(420, 68.0), (900, 57.0)])
    singly = bowl.with_probes([(420, 68.0)]).with_probes([(900, 57.0)])
    assert singly.probes == together.probes
    assert singly.curve_c == pytest.approx(together.curve_c)


def test_one_misread_probe_does_not_carry_the_day() -> None:
    bowl = cooling_model(Vessel(), 93.0, 21.0)
    truth = [(300.0, 72.0), (600.0, 64.5), (900.0, 58.5), (1200.0, 53.5)]
    good = bowl.with_probes(truth)
    spoilt = bowl.with_probes([*truth, (1050.0, 36.0)])
    assert spoilt.temperature(1500) == pytest.approx(float(good.temperature(1500)), abs=1.0)


def test_intervals_hold_what_they_promise_for_bowls_drawn_from_the_prior() -> None:
    """Bowls with known loss and start, read with error: 80 % intervals hold 80 % of times."""
    rng = np.random.default_rng(11)
    held = 0
    for _ in range(60):
        loss, vapour, taken = np.exp(
            rng.normal(0, [cooling._LOSS_SD, cooling._VAPOUR_SD, cooling._BOWL_SD])
        )
        path = heat_path(shape_of(Vessel()), 21.0, vapour_factor=float(vapour))
        start = after_pour(shape_of(Vessel()), 93.0, 21.0, np.array([float(taken)]))
        truth = path.at_age(path.age(start) + loss * np.array([300.0, 600.0, 1800.0]))
        readings = truth[:2] + rng.standard_t(4, 2) * cooling._PROBE_SD
        bowl = cooling_model(Vessel(), 93.0, 21.0, crust_s=0).with_probes(
            [
                (300.0, float(np.clip(readings[0], 20, 93))),
                (600.0, float(np.clip(readings[1], 20, 93))),
            ]
        )
        early, late = bowl.seconds_to_interval(float(truth[2]), level=0.8) or (0.0, 0.0)
        held += early <= 1800.0 <= late
    assert 40 <= held <= 57  # 48 expected, standard deviation 3.1


@pytest.mark.parametrize(
    ("probe", "message"),
    [
        ((-5.0, 60.0), "probe: -5 s is before the pour. Probe a bowl that has been poured."),
        (
            (60.0, 140.0),
            "probe: 140 °C lies outside room and kettle (21 to 93 °C). Read the thermometer again, "
            "in degrees Celsius.",
        ),
        ((60.0, float("nan")), "probe: nan °C lies outside room and kettle (21 to 93 °C). Read"),
        ((float("nan"), 60.0), "probe: nan s is before the pour. Probe a bowl"),
    ],
)
def test_readings_that_cannot_be_are_refused(probe: tuple[float, float], message: str) -> None:
    with pytest.raises(InputError) as refused:
        cooling_model(Vessel(), 93.0, 21.0).with_probes([probe])
    assert str(refused.value).startswith(message)


def test_water_must_be_warmer_than_the_room() -> None:
    with pytest.raises(InputError, match=r"water_c: 20 °C is no warmer than the room at 21 °C"):
        cooling_model(Vessel(), 20.0, 21.0)
