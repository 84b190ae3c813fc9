"""Every public call of the pure core says what it takes and gives, with an example that runs.

Public is a function that another package of twobowls imports, or that nothing here uses: it is
there for the user. What only its own package uses is machinery and needs no example. The
examples themselves run as doctests with the rest of the tests.
"""

import ast
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "twobowls"
CORE = ("statistics", "designs", "tasting")


class Call(NamedTuple):
    """A function of the pure core, and whether its own module uses it."""

    module: str
    node: ast.FunctionDef
    used_at_home: bool


def package_of(module: str) -> str:
    return module.split(".")[1] if "." in module else module


def module_name(file: Path) -> str:
    return ".".join(file.relative_to(SOURCE.parent).with_suffix("").parts)


def importers() -> dict[tuple[str, str], set[str]]:
    """Return, for every imported name, the modules that import it."""
    found: dict[tuple[str, str], set[str]] = {}
    for file in sorted([*SOURCE.rglob("*.py"), *(ROOT / "benchmarks").rglob("*.py")]):
        here = module_name(file) if file.is_relative_to(SOURCE) else "benchmarks"
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module and node.module != here:
                for name in node.names:
                    found.setdefault((node.module, name.name), set()).add(here)
    return found


def calls_of(file: Path) -> list[Call]:
    tree = ast.parse(file.read_text(encoding="utf-8"))
    used = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
    return [
        Call(module_name(file), node, node.name in used)
        for node in tree.body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
    ]


def classes_of(file: Path) -> list[tuple[str, ast.ClassDef]]:
    return [
        (module_name(file), node)
        for node in ast.parse(file.read_text(encoding="utf-8")).body
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_")
    ]


def public(call: Call) -> bool:
    users = IMPORTERS.get((call.module, call.node.name), set())
    own = ("benchmarks", package_of(call.module))
    elsewhere = any(package_of(user) not in own for user in users)
    return elsewhere or not (users or call.used_at_home)


FILES = [file for package in CORE for file in sorted((SOURCE / package).glob("*.py"))]
IMPORTERS = importers()
CALLS = [call for file in FILES for call in calls_of(file)]
CLASSES = [each for file in FILES for each in classes_of(file)]
PUBLIC = [call for call in CALLS if public(call)]


def section(text: str, title: str) -> str:
    """Return one section of a numpydoc docstring, empty when it is not there."""
    _, found, rest = text.partition(f"{title}\n{'-' * len(title)}\n")
    lines = rest.splitlines() if found else []
    ends = [i for i, line in enumerate(lines) if line and set(line) == {"-"}]
    return "\n".join(lines[: ends[0] - 1] if ends else lines)


def name_of(call: Call) -> str:
    return f"{call.module.removeprefix('twobowls.')}.{call.node.name}"


def test_there_are_public_calls_in_every_package() -> None:
    assert {package_of(call.module) for call in PUBLIC} == set(CORE)
    assert len(PUBLIC) > 60


@pytest.mark.parametrize("call", CALLS, ids=name_of)
def test_every_function_that_is_not_private_has_a_docstring(call: Call) -> None:
    assert ast.get_docstring(call.node)


@pytest.mark.parametrize("call", PUBLIC, ids=name_of)
def test_every_public_call_has_an_example_that_runs(call: Call) -> None:
    assert ">>> " in section(ast.get_docstring(call.node) or "", "Examples")


@pytest.mark.parametrize("call", PUBLIC, ids=name_of)
def test_every_public_call_tells_its_parameters_and_what_comes_back(call: Call) -> None:
    text = ast.get_docstring(call.node) or ""
    arguments = [*call.node.args.posonlyargs, *call.node.args.args, *call.node.args.kwonlyargs]
    told = section(text, "Parameters")
    missing = [argument.arg for argument in arguments if argument.arg not in told]
    assert not missing
    if call.node.returns is not None and ast.unparse(call.node.returns) != "None":
        assert section(text, "Returns")


@pytest.mark.parametrize("call", PUBLIC, ids=name_of)
def test_every_public_call_that_refuses_says_so(call: Call) -> None:
    refuses = any(
        isinstance(node, ast.Raise) and "InputError" in ast.unparse(node)
        for node in ast.walk(call.node)
    )
    if refuses:
        assert "InputError" in section(ast.get_docstring(call.node) or "", "Raises")


@pytest.mark.parametrize(("module", "node"), CLASSES)
def test_every_class_has_a_docstring(module: str, node: ast.ClassDef) -> None:
    assert ast.get_docstring(node), f"{module}.{node.name}"
