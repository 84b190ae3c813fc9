"""The table of outside checks in docs/checks.md and the tests it names stay together."""

import ast
import re
from pathlib import Path

import pytest

TESTS = Path(__file__).parent
TABLE = TESTS.parent / "docs" / "checks.md"
COLUMNS = ["method", "source", "seen or from memory", "our value", "theirs", "held by"]
KINDS = ("seen", "from memory", "computed")
PURE = ("statistics", "designs", "tasting")


def sections() -> dict[str, list[list[str]]]:
    """Return the rows of every table in the page, heads and rules left out, by section."""
    found: dict[str, list[list[str]]] = {}
    for line in TABLE.read_text(encoding="utf-8").splitlines():
        if line.startswith("## "):
            rows = found.setdefault(line.removeprefix("## "), [])
        elif line.startswith("|") and not line.startswith("|---"):
            cells = re.split(r"(?<!\\)\|", line)[1:-1]
            rows.append([cell.strip() for cell in cells])
    return found


def test_functions(folder: Path) -> dict[str, bool]:
    """Return every test under a folder, and whether it is marked as an outside check."""
    found: dict[str, bool] = {}
    for file in sorted(folder.rglob("test_*.py")):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                marked = any("mark.reference" in ast.unparse(d) for d in node.decorator_list)
                found[node.name] = found.get(node.name, False) or marked
    return found


test_functions.__test__ = False  # type: ignore[attr-defined]
SECTIONS = sections()
HELD_BY = [(name, row) for name, rows in SECTIONS.items() for row in rows[1:]]


@pytest.mark.parametrize("section", list(SECTIONS))
def test_every_section_has_a_table_with_all_columns(section: str) -> None:
    head, *rows = SECTIONS[section]
    assert head == COLUMNS
    assert rows
    assert {len(row) for row in rows} == {len(COLUMNS)}


def test_every_row_says_where_its_value_comes_from() -> None:
    for section, row in HELD_BY:
        where = f"{section}: {row[0]}"
        assert row[0], where
        assert row[1], where
        assert any(kind in row[2] for kind in KINDS), where
        assert row[3], where


def test_every_row_is_held_by_a_test_that_exists() -> None:
    known = test_functions(TESTS)
    for section, row in HELD_BY:
        named = re.findall(r"`(test_\w+)`", row[-1])
        assert named, f"{section}: {row[0]} names no test"
        missing = [name for name in named if name not in known]
        assert not missing, f"{section}: {row[0]} names {missing}"


def test_files_that_the_page_names_exist() -> None:
    for name in re.findall(r"`((?:\w+/)*test_\w+\.py)`", TABLE.read_text(encoding="utf-8")):
        assert (TESTS / name.removeprefix("tests/")).is_file(), name


def test_every_outside_check_of_the_pure_core_has_a_row() -> None:
    named = {name for _, row in HELD_BY for name in re.findall(r"`(test_\w+)`", row[-1])}
    for folder in PURE:
        marked = {name for name, outside in test_functions(TESTS / folder).items() if outside}
        assert not marked - named, (
            f"{folder}: no row in docs/checks.md for {sorted(marked - named)}"
        )
