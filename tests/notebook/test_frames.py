"""Frames of every library give the same numbers, and come back as what they were."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
import pytest
from tests.notebook.calls import CALLS, Call, marks, whole

import twobowls
from twobowls import InputError
from twobowls.notebook.cells import labels, numbers
from twobowls.notebook.frames import make_frame, read_frame

LIBRARIES: dict[str, tuple[Callable[[pd.DataFrame], Any], type]] = {
    "pandas": (lambda frame: frame, pd.DataFrame),
    "pandas with arrow types": (
        lambda frame: frame.convert_dtypes(dtype_backend="pyarrow"),
        pd.DataFrame,
    ),
    "pandas with nullable types": (lambda frame: frame.convert_dtypes(), pd.DataFrame),
    "polars": (pl.from_pandas, pl.DataFrame),
    "lazy polars": (lambda frame: pl.from_pandas(frame).lazy(), pl.DataFrame),
    "pyarrow": (lambda frame: pa.Table.from_pandas(frame, preserve_index=False), pa.Table),
    "a dict of lists": (lambda frame: frame.to_dict("list"), dict),
    "a dict of arrays": (lambda frame: {name: frame[name].to_numpy() for name in frame}, dict),
}


def _frame(cells: Any) -> Any:
    """Put cells into the column "x" of a frame of their own library."""
    if isinstance(cells, pl.Series):
        return pl.DataFrame({"x": cells})
    return pa.table({"x": cells}) if isinstance(cells, pa.Array) else pd.DataFrame({"x": cells})


def _bad(*_: object) -> None:
    pytest.fail("no cell is bad here")


@pytest.mark.parametrize("call", CALLS, ids=lambda call: call.name)
@pytest.mark.parametrize("library", LIBRARIES)
def test_every_library_gives_the_same_and_gets_its_own_back(call: Call, library: str) -> None:
    make, kind = LIBRARIES[library]
    found = call(make(call.frame))
    expected = whole(call.name)
    assert found.names == expected.names
    for name in found.names:
        assert isinstance(found.to_frame(name), kind)
        assert found.to_frame(name, backend="dict") == expected.to_frame(name, backend="dict")


@pytest.mark.parametrize(
    ("backend", "kind"),
    [("pandas", pd.DataFrame), ("polars", pl.DataFrame), ("pyarrow", pa.Table), ("dict", dict)],
)
def test_another_library_can_be_asked_for(backend: str, kind: type) -> None:
    found = twobowls.ratings(marks())
    for name in found.names:
        table = found.to_frame(name, backend=backend)
        assert isinstance(table, kind)
    columns = found.to_frame(backend="dict")
    assert list(make_frame(columns, "pandas").columns) == list(columns)


def test_a_library_that_is_not_there_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    found = twobowls.ratings(marks())
    with pytest.raises(InputError, match="backend: 'R' is not known"):
        found.to_frame(backend="R")
    monkeypatch.setattr("twobowls.notebook.frames.find_spec", lambda _: None)
    with pytest.raises(InputError) as caught:
        found.to_frame(backend="polars")
    assert str(caught.value) == (
        "backend: polars is not installed. Install it, or choose one that is: dict."
    )
    plan = twobowls.serving_orders(3, 3)
    assert isinstance(plan.to_frame(), dict)


def test_a_table_that_is_not_there_is_told() -> None:
    found = twobowls.ratings(marks())
    with pytest.raises(InputError) as caught:
        found.to_frame("contrast")
    assert "name: there is no table 'contrast'. Did you mean 'contrasts'?" in str(caught.value)


def test_missing_cells_come_back_as_missing() -> None:
    frame = pd.DataFrame({"taster": ["Ana", "Ana"], "coffee": ["Oro", "Brisa"], "mark": [40, 60]})
    skill = twobowls.taster_skill(frame)
    assert skill.to_frame()["agreement"].isna().all()
    assert skill.to_frame(backend="polars")["agreement"].is_null().all()


@pytest.mark.parametrize(
    "cells",
    [
        ["Ana", "", "NA", None, "Ana "],
        pd.array(["Ana", pd.NA, pd.NA, pd.NA, " Ana"], dtype="string"),
        pd.Categorical(["Ana", None, None, None, "Ana"]),
        pl.Series(["Ana", None, "null", "nan", "Ana"]),
        pa.array(["Ana", None, "N/A", "", "Ana"]).dictionary_encode(),
    ],
)
def test_no_name_is_no_name_in_any_type(cells: Any) -> None:
    frames: dict[type, Callable[[Any], Any]] = {
        pl.Series: pl.DataFrame,
        pa.DictionaryArray: pa.table,
    }
    make = frames.get(type(cells), pd.DataFrame)
    found = labels(read_frame(make({"who": cells})), "who")
    assert found.labels == ("Ana",)
    assert found.codes.tolist() == [0, -1, -1, -1, 0]


@pytest.mark.parametrize(
    ("cells", "expected"),
    [
        ([3, 1, 2, 10], ("1", "2", "3", "10")),
        ([3.0, 1.0, 2.0, float("nan")], ("1", "2", "3")),
        (np.array([3, 1, 2], dtype=np.uint8), ("1", "2", "3")),
        ([True, False, True], ("False", "True")),
        (pd.to_datetime(["2026-03-02", "2026-03-01"]), ("2026-03-01", "2026-03-02")),
        (pd.Categorical(["b", "a", "b"], ["b", "a"], ordered=True), ("b", "a")),
        (pl.Series(["b", "a"], dtype=pl.Enum(["b", "c", "a"])), ("b", "a")),
        (["Oro", "Brisa"], ("Oro", "Brisa")),
    ],
)
def test_labels_keep_an_order_that_they_have(cells: Any, expected: tuple[str, ...]) -> None:
    frame = (
        pl.DataFrame({"x": cells}) if isinstance(cells, pl.Series) else pd.DataFrame({"x": cells})
    )
    assert labels(read_frame(frame), "x", dates=True).labels == expected


@pytest.mark.parametrize(
    "cells",
    [
        [61, None, 40.5],
        pd.array([61, pd.NA, 40.5], dtype="Float64"),
        np.array([61, np.nan, 40.5], dtype=np.float32),
        pd.Series([61, None, 40.5], dtype=object),
        pl.Series([61.0, None, 40.5]),
        pl.Series(["61", None, "40.5"]).cast(pl.Decimal(6, 2)),
        pa.array([61, None, 40.5]),
    ],
)
def test_numbers_are_numbers_in_any_type(cells: Any) -> None:
    frames: dict[type, Callable[[Any], Any]] = {pl.Series: pl.DataFrame, pa.DoubleArray: pa.table}
    make = frames.get(type(cells), pd.DataFrame)
    np.testing.assert_array_equal(
        numbers(read_frame(make({"x": cells})), "x", _bad), [61, np.nan, 40.5]
    )


def test_copies_are_found_in_any_frame() -> None:
    columns = {"a": ["x", "y", "x", "x"], "b": [1, 2, 1, 3], "row": [0, 0, 0, 0]}
    for frame in (columns, pd.DataFrame(columns), pl.DataFrame(columns), pa.table(columns)):
        assert read_frame(frame).copies().tolist() == [False, False, True, False]
    unlike = {"a": [[1], [1]], "b": [1, 1]}
    assert not read_frame(unlike).copies().any()
    assert not read_frame(pd.DataFrame(unlike)).copies().any()


@pytest.mark.parametrize("library", LIBRARIES)
def test_every_library_tells_the_same_copies(library: str) -> None:
    rng = np.random.default_rng(8)
    table = pd.DataFrame(
        {
            "taster": rng.choice(np.array(["Ana", "Ben", None], dtype=object), 80),
            "round": pd.Categorical(rng.choice(["hot", "cool"], 80)),
            "at": pd.to_datetime(rng.choice(["2026-01-01", "2026-01-02"], 80)),
            "mark": rng.choice([50.0, 60.0, 70.0], 80),
        }
    )
    make, _ = LIBRARIES[library]
    assert read_frame(make(table)).copies().tolist() == table.duplicated().tolist()


def test_copies_are_told_over_the_pieces_of_an_arrow_table() -> None:
    table = pa.concat_tables([pa.table({"x": ["a", "b"]}), pa.table({"x": ["b", None, None]})])
    assert read_frame(table).copies().tolist() == [False, False, True, False, True]
    assert not read_frame(pa.table({"x": [["a"], ["a"]]})).copies().any()
