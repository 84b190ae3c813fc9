"""The one cooling curve and clock of a tasting's bowls, worked out once per change."""

from dataclasses import dataclass
from threading import Lock

import numpy as np

from twobowls.store.clocks import cooling_of
from twobowls.tasting.cooling import Cooling
from twobowls.tasting.tasting import Probe, Tasting
from twobowls.tasting.timeline import BowlClock, bowl_clock

STEP_S = 30
END_S = 3600
MOST_KEPT = 64


@dataclass(frozen=True, slots=True)
class Clockwork:
    """``curve`` holds (seconds after the pour, degrees Celsius)."""

    cooling: Cooling
    bowl: BowlClock
    curve: list[tuple[int, float]]


_working = Lock()  # after a reading the whole table asks at once
_kept: dict[str, tuple[tuple[Probe, ...], dict[str, int], Clockwork]] = {}


def clockwork_of(tasting: Tasting) -> Clockwork:
    """Return the clockwork of a tasting; a new reading or a corrected pour makes a new one."""
    readings = tasting.probes
    pours = {each.bowl: tasting.poured.get(each.bowl, 0) for each in readings}
    with _working:
        kept = _kept.get(tasting.id)
        if kept is not None and kept[0] == readings and kept[1] == pours:
            return kept[2]
        made = _make(tasting)
        if len(_kept) >= MOST_KEPT:
            _kept.pop(next(iter(_kept)))
        _kept[tasting.id] = (readings, pours, made)
    return made


def _make(tasting: Tasting) -> Clockwork:
    cooling = cooling_of(tasting)
    seconds = np.arange(0, END_S + STEP_S, STEP_S, dtype=float)
    temperatures = np.asarray(cooling.temperature(seconds)).tolist()
    curve = [(int(at), round(float(t), 1)) for at, t in zip(seconds, temperatures, strict=True)]
    return Clockwork(cooling, bowl_clock(tasting.setup, cooling), curve)
