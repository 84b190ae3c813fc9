"""``twobowls.ratings``: what marks on line scales show, all sensations at once."""

from collections.abc import Mapping, Sequence
from typing import Literal

from twobowls.counting import count_of
from twobowls.debrief.analysis import Analysis, Model, analyse
from twobowls.debrief.findings import find
from twobowls.debrief.model_checks import check_sentences, model_checks
from twobowls.debrief.pads import pads
from twobowls.debrief.plain_text import debrief_text
from twobowls.debrief.rating_table import Scale
from twobowls.debrief.repeatability import repeatability
from twobowls.errors import InputError
from twobowls.interchange.ratings_file import Choices, RatingsRead, without_loose_guesses
from twobowls.interchange.ratings_summary import summary_rows
from twobowls.interchange.ratings_wording import CALL
from twobowls.notebook.marks import limits_of, merges, read_marks, stated
from twobowls.notebook.rating_model import model_of, name_list, scale_of, terms_of
from twobowls.notebook.ratings_tables import rating_tables
from twobowls.notebook.ratings_view import rating_sections
from twobowls.notebook.result import Result
from twobowls.notebook.tables import rows_table


def ratings(
    frame: object,
    *,
    taster: str | None = None,
    coffee: str | None = None,
    sensation: str | None = None,
    intensity: str | None = None,
    liking: str | None = None,
    round: str | None = None,
    position: str | None = None,
    bowl: str | None = None,
    flight: str | None = None,
    repeat: str | None = None,
    counts: str | None = None,
    sensations: Sequence[str] = (),
    wide_scale: Scale = "intensity",
    one_taster: bool = False,
    scale: tuple[float, float] | None = None,
    liking_scale: tuple[float, float] | None = None,
    merge: Mapping[str, str] | None = None,
    drop_copies: bool = False,
    skip_errors: bool = False,
    prior: Literal["weak", "flat"] = "weak",
    random: Sequence[str] | None = None,
    fixed: Sequence[str] | None = None,
    level: float = 0.90,
) -> Result[Analysis]:
    """Say what marks on line scales show: coffees compared, sensation by sensation.

    Parameters
    ----------
    frame : data frame or dict of lists
        One row a mark, or (wide) one column a sensation. Missing marks are left out.
    taster, coffee, sensation, round, position, bowl, flight, repeat : str, optional
        Columns of labels. What is not named is guessed from the names of the columns, and
        told; ``"none"`` leaves a column out.
    intensity, liking : str, optional
        Columns of numbers: how strong, how much liked.
    counts : str, optional
        Column with 0 for marks that were changed later.
    sensations : sequence of str
        The columns of a wide frame, one a sensation; ``wide_scale`` says what they hold.
    one_taster : bool
        One person made all marks, and no column says who.
    scale, liking_scale : (low, high), optional
        Ends of the scales, in the unit of the marks; guessed from the marks, and told.
    merge : dict, optional
        Spellings to read as others: ``{"ana": "Ana"}``. Nothing is merged unasked.
    drop_copies : bool
        Count rows that are alike in every column once.
    skip_errors : bool
        Leave out rows that cannot be read, instead of stopping.
    prior : {"weak", "flat"}
        Flat is REML.
    random, fixed : sequence of str, optional
        Terms of the model, such as ``("taster", "taster:coffee")``; chosen when left out.
    level : float
        Share of cases that an interval should hold.

    Returns
    -------
    Result
        Tables ``coffees``, ``contrasts``, ``rounds``, ``spread``, ``findings``, ``pads``,
        ``columns``, in the unit of the marks; ``result`` is the `Analysis`.

    Raises
    ------
    InputError
        When a column is missing or of the wrong kind, marks are off a stated scale, or
        nothing can be fitted. Rows are counted from 0.

    Notes
    -----
    The mixed model and its sources are in `twobowls.statistics.ratings.fit_ratings`. "Table"
    is for these tasters, "people" for people like them.

    Examples
    --------
    >>> marks = {
    ...     "taster": ["Ana", "Ana", "Ben", "Ben", "Ana", "Ana", "Ben", "Ben"],
    ...     "coffee": ["Brisa", "Oro"] * 4,
    ...     "acidity": [62, 30, 55, 41, 60, 33, 52, 35],
    ... }
    >>> found = ratings(marks, intensity="acidity", scale=(0, 100))
    >>> [round(each) for each in found.to_frame("contrasts")["difference"]]
    [22, 17]
    """
    choices = Choices(
        columns=stated(
            taster=taster,
            coffee=coffee,
            sensation=sensation,
            intensity=intensity,
            liking=liking,
            round=round,
            position=position,
            bowl=bowl,
            flight=flight,
            repeat=repeat,
            counts=counts,
        ),
        sensations=name_list("sensations", sensations) or (),
        wide_scale=scale_of(wide_scale),
        one_taster=one_taster,
        limits=limits_of(scale, liking_scale),
        merges=merges(merge),
        drop_copies=drop_copies,
        skip_errors=skip_errors,
    )
    model = model_of(prior, random, fixed, level)
    given, read = read_marks(frame, choices)
    if model.random is not None or model.fixed is not None:
        read = without_loose_guesses(read, terms_of(model), CALL)
    return _told(read, _analysed(read, model), given.backend)


def _analysed(read: RatingsRead, model: Model) -> Analysis:
    analysis = analyse(read.table, model)
    if not analysis.fits:
        reasons = "; ".join(dict.fromkeys(each.reason.rstrip(".") for each in analysis.skipped))
        raise InputError(
            "model", f"nothing could be fitted ({reasons})", "Change the model or the frame"
        )
    return analysis


def _told(read: RatingsRead, analysis: Analysis, backend: str) -> Result[Analysis]:
    findings = find(analysis)
    drawn = pads(analysis, read.table)
    repeats = repeatability(read.table, analysis.model.level)
    checks = tuple(check_sentences(model_checks(read.table, analysis)))
    tables = rating_tables(analysis, findings, drawn)
    spread = next(each for each in tables if each.name == "spread")
    mapping = rows_table("columns", "Columns", ("what", "column", "how"), summary_rows(read, CALL))
    cautions = (*read.cautions, *_own_cautions(analysis))
    skipped = tuple(
        f"{each.sensation} ({each.scale}) not fitted. {each.reason}" for each in analysis.skipped
    )
    return Result(
        title=_title(read),
        result=analysis,
        sections=rating_sections(analysis, findings, drawn, mapping, spread, checks),
        tables=(*tables, mapping),
        cautions=(*skipped, *cautions),
        backend=backend,
        text=debrief_text(
            analysis,
            findings,
            read.cautions,
            repeats,
            rest="all are in .to_frame(...)",
            checks=checks,
        ),
    )


def _own_cautions(analysis: Analysis) -> tuple[str, ...]:
    """Return what all fits caution of once, and what only some do with their names."""
    own = [
        f"{fit.sensation} ({fit.scale}): {each}"
        for fit in analysis.fits
        for each in fit.fit.cautions
        if each not in analysis.cautions
    ]
    return (*analysis.cautions, *own)


def _title(read: RatingsRead) -> str:
    coffees, tasters = len(read.table.coffee.labels), len(read.table.taster.labels)
    return (
        f"Ratings: {count_of(coffees, 'coffee')}, {count_of(tasters, 'taster')}, "
        f"{count_of(read.used, 'row')} of marks"
    )
