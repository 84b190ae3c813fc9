"""A frame of marks, read by the same rules as a file of marks."""

from collections.abc import Mapping as ReadOnly
from collections.abc import Sequence

import numpy as np

from twobowls.counting import counts_are
from twobowls.debrief.rating_table import Factor, Scale, Values
from twobowls.errors import InputError
from twobowls.interchange.marks_csv import HEADER
from twobowls.interchange.ratings_columns import LEAVE_OUT, Mapping, Role, map_columns
from twobowls.interchange.ratings_encode import Columns
from twobowls.interchange.ratings_file import (
    MOST_MARK,
    Choices,
    RatingsRead,
    RowsError,
    understood,
    wanted_columns,
)
from twobowls.interchange.ratings_labels import Merge
from twobowls.interchange.ratings_wording import CALL
from twobowls.notebook.cells import labels, numbers
from twobowls.notebook.frames import Frame, read_frame

_MOST_ERRORS = 200
_TIMES = ("round", "position", "repeat", "flight")


def read_marks(frame: object, choices: Choices) -> tuple[Frame, RatingsRead]:
    """Read a frame of marks.

    Parameters
    ----------
    frame : data frame or dict
        Long (one row a mark) or wide (one column a sensation).
    choices : Choices
        What the caller said; the rest is guessed from the names of the columns and told.

    Raises
    ------
    InputError
        When columns are missing or hold something else; for bad cells, the first is named.
    """
    given = read_frame(frame)
    _check_names(given, choices)
    mapping = map_columns(
        given, choices.columns, choices.sensations, choices.wide_scale, choices.one_taster, CALL
    )
    try:
        columns = encode_frame(given, mapping)
        return given, understood(
            columns, mapping, choices, ours=given.columns == HEADER, wording=CALL
        )
    except RowsError as error:
        raise first_of(
            error.errors, error.count, "leave such rows out with skip_errors=True"
        ) from None


def first_of(errors: Sequence[InputError], count: int, leave_out: str) -> InputError:
    """Return the first of several errors of rows; its cure tells of the others.

    Examples
    --------
    >>> one = InputError("mark", "140 is off the scale", "Correct it", 3)
    >>> str(first_of([one], 2, "filter the frame"))
    'row 3, mark: 140 is off the scale. Correct it, or filter the frame (1 more cell is like this).'
    """
    first, more = errors[0], count - 1
    told = f" ({counts_are(more, 'more cell')} like this)" if more else ""
    return InputError(first.field, first.problem, f"{first.cure}, or {leave_out}{told}", first.row)


def merges(merge: ReadOnly[str, str] | None) -> tuple[Merge, ...]:
    """Read ``{"old": "new"}``.

    Raises
    ------
    InputError
        When it is not a mapping of text to text.
    """
    if merge is None:
        return ()
    if not isinstance(merge, ReadOnly) or not all(
        isinstance(each, str) for pair in merge.items() for each in pair
    ):
        raise InputError("merge", f"{merge!r} does not say what is what", 'Write {"ana": "Ana"}')
    return tuple(Merge(old, new) for old, new in merge.items())


def limits_of(
    scale: tuple[float, float] | None, liking_scale: tuple[float, float] | None
) -> dict[Scale, tuple[float, float]]:
    """Return the ends of the scales that were stated, checked."""
    limits: dict[Scale, tuple[float, float]] = {}
    if scale is not None:
        limits["intensity"] = limits["liking"] = _ends("scale", scale)
    if liking_scale is not None:
        limits["liking"] = _ends("liking_scale", liking_scale)
    return limits


def encode_frame(frame: Frame, mapping: Mapping) -> Columns:
    """Code the columns of a frame, noting every bad cell."""
    columns = Columns(
        factors={},
        values={},
        lines=np.arange(frame.rows),
        copies=frame.copies(),
        bad=np.zeros(frame.rows, dtype=bool),
        errors=[],
        error_count=0,
    )
    factors, values = wanted_columns(mapping)
    columns.factors = {role: _factor(frame, name, role) for role, name in factors.items()}
    columns.values = {role: _values(frame, name, columns) for role, name in values.items()}
    return columns


def _factor(frame: Frame, name: str, role: str) -> Factor:
    return labels(frame, name, dates=role in _TIMES)


def _values(frame: Frame, name: str, columns: Columns) -> Values:
    def note(row: int, problem: str, cure: str) -> None:
        columns.bad[row] = True
        columns.error_count += 1
        if len(columns.errors) < _MOST_ERRORS:
            columns.errors.append(InputError(name, problem, cure, row))

    return numbers(frame, name, note)


def _check_names(frame: Frame, choices: Choices) -> None:
    pairs: list[tuple[str, str]] = [
        *choices.columns.items(),
        *(("sensations", name) for name in choices.sensations),
    ]
    for role, name in pairs:
        if name != LEAVE_OUT:
            frame.require(role, name)


def stated(**columns: str | None) -> dict[Role, str]:
    """Return the roles that the caller gave a column."""
    return {role: name for role, name in columns.items() if name is not None}  # type: ignore[misc]


def _ends(field: str, ends: object) -> tuple[float, float]:
    try:
        low, high = (float(each) for each in ends)  # type: ignore[attr-defined]
    except (TypeError, ValueError):
        low, high = 0.0, 0.0
    if not (low < high and abs(low) < MOST_MARK and abs(high) < MOST_MARK):
        raise InputError(field, f"{ends!r} is not a scale", "Give its two ends, such as (0, 100)")
    return (low, high)
