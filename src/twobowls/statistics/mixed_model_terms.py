"""The terms of a mixed model: which factors they cross and which columns they make.

Fixed terms are coded as R does it (treatment contrasts; a factor keeps all its levels where
its margin is not in the model), because the REML criterion depends on the coding.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.mixed_model_levels import Cells, Factor, combine

FACTORS = ("taster", "coffee", "round", "position", "bowl", "flight")


@dataclass(frozen=True, slots=True)
class Term:
    """One term over the cells.

    ``codes`` (cells,) point into the full grid of the factors' levels (``grid`` many);
    ``kept`` are the grid places that have a column, in column order. A term within tasters may
    be a slope: ``slope`` (coffees,) then stands in its columns where a plain term has ones.
    """

    name: str
    factors: tuple[Factor, ...]
    codes: IntArray
    grid: int
    kept: IntArray
    slope: FloatArray | None = None

    def level_of(self, factor: int) -> IntArray:
        """Return the level of one of the term's factors at each kept place."""
        shape = tuple(len(each.levels) for each in self.factors)
        return np.unravel_index(self.kept, shape)[factor].astype(np.intp)


def parse_terms(names: Sequence[str], field: str, given: Sequence[str]) -> None:
    """Refuse names of terms that cannot be read or whose factors are not there.

    Parameters
    ----------
    names : sequence of str
        Terms such as ``taster:coffee``.
    field : str
        ``random`` or ``fixed``: the name used in messages.
    given : sequence of str
        The factors that the data have.

    Raises
    ------
    InputError
        A factor is unknown, missing from the data or named twice, or a term is named twice.
    """
    seen: set[frozenset[str]] = set()
    for name in names:
        parts = name.split(":")
        for part in parts:
            if part not in FACTORS:
                raise InputError(
                    field,
                    f"“{part}” in “{name}” is not a factor",
                    f"Use {', '.join(FACTORS)}, joined by “:”",
                )
            if part not in given:
                raise InputError(
                    field,
                    f"“{name}” needs the {part} of every mark, and there is none",
                    f"Give a {part} for every mark, or leave “{name}” out",
                )
        if len(set(parts)) < len(parts):
            raise InputError(field, f"“{name}” names a factor twice", "Name each factor once")
        if frozenset(parts) in seen:
            raise InputError(field, f"“{name}” is there twice", "Name each term once")
        seen.add(frozenset(parts))


def make_term(cells: Cells, name: str, *, whole_grid: bool = False) -> Term:
    """Build a random term: a column for each combination present, or for the whole grid."""
    factors = tuple(cells.factors[part] for part in name.split(":"))
    codes, grid = combine(factors)
    kept = np.arange(grid, dtype=np.intp)
    if not whole_grid:
        kept = np.flatnonzero(np.bincount(codes, minlength=grid)).astype(np.intp)
    return Term(name, factors, codes, grid, kept)


def make_slope(cells: Cells, name: str, by_coffee: FloatArray) -> Term:
    """Build a term with a slope for each taster over numbers of the coffees: (coffees,)."""
    taster = cells.factors["taster"]
    kept = np.arange(len(taster.levels), dtype=np.intp)
    return Term(name, (taster,), taster.codes, len(kept), kept, by_coffee)


def make_fixed_terms(cells: Cells, names: Sequence[str]) -> tuple[Term, ...]:
    """Build the intercept and the fixed terms, coded by treatment contrasts as in R."""
    rows = len(cells.counts)
    intercept = Term("", (), np.zeros(rows, dtype=np.intp), 1, np.zeros(1, dtype=np.intp))
    sets = [frozenset(name.split(":")) for name in names]
    terms = [intercept]
    for name, own in sorted(zip(names, sets, strict=True), key=lambda pair: len(pair[1])):
        term = make_term(cells, name)
        keep = np.ones(len(term.kept), dtype=bool)
        for index, factor in enumerate(term.factors):
            margin = own - {factor.name}
            if not margin or margin in sets:
                keep &= term.level_of(index) > 0
        terms.append(Term(name, term.factors, term.codes, term.grid, term.kept[keep]))
    return tuple(terms)
