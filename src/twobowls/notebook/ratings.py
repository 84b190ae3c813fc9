"""``twobowls.ratings``: what marks on line scales show, all sensations at once."""

from collections.abc import Mapping, Sequence
from typing import Any, Literal

from twobowls.debrief.analysis import POPULATIONS, Analysis, Model, SensationFit, analyse
from twobowls.debrief.findings import Findings, find
from twobowls.debrief.model_checks import check_sentences, model_checks
from twobowls.debrief.pads import Pad, pads
from twobowls.debrief.plain_text import debrief_text
from twobowls.debrief.rating_table import Scale
from twobowls.debrief.repeatability import repeatability
from twobowls.errors import InputError
from twobowls.interchange.ratings_file import Choices, RatingsRead, without_loose_guesses
from twobowls.interchange.ratings_summary import summary_rows
from twobowls.interchange.ratings_wording import CALL
from twobowls.notebook.estimates import CONTRAST, ESTIMATE, contrast_rows, estimate_cells
from twobowls.notebook.marks import limits_of, merges, read_marks, stated
from twobowls.notebook.names import listed
from twobowls.notebook.ratings_view import rating_sections
from twobowls.notebook.result import Result
from twobowls.notebook.tables import Table, count_of, rows_table
from twobowls.statistics.inputs import between, one_of


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
        sensations=_names("sensations", sensations) or (),
        wide_scale=_scale(wide_scale),
        one_taster=one_taster,
        limits=limits_of(scale, liking_scale),
        merges=merges(merge),
        drop_copies=drop_copies,
        skip_errors=skip_errors,
    )
    model = _model(prior, random, fixed, level)
    given, read = read_marks(frame, choices)
    if model.random is not None or model.fixed is not None:
        read = without_loose_guesses(read, _parts(model), CALL)
    return _told(read, _analysed(read, model), given.backend)


def _model(
    prior: str, random: Sequence[str] | None, fixed: Sequence[str] | None, level: float
) -> Model:
    one_of("prior", prior, ("weak", "flat"))
    return Model(
        prior="flat" if prior == "flat" else "weak",
        random=_names("random", random),
        fixed=_names("fixed", fixed),
        level=between("level", level, 0, 1),
    )


def _scale(name: str) -> Scale:
    return (
        "liking" if one_of("wide_scale", name, ("intensity", "liking")) == "liking" else "intensity"
    )


def _names(field: str, names: Sequence[str] | None) -> tuple[str, ...] | None:
    """Take a list of names; one alone may come without its list."""
    if names is None:
        return None
    cure = 'Write it as ["a", "b"]'
    several = (names,) if isinstance(names, str) else tuple(listed(field, names, cure))
    if not all(isinstance(each, str) and each.strip() for each in several):
        raise InputError(field, f"{names!r} is not a list of names", cure)
    return several


def _parts(model: Model) -> frozenset[str]:
    terms = (*(model.random or ()), *(model.fixed or ()))
    return frozenset(part for term in terms for part in term.split(":"))


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
    mapping = rows_table("columns", "Columns", ("what", "column", "how"), summary_rows(read, CALL))
    cautions = (*read.cautions, *_own_cautions(analysis))
    skipped = tuple(
        f"{each.sensation} ({each.scale}) not fitted. {each.reason}" for each in analysis.skipped
    )
    return Result(
        title=_title(read),
        result=analysis,
        sections=rating_sections(analysis, findings, drawn, mapping, checks),
        tables=(*_tables(analysis, findings, drawn), mapping),
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


def _tables(analysis: Analysis, findings: Findings, drawn: tuple[Pad, ...]) -> tuple[Table, ...]:
    each_fit = ("sensation", "scale", "population")
    return (
        rows_table(
            "coffees",
            "Coffees",
            (*each_fit, "coffee", *ESTIMATE),
            [
                (*key, each.level, *estimate_cells(each.estimate))
                for key, fit, population in _fits(analysis)
                for each in fit.means(population).coffees
            ],
        ),
        rows_table(
            "contrasts",
            "Pairs",
            (*each_fit, *CONTRAST),
            [
                (*key, *row)
                for key, fit, population in _fits(analysis)
                for row in contrast_rows(fit.means(population).contrasts)
            ],
            {"probability": 3},
        ),
        rows_table(
            "rounds",
            "Coffees, round by round",
            (*each_fit, "coffee", "round", *ESTIMATE),
            [
                (*key, each.coffee, each.round, *estimate_cells(each.estimate))
                for key, fit, population in _fits(analysis)
                for each in fit.means(population).rounds
            ],
        ),
        _spread(analysis),
        rows_table(
            "findings",
            "Findings",
            ("finding", "sensation", "scale", "table", "people"),
            [
                (each.text, each.sensation, each.scale, each.table, each.people)
                for each in findings.all
            ],
        ),
        _pads(drawn),
    )


def _fits(analysis: Analysis) -> list[tuple[tuple[str, str, str], SensationFit, Any]]:
    return [
        ((fit.sensation, fit.scale, population), fit, population)
        for fit in analysis.fits
        for population in POPULATIONS
    ]


def _spread(analysis: Analysis) -> Table:
    rows = []
    for fit in analysis.fits:
        for term, variance in fit.fit.variance.items():
            ends = fit.fit.variance_interval.get(term, (None, None))
            low, high = (None if end is None else end**0.5 for end in ends)
            rows.append((fit.sensation, fit.scale, term, variance**0.5, low, high))
    header = ("sensation", "scale", "term", "sd", "low", "high")
    return rows_table("spread", "What makes marks differ (standard deviations)", header, rows)


def _pads(drawn: tuple[Pad, ...]) -> Table:
    header = ("sensation", "coffee", "intensity", "liking", "axis_1", "axis_2", "angle_rad")
    rows = [
        (pad.sensation, each.coffee, *each.centre, *each.ellipse.semi_axes, each.ellipse.angle_rad)
        for pad in drawn
        for each in pad.coffees
    ]
    return rows_table("pads", "Pads, as shares of the two scales", header, rows)
