"""What must be said beside a ratings file: guesses that may be wrong, names spelt twice, copies."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from twobowls.counting import count_of, counts_are
from twobowls.debrief.rating_table import Factor, RatingTable
from twobowls.errors import InputError
from twobowls.interchange.ratings_columns import Mapping
from twobowls.interchange.ratings_encode import Columns
from twobowls.interchange.ratings_labels import likely_merges
from twobowls.interchange.ratings_wording import COMMAND, Wording

_MOST_OFFERED = 8
_CELL = ("taster", "coffee", "sensation", "round", "bowl", "position", "repeat", "flight")


def refuse_unusable(table: RatingTable, wording: Wording = COMMAND) -> None:
    """Refuse a table in which there is nothing to analyse.

    Raises
    ------
    InputError
        When no mark is left.
    """
    if not any(True for _ in table.parts()):
        raise InputError(
            wording.thing,
            "no row has a mark that can be used",
            "Check that the columns of marks are mapped rightly",
        )


def cautions_of(
    table: RatingTable,
    mapping: Mapping,
    columns: Columns,
    keep: NDArray[np.bool_],
    copies_dropped: bool,
    wording: Wording = COMMAND,
) -> tuple[str, ...]:
    """Return the sentences that must be shown beside a file's results."""
    return (
        *_rivals(mapping, wording),
        *_unfit(mapping, wording),
        *_left_out(columns, wording),
        *_superseded(columns),
        *_copies(columns, keep, copies_dropped, wording),
        *_clashes(table),
        *_spellings(table, wording),
    )


def _rivals(mapping: Mapping, wording: Wording) -> Iterator[str]:
    for role, names in mapping.rivals.items():
        used = mapping.columns.get(role, "")  # type: ignore[call-overload]
        others = " or ".join(repr(name) for name in names)
        yield (
            f"The {role} was taken from {used!r}; it could also be {others}. "
            f"Say which with {wording.option(role)}."
        )


def _unfit(mapping: Mapping, wording: Wording) -> Iterator[str]:
    for role, name in mapping.unfit.items():
        if name not in (*mapping.columns.values(), *mapping.sensations):
            yield (
                f"The column {name!r} was not taken for the {role}: its values do not look like "
                f"it. If they are, say {wording.given(role, name)}."
            )


def _left_out(columns: Columns, wording: Wording) -> Iterator[str]:
    if columns.error_count:
        rows = int(columns.bad.sum())
        flag = wording.flag("skip-errors")
        yield f"{counts_are(rows, 'row')} left out because of errors, as asked by {flag}."
    for name, values in columns.values.items():
        missing = int(np.isnan(values).sum())
        if missing and name not in ("counts", "kept"):
            yield f"{name}: {counts_are(missing, 'row')} without a value, left out of that fit."


def _superseded(columns: Columns) -> Iterator[str]:
    if "counts" in columns.values:
        old = int((columns.values["counts"] != 1).sum())
        if old:
            yield (
                f"{counts_are(old, 'row')} left out: those marks were changed later "
                "(counts is not 1)."
            )


def _copies(
    columns: Columns, keep: NDArray[np.bool_], dropped: bool, wording: Wording
) -> Iterator[str]:
    if dropped:
        copies = int(columns.copies.sum())
        if copies:
            yield (
                f"{counts_are(copies, 'row')} the same as an earlier one in every column, "
                "counted once."
            )
        return
    copies = int((columns.copies & keep).sum())
    if copies:
        yield (
            f"{counts_are(copies, 'row')} the same as an earlier one in every column. "
            "Counted as marks made "
            f"again; if they are copies, add {wording.flag('drop-copies')}."
        )


def _clashes(table: RatingTable) -> Iterator[str]:
    """Tell of cells marked more than once although a column tells repeats apart."""
    if table.repeat is None and table.position is None:
        return
    number = _numbers([getattr(table, name) for name in _CELL])
    again = len(number) - len(np.unique(number))
    if again:
        yield (
            f"{counts_are(again, 'row')} for a taster, coffee and repeat that have a mark "
            "already. All are "
            "used, as marks made again."
        )


def _spellings(table: RatingTable, wording: Wording) -> Iterator[str]:
    cell_columns = {
        "taster": [table.coffee, table.sensation, table.round, table.bowl, table.repeat],
        "coffee": [table.taster, table.sensation, table.round, table.repeat],
        "sensation": [],
        "round": [],
    }
    for role, others in cell_columns.items():
        factor: Factor | None = getattr(table, role)
        if factor is None:
            continue
        pairs = likely_merges(factor, _numbers(others) if others else None)
        for old, new in pairs[:_MOST_OFFERED]:
            yield (
                f"{role}: {old!r} and {new!r} may be one {role} in two spellings. They are kept "
                f"apart; to join them, add {wording.merge(old, new)}."
            )
        if len(pairs) > _MOST_OFFERED:
            yield f"{role}: {count_of(len(pairs) - _MOST_OFFERED, 'more pair')} of similar names."


def _numbers(factors: list[Factor | None]) -> NDArray[np.int64]:
    """Give rows with the same combination of labels the same number."""
    total: NDArray[np.int64] | None = None
    for factor in factors:
        if factor is None:
            continue
        codes = factor.codes.astype(np.int64) + 1
        total = codes if total is None else total * (len(factor.labels) + 1) + codes
        if total.max(initial=0) > 2**40:
            total = np.unique(total, return_inverse=True)[1].astype(np.int64)
    assert total is not None
    return total
