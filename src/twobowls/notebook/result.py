"""What every call returns: sentences, pictures and tidy tables, for a notebook or a terminal."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from twobowls.counting import count_of
from twobowls.debrief.plain_text import text_table, wrapped
from twobowls.errors import InputError
from twobowls.interchange.ratings_columns import near
from twobowls.notebook.frames import make_frame, usual_backend
from twobowls.notebook.tables import Table

T_co = TypeVar("T_co", covariant=True)
MOST_ROWS = 30

Picture = Callable[[str], str]
"""Draws an SVG; takes what its ids begin with, so that no two on a page are the same."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One part of what is shown: a heading, sentences, a picture, a table, more tables folded.

    ``notes`` are sentences that explain, in softer ink.
    """

    heading: str = ""
    sentences: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    picture: Picture | None = None
    tables: tuple[Table, ...] = ()
    folded: tuple[Table, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Result(Generic[T_co]):
    """The answer of a call.

    Show it at the end of a cell for sentences, pictures and tables; print it for plain text.

    Attributes
    ----------
    title : str
        What was asked.
    result : object
        The core's own result, with everything that it knows.
    sections : tuple of Section
        What is shown.
    tables : tuple of Table
        The tidy tables; see ``names`` and ``to_frame``.
    cautions : tuple of str
        Sentences that belong beside the numbers.
    backend : str
        The library that ``to_frame`` uses: the one that the frame came from.
    text : str
        What a terminal shows, if it is more than the sections.
    """

    title: str
    result: T_co
    sections: tuple[Section, ...]
    tables: tuple[Table, ...]
    cautions: tuple[str, ...] = ()
    backend: str = ""
    text: str = ""

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the tables."""
        return tuple(each.name for each in self.tables)

    def to_frame(self, name: str | None = None, *, backend: str | None = None) -> Any:
        """Return one of the tables as a data frame.

        Parameters
        ----------
        name : str, optional
            One of ``names``; the first when left out.
        backend : {"pandas", "polars", "pyarrow", "modin", "cudf", "dict"}, optional
            Which library; that of the frame that came in when left out.

        Returns
        -------
        data frame
            One row an observation, one column a variable.

        Raises
        ------
        InputError
            When there is no such table, or the library is not installed.
        """
        wanted = self.tables[0] if name is None else self._table(name)
        return make_frame(wanted.columns, backend or self.backend or usual_backend())

    def _table(self, name: str) -> Table:
        for each in self.tables:
            if each.name == name:
                return each
        raise InputError("name", f"there is no table {name!r}", near(str(name), self.names))

    def __repr__(self) -> str:
        return "\n".join(_lines(self)).rstrip() + "\n"

    def _repr_html_(self) -> str:
        from twobowls.notebook.html import result_html

        return result_html(self)


def _lines(result: Result[Any]) -> Iterator[str]:
    yield result.title
    yield "=" * len(result.title)
    if result.text:
        yield result.text
        return
    for section in result.sections:
        if section.heading:
            yield from ("", section.heading, "-" * len(section.heading))
        for sentence in section.sentences:
            yield from wrapped(sentence)
        for note in section.notes:
            yield from wrapped(note)
        for table in section.tables:
            yield from ("", *_table_lines(table))
    if result.cautions:
        yield from ("", "Mind this", "---------")
        for caution in result.cautions:
            yield from wrapped(caution, "  - ")


def _table_lines(table: Table) -> Iterator[str]:
    yield table.caption
    yield from text_table(list(table.columns), table.shown(MOST_ROWS), table.numeric())
    if len(table) > MOST_ROWS:
        yield f"  {more_rows(table)}"


def more_rows(table: Table) -> str:
    """Say where the rows are that are not shown."""
    return f'and {count_of(len(table) - MOST_ROWS, "more row")}: .to_frame("{table.name}")'
