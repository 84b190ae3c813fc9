import numpy as np
import pytest
from scipy.integrate import solve_ivp

from twobowls.tasting.heat_loss import (
    after_pour,
    heat_loss,
    heat_path,
    saturation_pressure,
    shape_of,
)
from twobowls.tasting.setup import Vessel


@pytest.mark.parametrize("crust", [False, True])
def test_the_table_of_times_solves_the_energy_balance(crust: bool) -> None:
    """Against SciPy's adaptive Runge-Kutta on the same loss of heat."""
    shape = shape_of(Vessel())
    capacity = shape.water_j_per_k + shape.bowl_j_per_k

    def slope(_: float, celsius: np.ndarray) -> np.ndarray:
        return np.asarray(-heat_loss(shape, celsius, 21.0, crust=crust).total / capacity)

    times = np.linspace(0, 3600, 13)
    solved = solve_ivp(slope, (0, 3600), [82.0], t_eval=times, rtol=1e-8, atol=1e-8).y[0]
    path = heat_path(shape, 21.0, crust=crust)
    assert path.at_age(path.age(np.array([82.0])) + times) == pytest.approx(solved, abs=0.01)


@pytest.mark.reference
def test_saturation_pressure_is_that_of_the_steam_tables() -> None:
    """Steam tables at 20, 50, 80 °C: 2339, 12352, 47414 Pa (from memory)."""
    found = saturation_pressure(np.array([20.0, 50.0, 80.0]))
    assert found == pytest.approx([2339, 12352, 47414], rel=0.005)


@pytest.mark.reference
def test_an_open_mug_loses_about_forty_watts_by_its_surface() -> None:
    """Lid off an insulated mug: about 40 W more at first (protonsforbreakfast.wordpress.com)."""
    watts = heat_loss(shape_of(Vessel(volume_ml=300, rim_mm=85)), np.array([88.0]), 20.0)
    assert 30 < (watts.vapour + watts.air + watts.radiation)[0] < 55


def test_vapour_leads_while_hot_and_fades() -> None:
    watts = heat_loss(shape_of(Vessel()), np.array([85.0, 60.0, 30.0]), 21.0)
    share = watts.vapour / watts.total
    assert share[0] > 0.5
    assert share[0] > share[1] > share[2]


def test_a_crust_holds_back_the_surface_only() -> None:
    shape = shape_of(Vessel())
    bare = heat_loss(shape, np.array([80.0]), 21.0)
    covered = heat_loss(shape, np.array([80.0]), 21.0, crust=True)
    assert covered.vapour[0] < bare.vapour[0] / 2
    assert covered.wall == pytest.approx(bare.wall)


def test_the_pour_balances_heat() -> None:
    shape = shape_of(Vessel())
    mixed = after_pour(shape, 93.0, 21.0, np.array([1.0]))[0]
    given = shape.water_j_per_k * (93.0 - mixed)
    assert given == pytest.approx(shape.bowl_j_per_k * (mixed - 21.0))
