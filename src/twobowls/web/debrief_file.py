"""Debriefs as one self-contained HTML page: nothing in it is fetched from anywhere."""

from pathlib import Path

from markupsafe import Markup

from twobowls.counting import count_of
from twobowls.debrief.analysis import Analysis
from twobowls.debrief.findings import Findings
from twobowls.debrief.model_checks import model_checks
from twobowls.debrief.pads import pads
from twobowls.debrief.repeatability import repeatability
from twobowls.interchange.ratings_file import RatingsFile
from twobowls.interchange.ratings_summary import summary_rows
from twobowls.web.debrief_tables import Row, Table
from twobowls.web.debrief_view import DebriefView, file_view
from twobowls.web.templates import environment

_STYLES = Path(__file__).parent / "static" / "css"


def kept_page(view: DebriefView, mapping: Table | None = None) -> str:
    """Return a debrief as a page of its own, styles and drawings included."""
    css = "\n".join(
        (_STYLES / name).read_text(encoding="utf-8") for name in ("base.css", "debrief.css")
    )
    template = environment().get_template("debrief_file.html")
    return template.render(view=view, css=Markup(css), mapping=mapping)


def file_page(name: str, file: RatingsFile, analysis: Analysis, findings: Findings) -> str:
    """Return the debrief of a ratings file as a page of its own.

    Parameters
    ----------
    name : str
        What the page is called: the file's name.
    file : RatingsFile
        The file as it was understood.
    analysis, findings : Analysis, Findings
        What it shows.
    """
    view = file_view(
        name=name,
        facts=(count_of(file.rows, "row"), count_of(file.used, "mark")),
        analysis=analysis,
        findings=findings,
        drawn=pads(analysis, file.table),
        rounds=file.table.round.labels if file.table.round is not None else (),
        repeats=repeatability(file.table, analysis.model.level),
        cautions=file.cautions,
        checks=model_checks(file.table, analysis),
    )
    rows = tuple(Row(cells=row) for row in summary_rows(file))
    mapping = Table(caption="Columns", header=("What", "Where", "How"), rows=rows, texts=3)
    return kept_page(view, mapping)
