"""How people mark: how wide they spread coffees, how high, and whether their marks follow them.

Of how strong each sensation is, never of liking: what somebody likes is no skill. What is said
of one person is for that person alone; the table sees `TableMarking.sensations` and `spread`.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from twobowls.debrief.analysis import Analysis, columns_of
from twobowls.debrief.rating_table import Factor, Part, RatingTable
from twobowls.errors import InputError
from twobowls.statistics.agreement import intraclass_correlations
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.coffee_means import Rest, coffee_table
from twobowls.statistics.correlation import Correlation, correlation_from
from twobowls.statistics.discriminating import discriminating
from twobowls.statistics.intervals import Interval
from twobowls.statistics.ratings_results import Estimate
from twobowls.statistics.ratings_stretch import StretchFit, pooled_stretch

# What only two people could show would tell each about the other.
LEAST_TASTERS = 3
LIKELY = 0.95
_TASTES = ("acidity", "bitterness")


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnSensation:
    """How one person marks one sensation; None where the marks cannot tell.

    ``apart`` is the chance that the marks follow the coffees at all, ``offset`` how much higher
    they are than those of the others.
    """

    sensation: str
    apart: float | None
    offset: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnMarking:
    """How one person marks; None where the marks cannot tell.

    ``spread`` is how far they spread the coffees, 1 being as far as the table; ``offset`` how
    much higher on the line than the others, in points; ``agreement`` how their coffees go with
    those of the others, over all sensations.
    """

    sensations: tuple[OwnSensation, ...]
    spread: Estimate | None
    offset: Interval | None
    agreement: Correlation | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TableSensation:
    """How a table marks one sensation.

    ``apart`` of ``of`` people have marks that likely follow the coffees. ``one`` is the share of
    the differences between one person's marks that is the coffees', ``mean`` that of the mean of
    all; None where people or coffees are too few, or have gaps.
    """

    sensation: str
    apart: int
    of: int
    one: Interval | None
    mean: Interval | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TableMarking:
    """How the people at a table mark: each by label, and the table by sensation.

    ``spread`` is the standard deviation of how far people spread the coffees, as a share.
    """

    tasters: Mapping[str, OwnMarking]
    sensations: tuple[TableSensation, ...]
    spread: Estimate | None


def table_marking(
    table: RatingTable, analysis: Analysis, swapped: Collection[str] = ()
) -> TableMarking | None:
    """Return how people mark; None with fewer than three people or two coffees.

    Parameters
    ----------
    table : RatingTable
        The marks.
    analysis : Analysis
        Their fits.
    swapped : collection of str
        Who may mix up sour and bitter: their marks of these two say nothing of how they agree,
        and nobody's say how far people spread coffees.
    """
    parts = {
        part.sensation: part
        for part in table.parts()
        if part.scale == "intensity" and len(table.coffee.take(part.rows).labels) > 1
    }
    if len(table.taster.labels) < LEAST_TASTERS or not parts:
        return None
    level = analysis.model.level
    sensations = {name: _Sensation.of(part, level) for name, part in parts.items()}
    stretch = _stretch(parts, analysis, bool(swapped))
    spread = {each.taster: each.stretch for each in stretch.tasters} if stretch else {}
    return TableMarking(
        tasters={
            label: _own(label, sensations, label in swapped, spread.get(label), level)
            for label in table.taster.labels
        },
        sensations=tuple(_of_table(name, each, level) for name, each in sensations.items()),
        spread=None if stretch is None else stretch.deviation,
    )


@dataclass(frozen=True, slots=True)
class _Sensation:
    """One sensation: tasters, their means with coffees across, and who follows the coffees."""

    tasters: tuple[str, ...]
    means: FloatArray
    apart: Mapping[str, float | None]

    @classmethod
    def of(cls, part: Part, level: float) -> "_Sensation":
        taster, coffee, round_ = (part.factor(name) for name in ("taster", "coffee", "round"))
        assert taster is not None
        assert coffee is not None
        when = np.zeros(len(part.rows), dtype=np.intp) if round_ is None else round_.codes
        y, what = part.y, coffee.codes.astype(np.intp)
        apart = {}
        for code, label in enumerate(taster.labels):
            rows = taster.codes == code
            found = discriminating(y[rows], what[rows], when[rows].astype(np.intp), level)
            apart[label] = None if found is None else found.probability
        rounds = None if round_ is None else _labels(round_)
        table = coffee_table(_labels(taster), _labels(coffee), y, rounds=rounds)
        return cls(table.tasters, table.means, apart)

    def beside(self, label: str) -> tuple[FloatArray, FloatArray]:
        """Return one taster's coffees and the others' mean of the same."""
        return Rest(self.means).without(self.tasters.index(label))


def _labels(factor: Factor) -> list[str]:
    return [factor.labels[code] for code in factor.codes.tolist()]


def _stretch(parts: Mapping[str, Part], analysis: Analysis, swapped: bool) -> StretchFit | None:
    """Estimate how far people spread coffees, all sensations together."""
    used = [
        (columns_of(parts[fit.sensation]), fit.fit)
        for fit in analysis.fits
        if fit.scale == "intensity"
        and fit.sensation in parts
        and not (swapped and fit.sensation in _TASTES)
    ]
    if not used or any(fit.tasters < LEAST_TASTERS for _, fit in used):
        return None
    limits = next(fit.limits for fit in analysis.fits if fit.scale == "intensity")
    try:
        return pooled_stretch(used, limits, analysis.model.level)
    except InputError:
        return None  # one coffee only, or a flat prior: there is no spread to speak of


def _own(
    label: str,
    sensations: Mapping[str, _Sensation],
    swapped: bool,
    spread: Estimate | None,
    level: float,
) -> OwnMarking:
    mine = {name: each for name, each in sensations.items() if label in each.tasters}
    pairs = {name: each.beside(label) for name, each in mine.items()}
    gaps = {name: float((own - others).mean()) for name, (own, others) in pairs.items() if own.size}
    alike = [pair for name, pair in pairs.items() if not (swapped and name in _TASTES)]
    return OwnMarking(
        sensations=tuple(
            OwnSensation(sensation=name, apart=each.apart[label], offset=gaps.get(name))
            for name, each in mine.items()
        ),
        spread=spread,
        offset=_offset(list(gaps.values()), level),
        agreement=_agreement(alike, level),
    )


def _offset(gaps: Sequence[float], level: float) -> Interval | None:
    """Return the mean height above the others, over sensations; needs three."""
    if len(gaps) < 3:
        return None
    values = np.array(gaps)
    half = float(stdtrit(len(gaps) - 1, (1 + level) / 2) * values.std(ddof=1) / len(gaps) ** 0.5)
    mean = float(values.mean())
    return Interval(mean, mean - half, mean + half, level)


def _agreement(pairs: Sequence[tuple[FloatArray, FloatArray]], level: float) -> Correlation | None:
    """Correlate one person's differences between coffees with the others', all sensations.

    Each sensation gives one independent difference less than it has coffees; their mean is zero
    either way, so nothing is lost to it.
    """
    both = [(own - own.mean(), others - others.mean()) for own, others in pairs if own.size > 1]
    degrees = sum(own.size - 1 for own, _ in both)
    if degrees < 3:
        return None
    x, y = (np.concatenate(each) for each in zip(*both, strict=True))
    size = float(np.sqrt((x @ x) * (y @ y)))
    if size <= 1e-9:
        return None
    return correlation_from(float(np.clip(x @ y / size, -1, 1)), degrees + 1, level=level)


def _of_table(name: str, found: _Sensation, level: float) -> TableSensation:
    chances = [each for each in found.apart.values() if each is not None]
    one, mean = _reliability(found.means, level)
    return TableSensation(
        sensation=name,
        apart=sum(each >= LIKELY for each in chances),
        of=len(chances),
        one=one,
        mean=mean,
    )


def _reliability(means: FloatArray, level: float) -> tuple[Interval | None, Interval | None]:
    complete = means[~np.isnan(means).any(axis=1)]
    if len(complete) < LEAST_TASTERS:
        return None, None
    try:
        found = intraclass_correlations(complete.T, level=level)
    except InputError:
        return None, None  # one coffee, or all marks alike
    return found.single_fixed, found.mean_fixed
