"""``twobowls.power``: what a table of some size can show."""

from twobowls.counting import count_of
from twobowls.designs.power import Power, Spread, smallest_difference
from twobowls.designs.power import power as power_of
from twobowls.errors import InputError
from twobowls.notebook.chance import Rng, generator
from twobowls.notebook.result import Result, Section
from twobowls.notebook.tables import rows_table
from twobowls.statistics.inputs import between, whole


def power(
    *,
    coffees: int,
    tasters: int,
    rounds: int = 1,
    bowls: int = 1,
    difference: float | None = None,
    chance: float = 0.8,
    spread: Spread | None = None,
    runs: int = 100,
    rng: Rng = None,
) -> Result[Power | None]:
    """Say how often a table finds a difference, or which it finds often enough.

    Parameters
    ----------
    coffees, tasters, rounds : int
        The table.
    bowls : int
        Bowls of each coffee.
    difference : float, optional
        Between two coffees, in points of a line of 0 to 100. When left out, the smallest that
        is found with ``chance``.
    chance : float
        How often the difference should be found.
    spread : twobowls.designs.power.Spread, optional
        What else makes marks differ; that of an ordinary table when left out.
    runs : int
        How many tables to simulate; one takes about 0.03 s.
    rng : numpy.random.Generator or int, optional
        Source of chance; the same every time when left out.

    Returns
    -------
    Result
        Table ``power``; ``result`` is None when even 60 points would be missed too often.

    Raises
    ------
    InputError
        For a table, a difference or a chance that cannot be.

    Notes
    -----
    By simulation, under the model that analyses the marks; see `twobowls.designs.power`.

    Examples
    --------
    >>> found = power(coffees=2, tasters=6, difference=30, runs=8)
    >>> found.result.likely > 0.5
    True
    """
    for field, value, most in (
        ("coffees", coffees, 40),
        ("tasters", tasters, 300),
        ("rounds", rounds, 10),
        ("bowls", bowls, 10),
        ("runs", runs, 10_000),
    ):
        whole(field, value, 2 if field == "coffees" else 1, most)
    if spread is not None and not isinstance(spread, Spread):
        raise InputError("spread", f"{spread!r} is no Spread", "Use twobowls.designs.power.Spread")
    between("chance", chance, 0, 1)
    source = generator(rng)
    found: Power | None
    if difference is None:
        found = smallest_difference(
            coffees, tasters, rounds, spread, rng=source, chance=chance, runs=runs, bowls=bowls
        )
        said = _smallest(found, chance)
    else:
        apart = between("difference", difference, 0, 100, ends=True)
        found = power_of(
            coffees, tasters, rounds, apart, spread, rng=source, runs=runs, bowls=bowls
        )
        said = _often(found)
    table_size = ("coffees", "tasters", "rounds", "bowls")
    header = (*table_size, "difference", "likely", "clear", "wrong", "error")
    rows = []
    if found is not None:
        rows.append(
            (
                *(coffees, tasters, rounds, bowls),
                *(found.difference, found.likely, found.clear, found.wrong, found.error),
            )
        )
    places = {"likely": 2, "clear": 2, "wrong": 3, "error": 3}
    table = rows_table("power", "How often it would be found", header, rows, places)
    notes = (
        "Likely, clear: shares of tables that would call the right direction likely (or clear) "
        "and clear; wrong: the wrong one likely.",
    )
    return Result(
        title=(
            f"Power: {count_of(coffees, 'coffee')}, {count_of(tasters, 'taster')}, "
            f"{count_of(rounds, 'round')}"
        ),
        result=found,
        sections=(Section(sentences=(said,), notes=notes, tables=(table,)),),
        tables=(table,),
    )


def _smallest(found: Power | None, chance: float) -> str:
    if found is None:
        return "Even 60 points would be missed too often: add tasters or rounds."
    return (
        f"Two coffees must lie {count_of(round(found.difference), 'point')} apart to be told apart "
        f"in {100 * chance:.0f} of 100 such tastings."
    )


def _often(found: Power) -> str:
    points = "point" if found.difference == 1 else "points"
    return (
        f"A difference of {found.difference:g} {points} is found in "
        f"{100 * found.likely:.0f} of 100 such tastings (give or take {100 * found.error:.0f})."
    )
