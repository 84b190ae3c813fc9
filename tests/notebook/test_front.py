"""`import twobowls` costs nothing and offers everything."""

import ast
import inspect
import subprocess
import sys
from pathlib import Path

import pytest

import twobowls

CALLS = sorted(set(twobowls.__all__) - {"InputError", "Result", "TwobowlsError"})
HEAVY = ("numpy", "scipy", "narwhals", "pandas", "polars", "pyarrow", "vl_convert", "starlette")


def _run(code: str) -> str:
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return ran.stdout.strip()


@pytest.mark.parametrize("module", ["twobowls", "twobowls.cli"])
def test_an_import_loads_nothing_heavy(module: str) -> None:
    loaded = _run(f"import {module}, sys; print(*sys.modules)").split()
    assert not [each for each in HEAVY if each in loaded]


def test_a_call_loads_no_data_frame_library_and_no_drawing() -> None:
    code = (
        "import twobowls, sys\n"
        "twobowls.taster_skill({'taster': ['Ana'], 'coffee': ['Oro'], 'mark': [1]})\n"
        "print(*sys.modules)"
    )
    loaded = _run(code).split()
    assert not [each for each in ("pandas", "polars", "pyarrow", "vl_convert") if each in loaded]


def test_every_name_is_there_and_listed() -> None:
    for name in twobowls.__all__:
        assert getattr(twobowls, name).__name__ == name
        assert name in dir(twobowls)
    assert "__version__" in dir(twobowls)


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="module 'twobowls' has no attribute 'rating'"):
        _ = twobowls.rating  # type: ignore[attr-defined]


def test_type_checkers_see_the_same_names() -> None:
    tree = ast.parse(Path(inspect.getfile(twobowls)).read_text(encoding="utf-8"))
    guarded = next(each for each in tree.body if isinstance(each, ast.If))
    seen = {
        alias.name: node.module
        for node in guarded.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert sorted(seen) == sorted(twobowls.__all__)
    for name, module in seen.items():
        assert getattr(twobowls, name).__module__ == module


@pytest.mark.parametrize("name", CALLS)
def test_every_call_says_what_it_takes_and_gives(name: str) -> None:
    call = getattr(twobowls, name)
    told = inspect.getdoc(call) or ""
    for heading in ("Parameters", "Returns", "Raises", "Examples"):
        assert f"{heading}\n{'-' * len(heading)}" in told, heading
    described = told[told.index("Parameters") : told.index("Returns")]
    for parameter in inspect.signature(call).parameters:
        assert parameter in described, parameter
