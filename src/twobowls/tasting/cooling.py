"""How a bowl cools: loss by vapour, air and radiation, corrected by thermometer readings.

Knows one shape of bowl at a time and no clock: time counts from the pour.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from twobowls.errors import InputError
from twobowls.tasting.heat_loss import HeatPath, after_pour, heat_path, shape_of
from twobowls.tasting.setup import Vessel

FloatArray = NDArray[np.float64]

# What is not known of a bowl before it is probed, on the log scale: how fast it loses heat as
# a whole (draught, crust, lid of foam), how much of that goes with the vapour, and how much
# the cold bowl takes at the pour. Standard deviations of our own choice: wide, on purpose.
_LOSS_SD = 0.25
_VAPOUR_SD = 0.35
_BOWL_SD = 0.35
_PROBE_SD = 0.8  # thermometer, stirring, one bowl for all: degrees
_PROBE_DF = 4.0  # heavy tails, so that one misread probe does not spoil the clock
_POINTS = (13, 7, 9)  # grid over loss, vapour, bowl
_REACH = 3.0  # the grid reaches so many standard deviations
_REFINEMENTS = 3
_CURVE_S = np.concatenate(
    [np.arange(0.0, 600.0, 15.0), np.arange(600.0, 3600.0, 60.0), np.arange(3600.0, 14401.0, 300.0)]
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cooling:
    """A bowl's temperature over time, with what is not known about it.

    Made by `cooling_model`; `with_probes` returns a corrected one. ``curve_s`` and
    ``curve_c`` are the expected temperature as a table of seconds and degrees Celsius.
    """

    vessel: Vessel
    water_c: float
    room_c: float
    crust_s: float
    probes: tuple[tuple[float, float], ...]
    loss: float
    loss_sd: float
    curve_s: FloatArray
    curve_c: FloatArray
    _cases: "_Cases" = field(repr=False)

    def temperature(self, seconds: ArrayLike) -> FloatArray:
        """Return the expected temperature at a time since the pour.

        Parameters
        ----------
        seconds : float or array_like
            Time since the pour; before it the water's temperature in the bowl counts.

        Returns
        -------
        ndarray of float
            Degrees Celsius, the shape of ``seconds``.

        Examples
        --------
        >>> bowl = cooling_model(Vessel(), 93.0, 21.0)
        >>> bool(bowl.temperature(0) > bowl.temperature(600) > 21)
        True
        """
        return np.asarray(np.interp(np.asarray(seconds, dtype=float), self.curve_s, self.curve_c))

    def seconds_to(self, temperature_c: float) -> float | None:
        """Return when the expected temperature has fallen to a value.

        Parameters
        ----------
        temperature_c : float
            Degrees Celsius.

        Returns
        -------
        float or None
            Seconds since the pour; 0 when the bowl starts cooler, None when it is not
            reached within four hours.

        Examples
        --------
        >>> bowl = cooling_model(Vessel(), 93.0, 21.0)
        >>> bowl.seconds_to(95.0), bowl.seconds_to(20.0)
        (0.0, None)
        """
        if temperature_c >= self.curve_c[0]:
            return 0.0
        if temperature_c <= self.curve_c[-1]:
            return None
        return float(np.interp(-temperature_c, -self.curve_c, self.curve_s))

    def seconds_to_interval(
        self, temperature_c: float, level: float = 0.90
    ) -> tuple[float, float] | None:
        """Return between which times a temperature is reached, with a probability.

        Parameters
        ----------
        temperature_c : float
            Degrees Celsius.
        level : float
            Probability of the interval, between 0 and 1.

        Returns
        -------
        tuple of float, or None
            Earliest and latest second since the pour; None when it is not reached.

        Examples
        --------
        >>> early, late = cooling_model(Vessel(), 93.0, 21.0).seconds_to_interval(60.0)
        >>> bool(early < late)
        True
        """
        if self.seconds_to(temperature_c) is None:
            return None
        times = self._cases.times_to(temperature_c)
        tail = (1 - level) / 2
        low, high = _weighted_quantiles(times, self._cases.weights, (tail, 1 - tail))
        return low, high

    def temperature_sd(self, seconds: ArrayLike) -> FloatArray:
        """Return the standard deviation of what is not known of the temperature.

        Parameters
        ----------
        seconds : float or array_like
            Time since the pour.

        Returns
        -------
        ndarray of float
            Degrees Celsius, the shape of ``seconds``.

        Examples
        --------
        >>> bowl = cooling_model(Vessel(), 93.0, 21.0)
        >>> bool(bowl.with_probes([(600, 62.0)]).temperature_sd(600) < bowl.temperature_sd(600))
        True
        """
        asked = np.asarray(seconds, dtype=float)
        return self._cases.spread(asked.ravel()).reshape(asked.shape)

    def with_probes(self, probes: Sequence[tuple[float, float]]) -> "Cooling":
        """Correct the model by thermometer readings.

        Parameters
        ----------
        probes : sequence of (seconds, degrees Celsius)
            Readings since the pour, of one bowl or of several alike; added to those that the
            model has already.

        Returns
        -------
        Cooling
            A model whose loss of heat and first drop agree with the readings as far as
            these can be trusted.

        Raises
        ------
        InputError
            For a reading before the pour, or one that no bowl can have.

        Examples
        --------
        >>> bowl = cooling_model(Vessel(), 93.0, 21.0).with_probes([(300, 60.0)])
        >>> bool(abs(bowl.temperature(300) - 60) < 2)
        True
        """
        for seconds, celsius in probes:
            _check_probe(seconds, celsius, self.water_c, self.room_c)
        given = _Given(self.vessel, self.water_c, self.room_c, self.crust_s)
        return _fitted(given, (*self.probes, *probes))


def cooling_model(vessel: Vessel, water_c: float, room_c: float, crust_s: float = 240.0) -> Cooling:
    """Predict how a bowl cools before anything is measured.

    Parameters
    ----------
    vessel : Vessel
        The bowl: water poured, mL, and rim, mm.
    water_c : float
        Temperature of the water as it is poured, degrees Celsius.
    room_c : float
        Temperature of the room and of the empty bowl.
    crust_s : float
        How long the crust of grounds stays unbroken and keeps the bowl warm; 0 for coffee
        without grounds.

    Returns
    -------
    Cooling

    Raises
    ------
    InputError
        When the water is no warmer than the room.

    Notes
    -----
    The energy balance and its sources are in `twobowls.tasting.heat_loss`. Three things are
    not known beforehand and get a prior: the loss as a whole (standard deviation a quarter),
    the share of vapour and the heat that the bowl takes at the pour (a third each). The
    curve is their average, weighted by how well they agree with the readings.

    Examples
    --------
    >>> bowl = cooling_model(Vessel(volume_ml=200), water_c=93.0, room_c=21.0)
    >>> 8 < bowl.seconds_to(65.0) / 60 < 13
    True
    """
    if not water_c > room_c + 1:
        raise InputError(
            "water_c",
            f"{water_c:g} °C is no warmer than the room at {room_c:g} °C",
            "Give the temperature of the water in the kettle",
        )
    return _fitted(_Given(vessel, water_c, room_c, crust_s), ())


def _check_probe(seconds: float, celsius: float, water_c: float, room_c: float) -> None:
    if not (np.isfinite(seconds) and seconds >= 0):
        raise InputError(
            "probe", f"{seconds:g} s is before the pour", "Probe a bowl that has been poured"
        )
    if not (room_c - 3 <= celsius <= water_c + 2):
        raise InputError(
            "probe",
            f"{celsius:g} °C lies outside room and kettle ({room_c:g} to {water_c:g} °C)",
            "Read the thermometer again, in degrees Celsius",
        )


@dataclass(frozen=True, slots=True)
class _Given:
    """What is known for certain."""

    vessel: Vessel
    water_c: float
    room_c: float
    crust_s: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Cases:
    """Many possible bowls: log factors of loss, vapour and bowl, each with a weight.

    ``roads`` has, for each vapour factor on the grid, the heat path under the crust and the
    open one; ``which`` says which pair a case follows.
    """

    crust_s: float
    roads: tuple[tuple[HeatPath, HeatPath], ...]
    which: NDArray[np.int64]
    loss: FloatArray
    start_c: FloatArray
    weights: FloatArray

    def temperatures(self, seconds: FloatArray) -> FloatArray:
        """Return the temperature of each case (row) at each time (column)."""
        found = np.empty((len(self.loss), len(seconds)))
        under = np.clip(seconds, 0.0, self.crust_s)
        after = np.maximum(seconds - self.crust_s, 0.0)
        for index, (covered, bare) in enumerate(self.roads):
            rows = self.which == index
            loss = self.loss[rows, None]
            at_break = self._at_break(rows, covered)
            warm = covered.at_age(covered.age(self.start_c[rows])[:, None] + loss * under)
            cool = bare.at_age(bare.age(at_break)[:, None] + loss * after)
            found[rows] = np.where(seconds <= self.crust_s, warm, cool)
        return found

    def _at_break(self, rows: NDArray[np.bool_], covered: HeatPath) -> FloatArray:
        return covered.at_age(covered.age(self.start_c[rows]) + self.loss[rows] * self.crust_s)

    def times_to(self, celsius: float) -> FloatArray:
        """Return when each case reaches a temperature."""
        times = np.empty(len(self.loss))
        goal = np.array([celsius])
        for index, (covered, bare) in enumerate(self.roads):
            rows = self.which == index
            loss = self.loss[rows]
            at_break = self._at_break(rows, covered)
            early = np.maximum(covered.age(goal) - covered.age(self.start_c[rows]), 0.0) / loss
            late = self.crust_s + (bare.age(goal) - bare.age(at_break)) / loss
            times[rows] = np.where(at_break < celsius, early, late)
        return times

    def mean(self, seconds: FloatArray) -> FloatArray:
        """Return the weighted mean temperature at each time."""
        return np.asarray(self.weights @ self.temperatures(seconds))

    def spread(self, seconds: FloatArray) -> FloatArray:
        """Return the weighted standard deviation at each time."""
        found = self.temperatures(seconds)
        centred = found - self.weights @ found
        return np.asarray(np.sqrt(self.weights @ centred**2))


@dataclass(frozen=True, slots=True)
class _Belief:
    """Centre and standard deviation of the three log factors: where the grid is laid."""

    centre: FloatArray
    sd: FloatArray


_PRIOR = _Belief(np.zeros(3), np.array([_LOSS_SD, _VAPOUR_SD, _BOWL_SD]))


def _fitted(given: _Given, probes: tuple[tuple[float, float], ...]) -> Cooling:
    """Lay the grid, weigh it, and lay it again closer round what agreed with the readings."""
    belief = _PRIOR
    cases, factors = _weighed(given, probes, belief)
    for _ in range(_REFINEMENTS if probes else 0):
        belief = _believed(factors, cases.weights, belief)
        cases, factors = _weighed(given, probes, belief)
    loss = float(cases.weights @ cases.loss)
    return Cooling(
        vessel=given.vessel,
        water_c=given.water_c,
        room_c=given.room_c,
        crust_s=given.crust_s,
        probes=probes,
        loss=loss,
        loss_sd=float(np.sqrt(cases.weights @ (cases.loss - loss) ** 2)),
        curve_s=_CURVE_S,
        curve_c=cases.mean(_CURVE_S),
        _cases=cases,
    )


def _weighed(
    given: _Given, probes: tuple[tuple[float, float], ...], belief: _Belief
) -> tuple[_Cases, FloatArray]:
    axes = [
        centre + sd * np.linspace(-_REACH, _REACH, points)
        for centre, sd, points in zip(belief.centre, belief.sd, _POINTS, strict=True)
    ]
    factors = np.stack([axis.ravel() for axis in np.meshgrid(*axes, indexing="ij")])
    cases = _Cases(
        crust_s=given.crust_s,
        roads=tuple(_roads(given, float(vapour)) for vapour in np.exp(axes[1])),
        which=np.tile(np.repeat(np.arange(_POINTS[1]), _POINTS[2]), _POINTS[0]),
        loss=np.exp(factors[0]),
        start_c=after_pour(shape_of(given.vessel), given.water_c, given.room_c, np.exp(factors[2])),
        weights=np.ones(factors.shape[1]),
    )
    score = -0.5 * ((factors / _PRIOR.sd[:, None]) ** 2).sum(axis=0)
    if probes:
        score = score + _agreement(cases, probes)
    weights = np.exp(score - score.max())
    return replace(cases, weights=weights / weights.sum()), factors


def _roads(given: _Given, vapour: float) -> tuple[HeatPath, HeatPath]:
    shape = shape_of(given.vessel)
    bare = heat_path(shape, given.room_c, vapour_factor=vapour)
    if given.crust_s <= 0:
        return bare, bare
    return heat_path(shape, given.room_c, vapour_factor=vapour, crust=True), bare


def _agreement(cases: _Cases, probes: tuple[tuple[float, float], ...]) -> FloatArray:
    """Return the log-likelihood of the readings: Student's t about each case's curve."""
    seconds, celsius = np.array(probes, dtype=float).T
    off = (cases.temperatures(seconds) - celsius) / _PROBE_SD
    return np.asarray(-0.5 * (_PROBE_DF + 1) * np.log1p(off**2 / _PROBE_DF).sum(axis=1))


def _believed(factors: FloatArray, weights: FloatArray, laid: _Belief) -> _Belief:
    """Centre the grid on the weighted mean; never let it shrink below a step of its own."""
    centre = factors @ weights
    sd = np.sqrt(((factors - centre[:, None]) ** 2) @ weights)
    step = 2 * _REACH * laid.sd / (np.array(_POINTS) - 1)
    return _Belief(centre, np.maximum(sd, step * 0.5))


def _weighted_quantiles(
    values: FloatArray, weights: FloatArray, at: tuple[float, float]
) -> tuple[float, float]:
    order = np.argsort(values)
    passed = np.cumsum(weights[order]) - weights[order] / 2
    low, high = np.interp(at, passed, values[order])
    return float(low), float(high)
