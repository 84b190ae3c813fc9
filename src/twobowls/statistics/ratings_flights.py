"""Which flights hang together by coffees they have in common.

A flight may be marked higher than another altogether. Coffees of two flights can be compared
only along a chain of flights each of which shares a coffee (an anchor) with the next.
"""

import numpy as np

from twobowls.statistics.mixed_model_levels import Cells

MOST_NAMED = 4


def flight_groups(cells: Cells) -> tuple[tuple[str, ...], ...]:
    """Return the flights in groups that hang together; none without flights.

    Examples
    --------
    >>> from twobowls.statistics.mixed_model_levels import encode, gather
    >>> names = {"flight": ["1", "1", "2", "2", "3"], "coffee": ["A", "B", "B", "C", "D"]}
    >>> factors = {name: encode(name, labels) for name, labels in names.items()}
    >>> flight_groups(gather(np.zeros(5), factors))
    (('1', '2'), ('3',))
    """
    if "flight" not in cells.factors:
        return ()
    flight, coffee = cells.factors["flight"], cells.factors["coffee"]
    served = np.zeros((len(flight.levels), len(coffee.levels)), dtype=bool)
    served[flight.codes, coffee.codes] = True
    left, groups = list(range(len(flight.levels))), []
    while left:
        group = np.zeros(len(flight.levels), dtype=bool)
        group[left[0]] = True
        while True:
            grown = np.asarray(served[:, served[group].any(axis=0)].any(axis=1))
            if (grown == group).all():
                break
            group = grown
        groups.append(tuple(flight.levels[k] for k in np.flatnonzero(group)))
        left = [k for k in left if not group[k]]
    return tuple(groups)


def apart_sentence(groups: tuple[tuple[str, ...], ...]) -> str | None:
    """Say which flights have no coffee in common; None where all hang together.

    Examples
    --------
    >>> apart_sentence((("1", "2"), ("3",)))
    'Flights 1, 2 and flight 3 have no coffee in common'
    >>> apart_sentence((("1", "2"),)) is None
    True
    """
    if len(groups) < 2:
        return None
    names = [
        f"{'flight' if len(group) == 1 else 'flights'} {', '.join(group)}"
        for group in groups[:MOST_NAMED]
    ]
    if len(groups) > MOST_NAMED:
        names = [*names[:-1], "others"]
    text = f"{', '.join(names[:-1])} and {names[-1]} have no coffee in common"
    return text[0].upper() + text[1:]
