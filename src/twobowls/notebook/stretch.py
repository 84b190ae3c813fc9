"""``twobowls.stretch``: how far each taster spreads the coffees, and what is left without it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from twobowls.counting import count_of
from twobowls.debrief.analysis import Analysis, Model, SensationFit, Skipped, columns_of
from twobowls.debrief.evidence import evidence
from twobowls.debrief.findings import find
from twobowls.debrief.phrases import joined, number
from twobowls.debrief.rating_table import Part, RatingTable, Scale
from twobowls.errors import InputError
from twobowls.interchange.ratings_file import Choices, RatingsRead, without_loose_guesses
from twobowls.interchange.ratings_summary import summary_rows
from twobowls.interchange.ratings_wording import CALL
from twobowls.notebook.estimates import ESTIMATE, estimate_cells, interval_words
from twobowls.notebook.marks import limits_of, merges, read_marks, stated
from twobowls.notebook.pictures import bars_of, intervals_picture
from twobowls.notebook.rating_model import model_of, name_list, scale_of, terms_of
from twobowls.notebook.ratings_tables import rating_tables
from twobowls.notebook.result import Result, Section
from twobowls.notebook.tables import Table, rows_table
from twobowls.statistics.ratings_columns import RatingColumns
from twobowls.statistics.ratings_stretch import StretchFit, pooled_stretch
from twobowls.statistics.ratings_stretched import StretchedFit, fit_ratings_stretched

_MOST_BARS = 30
# People whose stretches may differ by so little are as good as alike: a rule of thumb.
_ALIKE = 0.10
_SCALES: tuple[Scale, ...] = ("intensity", "liking")
_HEADINGS: dict[Scale, str] = {"intensity": "How strong", "liking": "How much liked"}


@dataclass(frozen=True, slots=True, kw_only=True)
class SensationStretch:
    """One sensation on one scale, fitted with a stretch of each taster."""

    sensation: str
    scale: Scale
    limits: tuple[float, float]
    fit: StretchedFit


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretches:
    """How tasters stretch the scales.

    ``sensations`` are fitted one by one; ``tasters`` has each taster's stretch for each scale,
    all its sensations together. ``skipped`` could not be fitted.
    """

    sensations: tuple[SensationStretch, ...]
    tasters: Mapping[Scale, StretchFit]
    skipped: tuple[Skipped, ...]


def stretch(
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
    scale: tuple[float, float] | None = None,
    liking_scale: tuple[float, float] | None = None,
    merge: Mapping[str, str] | None = None,
    drop_copies: bool = False,
    skip_errors: bool = False,
    random: Sequence[str] | None = None,
    fixed: Sequence[str] | None = None,
    level: float = 0.90,
) -> Result[Stretches]:
    """Say how far each taster spreads the coffees along the scale, and compare coffees without it.

    Parameters
    ----------
    frame : data frame or dict of lists
        One row a mark, or (wide) one column a sensation; two tasters and two coffees at least.
    taster, coffee, sensation, intensity, liking, round, position, bowl, flight, repeat, counts
        Columns, found as `twobowls.ratings` finds them.
    sensations, wide_scale, scale, liking_scale, merge, drop_copies, skip_errors
        As in `twobowls.ratings`.
    random, fixed : sequence of str, optional
        Terms of the model beside the stretch; chosen when left out.
    level : float
        Share of cases that an interval should hold.

    Returns
    -------
    Result
        Tables ``tasters`` (stretch: 1 is as wide as the table), ``deviation`` (standard
        deviation of stretches, sensation by sensation), ``coffees``, ``contrasts``, ``rounds``,
        ``spread`` and ``findings`` as in `twobowls.ratings` with stretch taken out of the
        disagreement ``taster:coffee``, ``columns``.

    Raises
    ------
    InputError
        When a column is missing or of the wrong kind, marks are off a stated scale, or nothing
        can be fitted. Rows are counted from 0.

    Notes
    -----
    The mixed assessor model with weak priors; see
    `twobowls.statistics.ratings_stretched.fit_ratings_stretched` and
    `twobowls.statistics.ratings_stretch.pooled_stretch`. A taster is taken to stretch all
    sensations of a scale alike. It takes several coffees to tell a stretch from a taste.

    Examples
    --------
    >>> found = stretch({
    ...     "taster": ["Ana"] * 4 + ["Ben"] * 4 + ["Ciro"] * 4,
    ...     "coffee": ["Brisa", "Niebla", "Oro", "Umbra"] * 3,
    ...     "acidity": [20, 40, 60, 80, 43, 48, 52, 57, 35, 45, 55, 65],
    ... }, intensity="acidity", scale=(0, 100))
    >>> tasters = found.to_frame("tasters")
    >>> tasters["taster"], [round(each, 1) for each in tasters["stretch"]]
    (['Ana', 'Ben', 'Ciro'], [1.7, 0.4, 0.9])
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
        limits=limits_of(scale, liking_scale),
        merges=merges(merge),
        drop_copies=drop_copies,
        skip_errors=skip_errors,
    )
    model = model_of("weak", random, fixed, level)
    given, read = read_marks(frame, choices)
    if model.random is not None or model.fixed is not None:
        read = without_loose_guesses(read, terms_of(model), CALL)
    return _told(read, _fitted(read.table, model), model, given.backend)


def _fitted(table: RatingTable, model: Model) -> Stretches:
    found: list[SensationStretch] = []
    skipped: list[Skipped] = []
    kept: dict[Scale, list[tuple[RatingColumns, StretchedFit, Part]]] = {}
    for part in table.parts():
        columns = columns_of(part)
        try:
            fit = fit_ratings_stretched(
                columns,
                random=model.random,
                fixed=model.fixed,
                scale=part.limits,
                level=model.level,
            )
        except InputError as error:
            reason = f"{error.field}: {error.problem}. {error.cure}."
            skipped.append(Skipped(sensation=part.sensation, scale=part.scale, reason=reason))
            continue
        found.append(
            SensationStretch(
                sensation=part.sensation, scale=part.scale, limits=part.limits, fit=fit
            )
        )
        kept.setdefault(part.scale, []).append((columns, fit, part))
    if not found:
        reasons = "; ".join(dict.fromkeys(each.reason.rstrip(".") for each in skipped))
        raise InputError(
            "model", f"nothing could be fitted ({reasons})", "Change the model or the frame"
        )
    return Stretches(
        sensations=tuple(found),
        tasters={
            scale: pooled_stretch(
                [(columns, fit.fit) for columns, fit, _ in kept[scale]],
                kept[scale][0][2].limits,
                model.level,
            )
            for scale in _SCALES
            if scale in kept
        },
        skipped=tuple(skipped),
    )


def _told(read: RatingsRead, found: Stretches, model: Model, backend: str) -> Result[Stretches]:
    analysis = Analysis(
        fits=tuple(
            SensationFit(
                id=f"fit-{place}",
                sensation=each.sensation,
                scale=each.scale,
                limits=each.limits,
                fit=each.fit.fit,
            )
            for place, each in enumerate(found.sensations)
        ),
        skipped=found.skipped,
        model=model,
    )
    coffees, contrasts, rounds, spread, findings, _ = rating_tables(analysis, find(analysis), ())
    tasters, deviation = _tasters(found), _deviation(found)
    mapping = rows_table("columns", "Columns", ("what", "column", "how"), summary_rows(read, CALL))
    people = len(read.table.taster.labels)
    return Result(
        title=f"Stretch of the scale: {count_of(people, 'taster')}, "
        f"{count_of(len(read.table.coffee.labels), 'coffee')}",
        result=found,
        sections=(
            *(_section(scale, each, model.level) for scale, each in found.tasters.items()),
            Section(
                heading="The numbers",
                sentences=_disagreements(found),
                tables=(deviation,),
                folded=(tasters, coffees, contrasts, spread, findings, mapping),
            ),
        ),
        tables=(tasters, deviation, coffees, contrasts, rounds, spread, findings, mapping),
        cautions=(
            *(
                f"{each.sensation} ({each.scale}) not fitted. {each.reason}"
                for each in found.skipped
            ),
            *read.cautions,
            *dict.fromkeys(each for one in found.tasters.values() for each in one.cautions),
            *dict.fromkeys(each for one in found.sensations for each in one.fit.fit.cautions),
        ),
        backend=backend,
    )


def _section(scale: Scale, found: StretchFit, level: float) -> Section:
    ranked = sorted(found.tasters, key=lambda each: -each.stretch.mean)
    rows = [(each.taster, *estimate_cells(each.stretch)) for each in ranked]
    hidden = len(rows) - _MOST_BARS
    return Section(
        heading=_HEADINGS[scale],
        sentences=(
            *_sentences(found),
            *((f"{count_of(hidden, 'taster')} more in the table.",) if hidden > 0 else ()),
        ),
        notes=(
            "Stretch: 1 is as far apart as the table sets the coffees in the mean, 2 twice as "
            f"far; {interval_words(level)}.",
        ),
        picture=intervals_picture(
            bars_of(rows[:_MOST_BARS], 0, 1, 3), "Stretch of the scale", neutral=1.0
        ),
    )


def _sentences(found: StretchFit) -> tuple[str, ...]:
    """Say who spreads the coffees further, or less far, than the table."""
    said = []
    for each in sorted(found.tasters, key=lambda one: -one.stretch.mean):
        word = evidence(each.probability)
        low, high = each.stretch.interval
        if word != "cannot tell":
            said.append(
                f"{each.taster} spreads the coffees {number(each.stretch.mean, 1)} times as far as "
                f"the table ({number(low, 1)} to {number(high, 1)}). {word.capitalize()}."
            )
    return tuple(said[:8]) or (
        "Nobody can be told apart from the table in how far they spread the coffees.",
    )


def _disagreements(found: Stretches) -> tuple[str, ...]:
    """Say in which sensations people may as well spread the coffees alike."""
    alike = [
        each.sensation if each.sensation == each.scale else f"{each.sensation} ({each.scale})"
        for each in found.sensations
        if each.fit.deviation.interval[0] < _ALIKE
    ]
    if not alike:
        return ()
    return (f"All may well spread the coffees alike in {joined(alike)}.",)


def _tasters(found: Stretches) -> Table:
    rows = [
        (
            scale,
            each.taster,
            *estimate_cells(each.stretch),
            each.probability,
            evidence(each.probability),
        )
        for scale, one in found.tasters.items()
        for each in one.tasters
    ]
    header = ("scale", "taster", "stretch", *ESTIMATE[1:], "probability", "evidence")
    places = {**dict.fromkeys(("stretch", *ESTIMATE[1:]), 2), "probability": 3}
    return rows_table("tasters", "Stretch of each taster", header, rows, places)


def _deviation(found: Stretches) -> Table:
    rows = [
        (each.sensation, each.scale, *estimate_cells(each.fit.deviation))
        for each in found.sensations
    ]
    header = ("sensation", "scale", "deviation", *ESTIMATE[1:])
    places = dict.fromkeys(("deviation", *ESTIMATE[1:]), 2)
    caption = "How far stretches differ among people (standard deviation)"
    return rows_table("deviation", caption, header, rows, places)
