"""Which terms a rating model has when none are named, and which of them can be had."""

from collections.abc import Sequence

import numpy as np

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.mixed_model_cells import Model, build_model
from twobowls.statistics.mixed_model_levels import Cells, combine
from twobowls.statistics.mixed_model_terms import (
    Term,
    make_fixed_terms,
    make_slope,
    make_term,
    parse_terms,
)

WEAK_TERMS = (
    "taster",
    "coffee",
    "taster:coffee",
    "bowl",
    "round",
    "coffee:round",
    "taster:round",
    "position",
    "flight",
)
STRETCH = "stretch"
PLACING = "taster:bowl"
FIXED_DEFAULT = ("coffee", "round", "position", "flight")


def levels_of(cells: Cells, name: str) -> int:
    """Count the combinations of a term's factors that were marked."""
    codes, grid = combine([cells.factors[part] for part in name.split(":")])
    return int(np.count_nonzero(np.bincount(codes, minlength=grid)))


def flat_fixed(cells: Cells) -> tuple[str, ...]:
    """Coffee, round, position and flight where they have more than one level."""
    return tuple(
        name
        for name in FIXED_DEFAULT
        if name in cells.factors and len(cells.factors[name].levels) > 1
    )


def flat_random(cells: Cells) -> tuple[str, ...]:
    """Taster; taster:coffee where somebody marked a coffee twice; bowl where repeats tell.

    A bowl's own effect can be told from its coffee's only where a coffee had two bowls.
    """
    found = []
    if len(cells.factors["taster"].levels) > 1:
        found.append("taster")
        if levels_of(cells, "taster:coffee") < cells.rows:
            found.append("taster:coffee")
    if "bowl" in cells.factors:
        bowls = levels_of(cells, "bowl")
        if len(cells.factors["coffee"].levels) < bowls < cells.rows:
            found.append("bowl")
    return tuple(found)


def weak_terms(cells: Cells) -> tuple[str, ...]:
    """Every term of `WEAK_TERMS` whose factors are there.

    Terms with a round need two rounds; a prior takes care of all else.
    """
    return tuple(
        name
        for name in WEAK_TERMS
        if all(
            part in cells.factors
            and (part not in ("round", "position", "flight") or len(cells.factors[part].levels) > 1)
            for part in name.split(":")
        )
    )


def placing_terms(cells: Cells) -> tuple[str, ...]:
    """Return the term of a taster's placings of one bowl, where some bowl was placed twice.

    What is shared by one person's placings of one bowl over the rounds is partly an opinion,
    which is the coffee's (taster:coffee), and partly a slip that stayed where it was made. Marks
    of one bowl a coffee do not tell the two apart; hidden repeats do, and else the priors share
    it out. Without this term every round counts as a reading of its own, and a person who stays
    with a former placing is taken for one who is sure. With one mark a bowl there is nothing to
    share, and the term is left out.
    """
    rounds = cells.factors.get("round")
    if "bowl" not in cells.factors or rounds is None or len(rounds.levels) < 2:
        return ()
    return (PLACING,) if levels_of(cells, PLACING) < len(cells.counts) else ()


def check_terms(names: Sequence[str], field: str, given: Sequence[str]) -> None:
    """Refuse terms that cannot be read, and a fixed bowl."""
    parse_terms(names, field, given)
    if field == "fixed" and any("bowl" in name.split(":") for name in names):
        raise InputError(
            "fixed", "a bowl cannot be fixed: it would take the place of its coffee",
            "Name it under random",
        )  # fmt: skip


def check_compared(
    cells: Cells, random: Sequence[str] | None, fixed: Sequence[str] | None, *, flat: bool
) -> None:
    """Refuse stated terms of which none tells the coffees apart for other people.

    With a flat prior that takes a fixed term; the terms that are chosen when none are stated
    have one.
    """
    if fixed is None or len(cells.factors["coffee"].levels) < 2:
        return
    telling = [*fixed] if flat else [*fixed, *(random or ())]
    parts = [set(name.split(":")) for name in telling]
    if not any("coffee" in each and not each & {"taster", "bowl"} for each in parts):
        raise InputError(
            "fixed",
            "no term compares the coffees",
            "Name “coffee” under fixed" + ("" if flat else ", or under random"),
        )


def check_random(cells: Cells, names: Sequence[str]) -> None:
    """Refuse random terms that REML cannot tell from the mean or from the residual."""
    for name in names:
        levels = levels_of(cells, name)
        if levels < 2:
            raise InputError(
                "random",
                f"“{name}” has one level, so it cannot be told from the mean",
                f"Leave “{name}” out, or use the weak prior",
            )
        if levels >= cells.rows:
            raise InputError(
                "random",
                f"“{name}” has a level for every mark, so it cannot be told from the residual",
                f"Leave “{name}” out, or use the weak prior",
            )


def _is_nested(cells: Cells, term: Term) -> bool:
    """Whether each level of a random term belongs to one taster."""
    names = {factor.name for factor in term.factors}
    if "taster" in names:
        return True
    tasters = len(cells.factors["taster"].levels)
    if "bowl" not in names or tasters < 2 or len(term.kept) <= tasters:
        return False
    codes, _ = combine([cells.factors["taster"], *term.factors])
    return len(np.unique(codes)) == len(term.kept)


def assemble(
    cells: Cells, random: Sequence[str], fixed: Sequence[str], slope: FloatArray | None = None
) -> Model:
    """Build the model from the names of its random and fixed terms.

    ``slope`` (coffees,) adds the random term `STRETCH`: each taster's slope over these numbers.
    """
    terms = [
        make_term(cells, name, whole_grid=set(name.split(":")) == {"coffee", "round"})
        for name in random
    ]
    nested = [term for term in terms if _is_nested(cells, term)]
    if slope is not None:
        nested.append(make_slope(cells, STRETCH, slope))
    nested.sort(key=lambda term: len(term.factors))
    nested.sort(key=lambda term: term.name != "taster")
    names = {term.name for term in nested}
    dense = [term for term in terms if term.name not in names]
    return build_model(cells, nested, dense, make_fixed_terms(cells, fixed))
