"""Tidy tables of results: columns of plain numbers for frames, the same formatted for the eye."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from twobowls.debrief.phrases import number

Places = int | str
"""How a column of numbers is shown: so many decimals, or "p" for p-values, or "share"."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table of a result.

    ``columns`` holds plain Python values, None where there is none. ``places`` says how
    columns of numbers are shown; what it leaves out gets three significant digits.
    """

    name: str
    caption: str
    columns: Mapping[str, Sequence[Any]]
    places: Mapping[str, Places] = field(default_factory=dict)

    def __len__(self) -> int:
        return max((len(cells) for cells in self.columns.values()), default=0)

    def rows(self) -> list[tuple[Any, ...]]:
        """Return the rows."""
        return list(zip(*self.columns.values(), strict=True))

    def shown(self, most: int | None = None) -> list[list[str]]:
        """Return the first rows as text.

        Examples
        --------
        >>> Table(name="x", caption="X", columns={"a": ["Oro"], "p": [0.00001]},
        ...       places={"p": "p"}).shown()
        [['Oro', '< 0.0001']]
        """
        texts = [
            [show(cell, self.places.get(name)) for cell in cells[:most]]
            for name, cells in self.columns.items()
        ]
        return [list(row) for row in zip(*texts, strict=True)]

    def numeric(self) -> list[bool]:
        """Tell, column by column, whether it holds numbers: they stand to the right."""
        return [
            all(isinstance(cell, int | float) or cell is None for cell in cells)
            and not any(isinstance(cell, bool) for cell in cells)
            for cells in self.columns.values()
        ]


def rows_table(
    name: str,
    caption: str,
    header: Sequence[str],
    rows: Sequence[Sequence[Any]],
    places: Mapping[str, Places] | None = None,
) -> Table:
    """Make a table from rows."""
    columns = {each: [row[place] for row in rows] for place, each in enumerate(header)}
    return Table(name=name, caption=caption, columns=columns, places=places or {})


def show(cell: Any, places: Places | None = None) -> str:
    """Write one cell for the eye.

    Examples
    --------
    >>> show(61.237, 1), show(0.5312, "share"), show(0.0312, "p"), show(None), show(True)
    ('61.2', '0.53', '0.031', '', 'yes')
    >>> show(float("inf")), show(1234567), show(0.0001234), show(-2.0)
    ('∞', '1,234,567', '0.000123', '−2')
    """
    if cell is None or cell != cell:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, int):
        return number(cell, 0) if abs(cell) < 10_000 else f"{cell:,}".replace("-", "−")
    if not isinstance(cell, float):
        return str(cell)
    if cell in (float("inf"), float("-inf")):
        return "∞" if cell > 0 else "−∞"
    return _float(cell, places)


def _float(cell: float, places: Places | None) -> str:
    if places == "p":
        return "< 0.0001" if cell < 0.0001 else f"{cell:.2g}"
    if places == "share":
        return number(cell, 2)
    if isinstance(places, int):
        return number(cell, places)
    return f"{cell:.3g}".replace("-", "−") if abs(cell) < 1000 else number(cell, 0)
