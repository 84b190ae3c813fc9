"""The table of figures in benchmarks/README.md: written by the program, between two marks."""

import os
import platform
from collections.abc import Sequence
from datetime import UTC, datetime
from itertools import groupby
from pathlib import Path

from benchmarks.figures import Figure, goal_text, number, peer_text, verdict

README = Path(__file__).parent / "README.md"
BEGIN = "<!-- figures: written by `python -m benchmarks --write`, not by hand -->"
SHORT = "**falls short**"
END = "<!-- end of figures -->"


def write_table(file: Path, figures: Sequence[Figure]) -> None:
    """Replace the groups of the table that ``figures`` has; leave the others as they are.

    Raises
    ------
    ValueError
        The file has no place for the table.
    """
    text = file.read_text()
    before, begin, rest = text.partition(BEGIN)
    old, end, after = rest.partition(END)
    if not (begin and end):
        raise ValueError(f"{file}: the lines {BEGIN} and {END} are missing. Put them back.")
    parts = _parts(old) | {title: _part(title, lines) for title, lines in _groups(figures)}
    table = "\n\n".join([_short(parts), *parts.values()])
    file.write_text(f"{before}{BEGIN}\n\n{table}\n\n{END}{after}")


def _short(parts: dict[str, str]) -> str:
    """Return what falls short, as a list that cannot be overlooked."""
    found = []
    goals = 0
    for title, part in parts.items():
        rows = [line.split(" | ") for line in part.splitlines() if line.startswith("| ")][2:]
        goals += sum(bool(row[2]) for row in rows)
        found += [
            f"- {title}: {row[0].lstrip('| ')}: {row[1]} (goal {row[2].partition(':')[0]})"
            for row in rows
            if SHORT in row[2]
        ]
    head = f"{goals - len(found)} of {goals} goals are met."
    return "\n".join([head + " What falls short:", "", *found]) if found else head


def _parts(old: str) -> dict[str, str]:
    """Return what is there, by its title."""
    found = {}
    for part in old.split("### ")[1:]:
        text = "### " + part.strip()
        found[part.splitlines()[0].strip()] = text
    return found


def _groups(figures: Sequence[Figure]) -> list[tuple[str, list[Figure]]]:
    return [(title, list(lines)) for title, lines in groupby(figures, lambda each: each.group)]


def _part(title: str, figures: Sequence[Figure]) -> str:
    head = ["| work | seen | goal | in the same run |", "| --- | --- | --- | --- |"]
    rows = [_row(each) for each in figures]
    return "\n".join([f"### {title}", "", f"{machine()}.", "", *head, *rows])


def _row(figure: Figure) -> str:
    goal = goal_text(figure)
    outcome = f"{goal}: {verdict(figure)}".replace("FALLS SHORT", SHORT) if goal else ""
    beside = "; ".join([*(peer_text(figure, peer) for peer in figure.peers), figure.note])
    seen = f"{number(figure.value)} {figure.unit}".strip()
    cells = (figure.work, seen, outcome, beside.strip("; "))
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def machine() -> str:
    """Return when this was, on what kind of machine, and how many processes wanted to run."""
    busy = f", load average {os.getloadavg()[1]:.1f}" if hasattr(os, "getloadavg") else ""
    return (
        f"{datetime.now(UTC):%d %B %Y}, {os.cpu_count()} cores ({platform.machine()}), "
        f"{platform.system()}, Python {platform.python_version()}{busy}"
    )
