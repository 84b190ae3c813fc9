"""A result as a piece of HTML for a notebook: escaped, no script, nothing fetched.

Colours come from the notebook's own text colour, so that it reads on light and on dark alike.
"""

from collections.abc import Iterator
from hashlib import sha256
from html import escape
from typing import Any

from twobowls.notebook.result import MOST_ROWS, Result, Section, more_rows
from twobowls.notebook.style import STYLE
from twobowls.notebook.tables import Table


def result_html(result: Result[Any]) -> str:
    """Return a result as one ``div``.

    Parameters
    ----------
    result : Result
        Anything that a call returned.

    Returns
    -------
    str
        Ids in it begin with a fingerprint of what is shown, so that several results may stand
        on one page.
    """
    mark = sha256(repr((result.title, result.tables, result.cautions)).encode()).hexdigest()[:10]
    parts = [
        '<div class="twobowls-result">',
        f"<style>{STYLE}</style>",
        f'<p class="tb-title">{escape(result.title)}</p>',
    ]
    for place, section in enumerate(result.sections):
        parts += _section(section, f"tb-{mark}-{place}")
    parts += _cautions(result.cautions)
    parts.append("</div>")
    return "".join(parts)


def _section(section: Section, name: str) -> Iterator[str]:
    yield "<section>"
    if section.heading:
        yield f'<p class="tb-heading">{escape(section.heading)}</p>'
    yield from _sentences(section.sentences)
    yield from (f'<p class="tb-soft">{escape(each)}</p>' for each in section.notes)
    if section.picture is not None:
        yield f"<figure>{section.picture(name)}</figure>"
    for table in section.tables:
        yield from _table(table)
    for table in section.folded:
        yield f"<details><summary>{escape(table.caption)}</summary>"
        yield from _table(table, captioned=False)
        yield "</details>"
    yield "</section>"


def _sentences(sentences: tuple[str, ...]) -> Iterator[str]:
    if len(sentences) == 1:
        yield f"<p>{escape(sentences[0])}</p>"
    elif sentences:
        yield "<ul>"
        yield from (f"<li>{escape(each)}</li>" for each in sentences)
        yield "</ul>"


def _cautions(cautions: tuple[str, ...]) -> Iterator[str]:
    if cautions:
        yield '<div class="tb-mind"><p class="tb-heading">Mind this</p><ul>'
        yield from (f"<li>{escape(each)}</li>" for each in cautions)
        yield "</ul></div>"


def _table(table: Table, *, captioned: bool = True) -> Iterator[str]:
    sides = ["tb-number" if each else "" for each in table.numeric()]
    label = escape(table.caption, quote=True)
    yield f'<div class="tb-scroll" tabindex="0" role="group" aria-label="{label}"><table>'
    yield f'<caption class="{"" if captioned else "tb-unseen"}">{escape(table.caption)}</caption>'
    yield "<thead><tr>"
    for name, side in zip(table.columns, sides, strict=True):
        yield f'<th scope="col" class="{side}">{escape(name)}</th>'
    yield "</tr></thead><tbody>"
    for row in table.shown(MOST_ROWS):
        yield "<tr>"
        for place, (cell, side) in enumerate(zip(row, sides, strict=True)):
            tag, scope = ("td", "") if place else ("th", ' scope="row"')
            yield f'<{tag}{scope} class="{side}">{escape(cell)}</{tag}>'
        yield "</tr>"
    yield "</tbody></table></div>"
    if len(table) > MOST_ROWS:
        yield f'<p class="tb-soft">{escape(more_rows(table))}</p>'
