"""Fits every sensation of a rating table on every scale, and keeps what could not be fitted."""

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, cast

import numpy as np

from twobowls.debrief.phrases import decimals
from twobowls.debrief.rating_table import Factor, Part, RatingTable, Scale
from twobowls.errors import InputError
from twobowls.statistics.ratings import RatingColumns, fit_ratings
from twobowls.statistics.ratings_results import Contrast, Means, Population, RatingFit

POPULATIONS: tuple[Population, ...] = ("table", "people")
_OUR_FAULT = "Something went wrong in twobowls, not in the marks; they are safe."
_EXTRA = ("round", "position", "bowl", "flight")
_FIXED = ("coffee", "round", "position", "flight")
# Each is compared with each: 150 make 11,175 differences for a person to read, and for us a minute.
MOST_COFFEES = 150


@dataclass(frozen=True, slots=True, kw_only=True)
class Model:
    """What is fitted: the prior, the terms (None lets the engine choose), the level."""

    prior: Literal["weak", "flat"] = "weak"
    random: tuple[str, ...] | None = None
    fixed: tuple[str, ...] | None = None
    level: float = 0.90


@dataclass(frozen=True, slots=True, kw_only=True)
class SensationFit:
    """One sensation on one scale. ``id`` names it in links and files."""

    id: str
    sensation: str
    scale: Scale
    limits: tuple[float, float]
    fit: RatingFit

    @property
    def neutral(self) -> float:
        """The middle of the scale: neither liked nor disliked, for liking."""
        return sum(self.limits) / 2

    @property
    def places(self) -> int:
        """How many decimals its figures deserve."""
        means = self.fit.table
        estimates = [each.estimate for each in means.coffees]
        estimates += [each.estimate for each in means.contrasts]
        widths = [each.interval[1] - each.interval[0] for each in estimates]
        return decimals(self.limits, min((each for each in widths if each > 0), default=0.0))

    def means(self, population: Population) -> Means:
        """Return the means of this table, or of people like these."""
        return self.fit.table if population == "table" else self.fit.people

    def contrast(self, a: str, b: str, population: Population) -> Contrast:
        """Return coffee ``a`` minus coffee ``b``, whichever way round the fit has it."""
        for each in self.means(population).contrasts:
            if (each.a, each.b) == (a, b):
                return each
            if (each.a, each.b) == (b, a):
                return turned(each)
        raise InputError("coffee", f"{a!r} and {b!r} are not both in this fit", "Name two that are")

    def contrast_id(self, a: str, b: str) -> str:
        """Return the name of a contrast, the same for both directions.

        A contrast is called after the places of its coffees in the fit, since labels may hold
        anything.
        """
        labels = [each.level for each in self.fit.people.coffees]
        low, high = sorted((labels.index(a) + 1, labels.index(b) + 1))
        return f"{self.id}--{low}-{high}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Skipped:
    """A sensation on a scale that could not be fitted, and why.

    ``failure`` is what went wrong where that was ours, and not in the marks or the model.
    """

    sensation: str
    scale: Scale
    reason: str
    failure: Exception | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Analysis:
    """All fits of one table. ``cautions`` are sentences to be shown beside the numbers."""

    fits: tuple[SensationFit, ...]
    skipped: tuple[Skipped, ...] = ()
    cautions: tuple[str, ...] = ()
    model: Model = field(default_factory=Model)

    def get(self, sensation: str, scale: Scale) -> SensationFit | None:
        """Return the fit of a sensation on a scale, or None."""
        for each in self.fits:
            if (each.sensation, each.scale) == (sensation, scale):
                return each
        return None

    @property
    def sensations(self) -> tuple[str, ...]:
        """The sensations with at least one fit, in order of appearance."""
        return tuple(dict.fromkeys(each.sensation for each in self.fits))


def turned(contrast: Contrast) -> Contrast:
    """Return the same contrast seen from the other coffee.

    Examples
    --------
    >>> from twobowls.statistics.ratings_results import Estimate
    >>> one = Contrast(
    ...     a="A", b="B", probability=0.9, estimate=Estimate(mean=4, se=3, interval=(-1, 9))
    ... )
    >>> turned(one).estimate.interval, round(turned(one).probability, 2)
    ((-9, 1), 0.1)
    """
    low, high = contrast.estimate.interval
    estimate = replace(contrast.estimate, mean=-contrast.estimate.mean, interval=(-high, -low))
    return Contrast(
        a=contrast.b, b=contrast.a, estimate=estimate, probability=1.0 - contrast.probability
    )


def analyse(table: RatingTable, model: Model | None = None) -> Analysis:
    """Fit every sensation on every scale that has marks.

    Parameters
    ----------
    table : RatingTable
        The marks that count.
    model : Model, optional
        Weak prior, the engine's own terms and intervals of 90 % by default.

    Returns
    -------
    Analysis
        What cannot be fitted is in ``skipped`` with the reason.

    Examples
    --------
    >>> table = RatingTable(
    ...     taster=Factor.of(["Ana", "Ana", "Ben", "Ben"] * 2),
    ...     coffee=Factor.of(["Brisa", "Oro"] * 4),
    ...     intensity=np.array([62.0, 30, 55, 41, 60, 33, 52, 35]),
    ...     limits={"intensity": (0, 100)},
    ...     names={"intensity": "acidity"},
    ... )
    >>> found = analyse(table, Model(prior="flat", random=("taster",)))
    >>> round(found.fits[0].contrast("Brisa", "Oro", "people").estimate.mean, 2)
    22.5
    """
    model = model or Model()
    fits: list[SensationFit] = []
    skipped: list[Skipped] = []
    taken: set[str] = set()
    for part in table.parts():
        try:
            fit = fit_part(part, model)
        except InputError as error:
            skipped.append(
                Skipped(sensation=part.sensation, scale=part.scale, reason=_reason(error))
            )
            continue
        except Exception as error:  # noqa: BLE001 - the other sensations stand
            skipped.append(
                Skipped(
                    sensation=part.sensation, scale=part.scale, reason=_OUR_FAULT, failure=error
                )
            )
            continue
        fits.append(
            SensationFit(
                id=_fit_id(part, taken),
                sensation=part.sensation,
                scale=part.scale,
                limits=part.limits,
                fit=fit,
            )
        )
    return Analysis(
        fits=tuple(fits), skipped=tuple(skipped), cautions=_shared_cautions(fits), model=model
    )


def fit_part(part: Part, model: Model) -> RatingFit:
    """Fit one sensation on one scale.

    Raises
    ------
    InputError
        When the model asked for cannot be fitted to these marks.
    """
    coffee = part.factor("coffee")
    assert coffee is not None
    if len(coffee.labels) > MOST_COFFEES:
        raise InputError(
            "coffee",
            f"{len(coffee.labels):,} coffees are more than can be compared with one another",
            f"Give at most {MOST_COFFEES} at a time",
        )
    columns = columns_of(part)
    there = tuple(each for each in _EXTRA if getattr(columns, each) is not None)
    fit = fit_ratings(
        columns,
        prior=model.prior,
        random=model.random,
        fixed=_fixed(model, there, len(coffee.labels)),
        scale=part.limits,
        level=model.level,
        placings=part.table.kept is not None,
    )
    return replace(fit, cautions=(*fit.cautions, *_own_cautions(coffee)))


def columns_of(part: Part) -> RatingColumns:
    """Return the marks of a part as the rating engine takes them.

    Factors that say nothing in this part (one label, or not known in every row) are left out.
    Where it is known which marks were kept, a table without bowls has one bowl a coffee: marks
    of one person in several rounds then are placings of one bowl, before the reveal too.
    """
    table = part.table
    one_each = table.bowl is None and table.kept is not None
    return RatingColumns(
        y=part.y,
        taster=_labels(part.table.taster.take(part.rows)),
        coffee=_labels(part.table.coffee.take(part.rows)),
        round=_maybe_labels(part.factor("round")),
        position=_maybe_labels(part.factor("position")),
        bowl=_maybe_labels(part.factor("coffee" if one_each else "bowl")),
        flight=_maybe_labels(part.factor("flight")),
    )


def _labels(factor: Factor) -> Sequence[str]:
    """Return the labels row by row, as references to one string each."""
    return cast(Sequence[str], np.array(factor.labels, dtype=object)[factor.codes])


def _maybe_labels(factor: Factor | None) -> Sequence[str] | None:
    return None if factor is None else _labels(factor)


def _fixed(model: Model, extra: tuple[str, ...], coffees: int) -> tuple[str, ...] | None:
    """Keep a factor that is named as random out of the fixed part."""
    if model.fixed is not None or model.random is None or model.prior != "flat":
        return model.fixed
    there = ("coffee", *extra) if coffees > 1 else extra
    return tuple(each for each in _FIXED if each in there and each not in model.random)


def _own_cautions(coffee: Factor) -> list[str]:
    if len(coffee.labels) == 1:
        return ["One coffee only: there is nothing to compare it with."]
    return []


def _shared_cautions(fits: list[SensationFit]) -> tuple[str, ...]:
    """Return the cautions that every fit has, to be told once."""
    if not fits:
        return ()
    return tuple(
        each for each in fits[0].fit.cautions if all(each in other.fit.cautions for other in fits)
    )


def _reason(error: InputError) -> str:
    return f"{error.field}: {error.problem}. {error.cure}."


def _fit_id(part: Part, taken: set[str]) -> str:
    bare = unicodedata.normalize("NFKD", part.sensation).encode("ascii", "ignore").decode()
    base = f"{re.sub(r'[^a-z0-9]+', '-', bare.lower()).strip('-') or 'sensation'}-{part.scale}"
    name, number = base, 1
    while name in taken:
        number += 1
        name = f"{base}-{number}"
    taken.add(name)
    return name
