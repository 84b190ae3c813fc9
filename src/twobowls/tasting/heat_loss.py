"""The physics of a cooling bowl: how many watts leave it at each temperature.

Pure heat balance of one lump of coffee in one bowl; knows nothing of probes or people.

A bowl loses heat by vapour from the open surface, by air that rises from it, by radiation,
and through its wall. Correlations and constants are textbook ones, written from memory:

* Free convection above a warm horizontal plate: Nu = 0.54 Ra^(1/4) with the length
  area/perimeter (McAdams 1954; Incropera and DeWitt, Fundamentals of Heat and Mass Transfer).
  Beside a warm upright wall: Nu = 0.59 Ra^(1/4) with the height as length (the same).
* Vapour by the analogy of heat and mass transfer (Chilton and Colburn 1934): h_mass =
  h / (rho c_p Le^(2/3)), driven by the difference in vapour density. Moist air is lighter,
  which drives the flow too: the Rayleigh number takes the virtual temperature.
* Saturation pressure of water: Antoine equation with the usual constants for 1 to 100 degrees.
* Latent heat of vaporisation 2501 - 2.42 T kJ/kg (linear fit to steam tables).
* Radiation: Stefan-Boltzmann, emissivity 0.96 (water) and 0.9 (glazed ceramic).
* The surface is cooler than the coffee below it: heat must first rise through the coffee, by
  Nu = 0.54 Ra^(1/4) again (a layer cooled from above), properties of water near 70 degrees.
* Until it is broken, the crust is one more layer that heat must cross: 5 mm of wet grounds
  with 0.35 W/mK, an estimate of ours.

The room's air is taken to be half saturated and still.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from twobowls.tasting.setup import Vessel

FloatArray = NDArray[np.float64]

_KELVIN = 273.15
_STEFAN_BOLTZMANN = 5.67e-8  # W/m2K4
_GRAVITY = 9.81
_PRESSURE = 101_325.0
_MM_OF_MERCURY = 133.322
_HUMIDITY = 0.5
_VAPOUR_GAS = 461.5  # J/kgK
_AIR_GAS = 287.05  # J/kgK
_AIR_CP = 1007.0  # J/kgK
_LEWIS_TO_TWO_THIRDS = 0.9  # Le 0.85 for water vapour in air
_WATER_CP = 4186.0  # J/kgK
_WATER_KG_PER_L = 0.97  # near 85 degrees
_CERAMIC_CP = 850.0  # J/kgK
_CERAMIC_DENSITY = 2400.0
_WALL_M = 0.005
_WALL_CONDUCTIVITY = 1.5  # W/mK
_CRUST_M2K_PER_W = 0.005 / 0.35
_RISING = 170.0  # W/m2K per (K/m)^(1/4): 0.54 k (g beta / nu alpha)^(1/4) of water near 70 degrees
_TABLE_FILM = 5.0  # W/m2K from the foot of the bowl into the table
_MEAN_WIDTH = 0.85  # a bowl's mean width as a share of its rim
_SURFACE_WIDTH = 0.95  # the width of the liquid's surface as a share of the rim
_DEGREES = 0.5  # step of the tables
_HOTTEST = 105.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """The bowl in square metres and joules per kelvin."""

    surface_m2: float
    surface_m: float
    wall_m2: float
    wall_m: float
    foot_m2: float
    water_j_per_k: float
    bowl_j_per_k: float


def shape_of(vessel: Vessel) -> Shape:
    """Turn volume and rim into surfaces and heat capacities.

    Parameters
    ----------
    vessel : Vessel
        Water poured, mL, and rim, mm.

    Returns
    -------
    Shape
        The body of the bowl is taken as an upright cylinder of 0.85 of the rim's width, its
        wall as 5 mm of ceramic.

    Examples
    --------
    >>> shape = shape_of(Vessel(volume_ml=200, rim_mm=82))
    >>> round(shape.water_j_per_k), 100 < shape.bowl_j_per_k < 250
    (812, True)
    """
    width = vessel.rim_mm / 1000 * _MEAN_WIDTH
    foot = np.pi / 4 * width**2
    height = vessel.volume_ml * 1e-6 / foot
    surface = vessel.rim_mm / 1000 * _SURFACE_WIDTH
    wall = np.pi * width * height
    litres = vessel.volume_ml / 1000
    return Shape(
        surface_m2=float(np.pi / 4 * surface**2),
        surface_m=surface / 4,
        wall_m2=float(wall),
        wall_m=float(height),
        foot_m2=float(foot),
        water_j_per_k=litres * _WATER_KG_PER_L * _WATER_CP,
        bowl_j_per_k=float((wall + foot) * _WALL_M * _CERAMIC_DENSITY * _CERAMIC_CP),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Watts:
    """What leaves the bowl, by way, at each temperature."""

    vapour: FloatArray
    air: FloatArray
    radiation: FloatArray
    wall: FloatArray

    @property
    def total(self) -> FloatArray:
        """All ways together."""
        return self.vapour + self.air + self.radiation + self.wall


def heat_loss(
    shape: Shape,
    coffee_c: FloatArray,
    room_c: float,
    *,
    vapour_factor: float = 1.0,
    crust: bool = False,
) -> Watts:
    """Return the heat that leaves a bowl at each temperature of the coffee.

    Parameters
    ----------
    shape : Shape
        The bowl.
    coffee_c : ndarray of float
        Temperatures of the coffee, degrees Celsius, above the room's.
    room_c : float
        Temperature of the room.
    vapour_factor : float
        Multiplies the loss by vapour alone.
    crust : bool
        Whether the grounds still float unbroken on the coffee.

    Returns
    -------
    Watts
        Arrays of the shape of ``coffee_c``.

    Examples
    --------
    >>> watts = heat_loss(shape_of(Vessel()), np.array([80.0, 40.0]), 21.0)
    >>> bool(watts.vapour[0] > watts.air[0] + watts.radiation[0])  # vapour leads while hot
    True
    >>> bool(watts.total[0] > 2 * watts.total[1])
    True
    """
    wall = _through_wall(shape, coffee_c, room_c)
    low, high = np.full_like(coffee_c, room_c), coffee_c
    for _ in range(24):  # halve the bracket of the surface's temperature
        surface_c = (low + high) / 2
        leaving = _from_surface(shape, surface_c, room_c, vapour_factor)
        too_warm = sum(leaving) > _reaching_surface(shape, coffee_c - surface_c, crust)
        low, high = np.where(too_warm, low, surface_c), np.where(too_warm, surface_c, high)
    vapour, air, radiation = leaving
    return Watts(vapour=vapour, air=air, radiation=radiation, wall=wall)


def _reaching_surface(shape: Shape, drop: FloatArray, crust: bool) -> FloatArray:
    """Return the watts that rise through the coffee, and the crust, for a drop of degrees."""
    rising = _RISING * (np.maximum(drop, 1e-9) / shape.surface_m) ** 0.25
    resistance = 1 / rising + (_CRUST_M2K_PER_W if crust else 0.0)
    return np.asarray(drop * shape.surface_m2 / resistance)


def _radiated(warm_c: FloatArray, room_c: float) -> FloatArray:
    return np.asarray(_STEFAN_BOLTZMANN * ((warm_c + _KELVIN) ** 4 - (room_c + _KELVIN) ** 4))


def saturation_pressure(celsius: FloatArray) -> FloatArray:
    """Return the saturation pressure of water vapour.

    Parameters
    ----------
    celsius : ndarray of float
        Temperatures.

    Returns
    -------
    ndarray of float
        Pascals.

    Examples
    --------
    >>> steam_tables = np.array([2339.0, 19946.0])
    >>> bool(np.allclose(saturation_pressure(np.array([20.0, 60.0])), steam_tables, rtol=0.005))
    True
    """
    return np.asarray(_MM_OF_MERCURY * 10 ** (8.07131 - 1730.63 / (233.426 + celsius)))


def _air_at(celsius: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return conductivity (W/mK) and kinematic viscosity (m2/s) of air; power-law fits."""
    ratio = (celsius + _KELVIN) / 300.0
    return 0.0263 * ratio**0.82, 15.9e-6 * ratio**1.75


def _rayleigh(
    driving: FloatArray, film_c: FloatArray, length: float, viscosity: FloatArray
) -> FloatArray:
    """Return g beta dT L^3 / (nu alpha), with a Prandtl number of 0.71."""
    expansion = 1 / (film_c + _KELVIN)
    return np.asarray(_GRAVITY * expansion * driving * length**3 * 0.71 / viscosity**2)


def _from_surface(
    shape: Shape, surface_c: FloatArray, room_c: float, vapour_factor: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the watts that leave a surface of a given temperature: vapour, air, radiation."""
    room = np.full_like(surface_c, room_c)
    above, far = saturation_pressure(surface_c), _HUMIDITY * saturation_pressure(room)
    film = (surface_c + room_c) / 2
    conductivity, viscosity = _air_at(film)
    driving = np.maximum(_virtual(surface_c, above) - _virtual(room, far), 0.0)
    rayleigh = _rayleigh(driving, film, shape.surface_m, viscosity)
    h = 0.54 * rayleigh**0.25 * conductivity / shape.surface_m
    air = h * shape.surface_m2 * (surface_c - room_c)
    vapour = vapour_factor * h * shape.surface_m2 * _vapour_per_h(surface_c, above, room_c, far)
    return vapour, air, 0.96 * shape.surface_m2 * _radiated(surface_c, room_c)


def _vapour_per_h(
    surface_c: FloatArray, above: FloatArray, room_c: float, far: FloatArray
) -> FloatArray:
    """Return the latent heat per area and per unit of the heat-transfer coefficient, in K."""
    density = _PRESSURE / (_AIR_GAS * ((surface_c + room_c) / 2 + _KELVIN))
    thick = above / (_VAPOUR_GAS * (surface_c + _KELVIN))
    thin = far / (_VAPOUR_GAS * (room_c + _KELVIN))
    latent = 2.501e6 - 2.42e3 * surface_c
    return np.asarray((thick - thin) * latent / (density * _AIR_CP * _LEWIS_TO_TWO_THIRDS))


def _virtual(celsius: FloatArray, vapour_pa: FloatArray) -> FloatArray:
    """Return the temperature (K) of dry air as light as this moist air."""
    return (celsius + _KELVIN) / (1 - 0.378 * vapour_pa / _PRESSURE)


def _through_wall(shape: Shape, coffee_c: FloatArray, room_c: float) -> FloatArray:
    """Solve for the outer wall by a few rounds: what comes through must leave outside."""
    outer = coffee_c - 3.0
    film = coffee_c
    for _ in range(6):
        gap = np.maximum(outer - room_c, 0.01)
        film = (outer + room_c) / 2
        conductivity, viscosity = _air_at(film)
        rayleigh = _rayleigh(gap, film, shape.wall_m, viscosity)
        outside = 0.59 * rayleigh**0.25 * conductivity / shape.wall_m
        outside = outside + 0.9 * _radiated(outer, room_c) / gap
        through = 1 / (1 / outside + _WALL_M / _WALL_CONDUCTIVITY)
        outer = room_c + (coffee_c - room_c) * through / outside
    foot = 1 / (1 / _TABLE_FILM + _WALL_M / _WALL_CONDUCTIVITY)
    return np.asarray((through * shape.wall_m2 + foot * shape.foot_m2) * (coffee_c - room_c))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeatPath:
    """The one road by which a bowl cools; how far along it a temperature lies is its age.

    The balance is C dT/dt = -loss(T), so the time between two temperatures is the integral of
    C / loss. It is tabulated once; a factor on the loss only stretches time, and a cooler
    start only begins further along.
    """

    ages: FloatArray
    celsius: FloatArray

    def age(self, celsius: FloatArray) -> FloatArray:
        """Return the seconds from 105 degrees down to a temperature."""
        return np.asarray(np.interp(-celsius, -self.celsius, self.ages))

    def at_age(self, seconds: FloatArray) -> FloatArray:
        """Return the temperature at an age."""
        return np.asarray(np.interp(seconds, self.ages, self.celsius))


def heat_path(
    shape: Shape, room_c: float, *, vapour_factor: float = 1.0, crust: bool = False
) -> HeatPath:
    """Tabulate how a bowl cools.

    Parameters
    ----------
    shape : Shape
        The bowl.
    room_c : float
        Temperature of the room.
    vapour_factor : float
        Multiplies the loss by vapour alone.
    crust : bool
        Whether the grounds float unbroken on the coffee.

    Returns
    -------
    HeatPath

    Examples
    --------
    >>> path = heat_path(shape_of(Vessel()), 21.0)
    >>> minutes = (path.age(np.array([60.0])) - path.age(np.array([80.0]))) / 60
    >>> bool(3 < minutes[0] < 20)
    True
    """
    celsius = np.arange(_HOTTEST, room_c + _DEGREES / 4, -_DEGREES)
    watts = heat_loss(shape, celsius, room_c, vapour_factor=vapour_factor, crust=crust)
    slowness = (shape.water_j_per_k + shape.bowl_j_per_k) / watts.total
    steps = 0.5 * (slowness[1:] + slowness[:-1]) * _DEGREES
    return HeatPath(ages=np.concatenate([[0.0], np.cumsum(steps)]), celsius=celsius)


def after_pour(shape: Shape, water_c: float, room_c: float, bowl_factor: FloatArray) -> FloatArray:
    """Return the temperature once the water has warmed the cold bowl.

    Parameters
    ----------
    shape : Shape
        The bowl.
    water_c, room_c : float
        Temperature of the water poured, and of the bowl before.
    bowl_factor : ndarray of float
        How much more heat than expected the bowl and the grounds take up.

    Returns
    -------
    ndarray of float

    Examples
    --------
    >>> after_pour(shape_of(Vessel()), 93.0, 21.0, np.array([0.0, 1.0])).round()
    array([93., 81.])
    """
    taken = shape.bowl_j_per_k * bowl_factor
    return np.asarray(water_c - taken / (taken + shape.water_j_per_k) * (water_c - room_c))
