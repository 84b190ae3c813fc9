"""What follows for a mark from the clock of its bowl: how old the cup was, and how warm. Pure."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from twobowls.tasting.cooling import Cooling, cooling_model
from twobowls.tasting.records import Mark, Record
from twobowls.tasting.tasting import Tasting


def cooling_of(tasting: Tasting) -> Cooling:
    """Return the cooling model of a tasting's bowls, corrected by its thermometer readings."""
    setup = tasting.setup
    model = cooling_model(setup.vessel, setup.water_c, setup.room_c)
    readings = [
        ((probe.at_ms - tasting.poured[probe.bowl]) / 1000, probe.temperature_c)
        for probe in tasting.probes
        if probe.bowl in tasting.poured and probe.at_ms > tasting.poured[probe.bowl]
    ]
    return model.with_probes(readings) if readings else model


def fill_clocks(records: Sequence[Record], tasting: Tasting) -> tuple[Record, ...]:
    """Return the records with ``since_pour_s`` and ``temperature_c`` of each mark filled in.

    A mark made before its bowl was poured, or on a bowl without a clock, keeps None.
    """
    places = [
        place
        for place, record in enumerate(records)
        if isinstance(record, Mark) and record.at_ms >= tasting.poured.get(record.bowl, 2**62)
    ]
    if not places:
        return tuple(records)
    seconds = [
        (record.at_ms - tasting.poured[record.bowl]) / 1000
        for record in (records[place] for place in places)
        if isinstance(record, Mark)
    ]
    temperatures = np.asarray(cooling_of(tasting).temperature(np.asarray(seconds)))
    filled = list(records)
    for place, since, temperature in zip(places, seconds, temperatures.tolist(), strict=True):
        mark = records[place]
        if isinstance(mark, Mark):
            filled[place] = replace(
                mark, since_pour_s=round(since, 1), temperature_c=round(temperature, 1)
            )
    return tuple(filled)
