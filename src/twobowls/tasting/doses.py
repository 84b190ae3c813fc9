"""How much to weigh, grind and boil for a tasting."""

from dataclasses import dataclass
from math import ceil

from twobowls.counting import times_in
from twobowls.tasting.flights import bowls_of, flight_bowls
from twobowls.tasting.setup import Setup


@dataclass(frozen=True, slots=True, kw_only=True)
class CoffeeDose:
    """One coffee: how many bowls it fills, and how many grams to put in the grinder."""

    coffee_id: str
    bowls: int
    grind_g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Doses:
    """What the host weighs and boils.

    ``water_ml`` and ``dose_g`` are for one bowl; a coffee's ``grind_g`` includes the purge.
    ``kettle_fills`` counts whole bowls from each filling, flight by flight.
    """

    water_ml: float
    dose_g: float
    coffees: tuple[CoffeeDose, ...]
    total_bowls: int
    total_dose_g: float
    total_grind_g: float
    total_water_ml: float
    bowls_per_fill: int
    kettle_fills: int


def doses(setup: Setup) -> Doses:
    """Work out dose and water for a bowl and for the whole tasting.

    Parameters
    ----------
    setup : Setup
        What the host chose.

    Returns
    -------
    Doses

    Notes
    -----
    55 g/L, 8.25 g for 150 mL, is the ratio of a trade protocol (SCAA 2009, seen in secondary
    sources). The purge is ground first and thrown away, so that no other coffee is left in
    the grinder; the rest is weighed into the bowls.

    Examples
    --------
    >>> from twobowls.tasting.setup import Vessel
    >>> found = doses(Setup(name="x", coffee_ids=("a", "b"), vessel=Vessel(volume_ml=150.0)))
    >>> found.dose_g, found.coffees[0].grind_g, found.total_water_ml, found.kettle_fills
    (8.25, 13.25, 300.0, 1)
    """
    water = setup.vessel.volume_ml
    dose = setup.ratio_g_per_l * water / 1000
    each = tuple(
        CoffeeDose(coffee_id=coffee, bowls=bowls, grind_g=bowls * dose + setup.purge_g)
        for coffee, bowls in bowls_of(setup).items()
    )
    total = sum(coffee.bowls for coffee in each)
    per_fill = times_in(setup.kettle_ml, water)
    return Doses(
        water_ml=water,
        dose_g=dose,
        coffees=each,
        total_bowls=total,
        total_dose_g=total * dose,
        total_grind_g=sum(coffee.grind_g for coffee in each),
        total_water_ml=total * water,
        bowls_per_fill=per_fill,
        kettle_fills=sum(ceil(len(flight) / per_fill) for flight in flight_bowls(setup)),
    )


_TAP_C = 15.0  # water from the tap: common practice
_HEAT_J_PER_ML_K = 4.186  # specific heat of water, per mL
_EFFICIENCY = 0.85  # the rest warms the kettle and the air: common practice
_FILLING_S = 30.0  # to the tap and back


def refill_s(setup: Setup) -> float:
    """Return how long a further filling of the kettle takes until it can be poured.

    Parameters
    ----------
    setup : Setup
        What the host chose.

    Returns
    -------
    float
        Seconds: half a minute for the tap, then a full kettle from 15 °C to the water's
        temperature, heated by the power of the kettle, of which 85 % reaches the water.

    Examples
    --------
    >>> round(refill_s(Setup(name="x", coffee_ids=("a", "b"))))
    222
    """
    joules = setup.kettle_ml * _HEAT_J_PER_ML_K * (setup.water_c - _TAP_C)
    return _FILLING_S + joules / (setup.kettle_w * _EFFICIENCY)
