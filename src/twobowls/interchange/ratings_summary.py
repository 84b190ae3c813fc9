"""How a ratings file was understood, as a few lines of text: every role, and what was guessed."""

from pathlib import Path

from twobowls.counting import count_of
from twobowls.interchange.delimited import DELIMITER_NAMES
from twobowls.interchange.ratings_columns import FACTORS
from twobowls.interchange.ratings_file import RatingsFile, RatingsRead
from twobowls.interchange.ratings_wording import COMMAND, Wording


def summary_rows(file: RatingsRead, wording: Wording = COMMAND) -> list[tuple[str, str, str]]:
    """Return (role, column, how it was found) for everything that was mapped."""
    mapping = file.mapping
    rows: list[tuple[str, str, str]] = [
        (role, mapping.columns[role], _how(role in mapping.guessed, wording.option(role)))
        for role in (*FACTORS, "intensity", "liking", "counts", "kept")
        if role in mapping.columns
    ]
    if mapping.sensations:
        listed = ", ".join(mapping.sensations)
        how = _how("sensations" in mapping.guessed, wording.option("sensations"))
        rows.append(("sensations", listed, how))
        change = f"change with {wording.option('wide-scale')}"
        rows.append(("their marks", mapping.wide_scale, change))
    for scale, (low, high) in file.table.limits.items():
        guessed = scale in file.guessed_limits
        option = "liking-scale" if scale == "liking" and len(file.table.limits) > 1 else "scale"
        how = _how(guessed, wording.option(option))
        rows.append((f"{scale} scale", f"{low:g} to {high:g}", how))
    return rows


def summary_text(file: RatingsFile) -> str:
    """Return how the file was read, for a terminal."""
    told = file.told
    name = told.source.name if isinstance(told.source, Path) else "standard input"
    decimal = ", decimal comma" if told.decimal == "," else ""
    delimiter = f", {DELIMITER_NAMES[told.delimiter]}" if told.delimiter else ""
    read = f"{count_of(file.rows, 'row')}, {count_of(file.used, 'mark')}"
    lines = [
        f"{name}: {read} ({told.encoding}{delimiter}{decimal})",
    ]
    rows = summary_rows(file)
    widths = [max(len(row[place]) for row in rows) for place in (0, 1)]
    for role, column, how in rows:
        lines.append(f"  {role.ljust(widths[0])}  {column.ljust(min(widths[1], 40))}  {how}")
    return "\n".join(lines) + "\n"


def _how(guessed: bool, option: str) -> str:
    return f"guessed; change with {option}" if guessed else "as you said"
