"""A ratings file, long or wide, read into a rating table with everything shown that was guessed."""

from collections.abc import Mapping as ReadOnly
from dataclasses import dataclass, field, fields, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from twobowls.debrief.rating_table import SCALES, Factor, RatingTable, Scale, Values
from twobowls.debrief.tables import LIMITS
from twobowls.errors import InputError
from twobowls.interchange.delimited import Delimited, Source
from twobowls.interchange.formula_guard import unguarded
from twobowls.interchange.marks_csv import HEADER
from twobowls.interchange.ratings_checks import cautions_of, refuse_unusable
from twobowls.interchange.ratings_columns import FACTORS, Mapping, Role, map_columns, plain
from twobowls.interchange.ratings_encode import Columns, encode
from twobowls.interchange.ratings_labels import Merge, apply_merges
from twobowls.interchange.ratings_scale import guess_limits
from twobowls.interchange.ratings_wording import COMMAND, Wording
from twobowls.interchange.tabular import open_table

ONE_TASTER = "the taster"
MOST_MARK = 1e9
Read = TypeVar("Read", bound="RatingsRead")


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """What the user said about a file; everything else is guessed and shown.

    ``columns`` maps roles to columns (``"none"`` leaves one out), ``sensations`` are the
    columns of a wide file and ``wide_scale`` what their values are. ``limits`` are the ends of
    a scale by name. ``drop_copies`` counts rows that are the same in every column once;
    ``skip_errors`` leaves rows with errors out instead of stopping. ``sheet`` is that of a
    workbook; the first with a table when empty.
    """

    columns: ReadOnly[Role, str] = field(default_factory=dict)
    sensations: tuple[str, ...] = ()
    wide_scale: Scale = "intensity"
    one_taster: bool = False
    limits: ReadOnly[Scale, tuple[float, float]] = field(default_factory=dict)
    merges: tuple[Merge, ...] = ()
    drop_copies: bool = False
    skip_errors: bool = False
    sheet: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RatingsRead:
    """Ratings as they were understood.

    ``rows`` counts the rows (of a file: below the header), ``used`` those that carry a mark into
    the table (each cell of a wide one is a mark). ``guessed_limits`` are the scales whose ends
    were guessed. ``cautions`` are sentences to show; ``errors`` the first errors of rows and
    ``error_count`` how many there are.
    """

    mapping: Mapping
    table: RatingTable
    rows: int
    used: int
    guessed_limits: frozenset[Scale]
    cautions: tuple[str, ...]
    errors: tuple[InputError, ...]
    error_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RatingsFile(RatingsRead):
    """A file as it was understood; ``told`` says how it is written."""

    told: Delimited


class RowsError(InputError):
    """Some rows of a file cannot be used; ``errors`` has the first of them."""

    def __init__(
        self,
        errors: tuple[InputError, ...],
        count: int,
        rows: int,
        wording: Wording = COMMAND,
    ) -> None:
        what = "1 row" if count == 1 else f"{count} cells or rows"
        super().__init__(
            wording.thing,
            f"{what} of {rows} cannot be read",
            f"Correct them, or leave them out with {wording.flag('skip-errors')}",
        )
        self.errors = errors
        self.count = count


def read_ratings(source: Source, choices: Choices | None = None) -> RatingsFile:
    r"""Read a ratings file.

    Parameters
    ----------
    source : Path or bytes
        Delimited text, XLSX or Parquet, with one line of column names.
    choices : Choices, optional
        What the user said; by default everything is guessed.

    Raises
    ------
    RowsError
        When rows have errors and are not to be skipped.
    InputError
        When the file or a choice cannot be used at all.

    Examples
    --------
    >>> read = read_ratings(b"judge,sample,sweet,sour\nA,x,3,9\nA,y,4,7\nB,x,5,8\n")
    >>> read.mapping.sensations, len(read.table), read.table.limits["intensity"]
    (('sweet', 'sour'), 6, (1.0, 9.0))
    """
    choices = choices or Choices()
    told = open_table(source, choices.sheet)
    mapping = map_columns(
        told, choices.columns, choices.sensations, choices.wide_scale, choices.one_taster
    )
    columns = encode(told, *wanted_columns(mapping))
    read = understood(columns, mapping, choices, ours=told.columns == HEADER)
    told_of = {each.name: getattr(read, each.name) for each in fields(read)}
    told_of["cautions"] = (*_other_sheets(told), *read.cautions)
    return RatingsFile(told=told, **told_of)


def _other_sheets(told: Delimited) -> tuple[str, ...]:
    others: tuple[str, ...] = getattr(told, "others", ())
    if not others:
        return ()
    listed = ", ".join(repr(each) for each in others[:6]) + (", ..." if len(others) > 6 else "")
    return (f"Read was {told.encoding}. There is also {listed}: --sheet reads another.",)


def understood(
    columns: Columns,
    mapping: Mapping,
    choices: Choices,
    *,
    ours: bool = False,
    wording: Wording = COMMAND,
) -> RatingsRead:
    """Check coded columns and make a rating table of them.

    Parameters
    ----------
    columns : Columns
        What was read, with the errors noted while reading.
    mapping : Mapping
        What the columns are.
    choices : Choices
        What the user said.
    ours : bool
        Whether this is this tool's own export, whose scales and quoting are known.
    wording : Wording
        What options are called in messages.

    Raises
    ------
    RowsError
        When rows have errors and are not to be skipped.
    InputError
        When nothing is left, or a name to be merged is not there.
    """
    if "taster" not in columns.factors:
        everyone = np.zeros(len(columns.lines), dtype=np.int32)
        columns.factors["taster"] = Factor((ONE_TASTER,), everyone)
    if ours:
        choices = replace(choices, limits={"intensity": LIMITS, "liking": LIMITS, **choices.limits})
        columns.factors = {name: _unguarded(each) for name, each in columns.factors.items()}
    rows = len(columns.lines)
    _drop_huge(columns, mapping)
    limits = _limits(columns, mapping, choices)
    _check_rows(columns, mapping, limits, choices, wording)
    if columns.error_count and not choices.skip_errors:
        raise RowsError(tuple(columns.errors), columns.error_count, rows, wording)
    keep = _kept(columns, choices)
    factors = {name: each.take(keep) for name, each in columns.factors.items()}
    factors = apply_merges(factors, choices.merges)
    values = {name: each[keep] for name, each in columns.values.items()}
    table = _table(factors, values, mapping, limits)
    refuse_unusable(table, wording)
    return RatingsRead(
        mapping=mapping,
        table=table,
        rows=rows,
        used=len(table),
        guessed_limits=frozenset(each for each in mapping.scales if each not in choices.limits),
        cautions=cautions_of(table, mapping, columns, keep, choices.drop_copies, wording),
        errors=tuple(columns.errors),
        error_count=columns.error_count,
    )


def without_loose_guesses(file: Read, wanted: frozenset[str], wording: Wording = COMMAND) -> Read:
    """Take out optional columns that nobody named and that are not called after their role.

    Who states the terms of a model wants those terms; a column such as "day", guessed to be the
    round, must not slip in. ``wanted`` has the factors that the terms name; they stay. A caution
    says what was taken out.
    """
    loose = [
        role
        for role in ("round", "position", "bowl", "flight")
        if role in file.mapping.guessed - wanted and plain(file.mapping.columns[role]) != role
    ]
    told = tuple(
        f"The {role} could be {file.mapping.columns[role]!r}. As you stated the terms, it is left "
        f"out; {wording.given(role, file.mapping.columns[role])} brings it in."
        for role in loose
    )
    columns = {role: name for role, name in file.mapping.columns.items() if role not in loose}
    return replace(
        file,
        mapping=replace(file.mapping, columns=columns),
        table=file.table.without(loose),
        cautions=(*file.cautions, *told),
    )


def wanted_columns(mapping: Mapping) -> tuple[dict[str, str], dict[str, str]]:
    """Return the columns of labels and those of numbers, by the name that each gets."""
    factors: dict[str, str] = {
        role: mapping.columns[role] for role in FACTORS if role in mapping.columns
    }
    values: dict[str, str] = {name: name for name in mapping.sensations}
    for role in (*SCALES, "counts", "kept"):
        if role in mapping.columns:
            values[role] = mapping.columns[role]
    return factors, values


def _unguarded(factor: Factor) -> Factor:
    return Factor(tuple(unguarded(label) for label in factor.labels), factor.codes)


def _columns_of(scale: Scale, mapping: Mapping) -> tuple[str, ...]:
    return mapping.sensations or (scale,)


def _limits(
    columns: Columns, mapping: Mapping, choices: Choices
) -> dict[Scale, tuple[float, float]]:
    limits: dict[Scale, tuple[float, float]] = {}
    for scale in mapping.scales:
        values = [columns.values[name] for name in _columns_of(scale, mapping)]
        limits[scale] = choices.limits.get(scale) or guess_limits(np.concatenate(values))
    return limits


def _drop_huge(columns: Columns, mapping: Mapping) -> None:
    """Add errors for marks too large to be reckoned with, before the scale is guessed from them."""
    for scale in mapping.scales:
        for name in _columns_of(scale, mapping):
            values = columns.values[name]
            for row in np.flatnonzero(np.abs(values) > MOST_MARK).tolist():
                header = mapping.columns.get(scale, name)
                _add(columns, row, header, f"{values[row]:g} is too large", "Correct the mark")
                values[row] = np.nan


def _check_rows(
    columns: Columns,
    mapping: Mapping,
    limits: dict[Scale, tuple[float, float]],
    choices: Choices,
    wording: Wording,
) -> None:
    """Add errors for marks off a stated scale, and for marks without a taster or coffee."""
    marked = np.zeros(len(columns.lines), dtype=bool)
    for scale in mapping.scales:
        for name in _columns_of(scale, mapping):
            values = columns.values[name]
            marked |= ~np.isnan(values)
            if scale in choices.limits:
                low, high = limits[scale]
                for row in np.flatnonzero((values < low) | (values > high)).tolist():
                    header = mapping.columns.get(scale, name)
                    problem = f"{values[row]:g} is off the scale from {low:g} to {high:g}"
                    cure = f"Correct it, or change {wording.option('scale')}"
                    _add(columns, row, header, problem, cure)
    for role in ("taster", "coffee", "sensation"):
        if role in columns.factors:
            empty = (columns.factors[role].codes < 0) & marked & ~columns.bad
            for row in np.flatnonzero(empty).tolist():
                header = mapping.columns[role]
                _add(columns, row, header, f"the {role} is missing", f"Say which {role} it is")


def _add(columns: Columns, row: int, header: str, problem: str, cure: str) -> None:
    columns.bad[row] = True
    columns.error_count += 1
    if len(columns.errors) < 200:
        columns.errors.append(InputError(header, problem, cure, int(columns.lines[row])))


def _kept(columns: Columns, choices: Choices) -> NDArray[np.bool_]:
    keep = ~columns.bad
    keep &= (columns.factors["taster"].codes >= 0) & (columns.factors["coffee"].codes >= 0)
    if "sensation" in columns.factors:
        keep &= columns.factors["sensation"].codes >= 0
    if "counts" in columns.values:
        keep &= columns.values["counts"] == 1
    if choices.drop_copies:
        keep &= ~columns.copies
    return keep


def _table(
    factors: dict[str, Factor],
    values: dict[str, Values],
    mapping: Mapping,
    limits: dict[Scale, tuple[float, float]],
) -> RatingTable:
    if mapping.sensations:
        return _long(factors, values, mapping, limits)
    return RatingTable(
        **factors,
        intensity=values.get("intensity"),
        liking=values.get("liking"),
        kept=values["kept"] == 1 if "kept" in values else None,
        limits=limits,
        names={scale: mapping.columns[scale] for scale in mapping.scales},
    )


def _long(
    factors: dict[str, Factor],
    values: dict[str, Values],
    mapping: Mapping,
    limits: dict[Scale, tuple[float, float]],
) -> RatingTable:
    """Stack the columns of a wide file; cells without a value make no row."""
    stacked = np.concatenate([values[name] for name in mapping.sensations])
    there = np.flatnonzero(~np.isnan(stacked))
    rows = len(factors["taster"].codes)
    source = there % rows
    sensation = Factor(mapping.sensations, (there // rows).astype(np.int32))
    table = RatingTable(
        **{name: each.take(source) for name, each in factors.items()},  # type: ignore[arg-type]
        sensation=sensation,
        limits=limits,
    )
    if mapping.wide_scale == "intensity":
        return replace(table, intensity=stacked[there])
    return replace(table, liking=stacked[there])
