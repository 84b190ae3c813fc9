"""Checks of a rating model that a host can read: outlying marks, ends of the scale, spread.

Each mark is compared with what all the others foretell of it. With P the projection of the
mixed model (V^-1 less what the intercept takes), the standardised prediction error of mark i
is (P y)_i / sqrt(P_ii): no refit is needed.
"""

from dataclasses import dataclass

import numpy as np

from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.mixed_model_levels import Factor, combine, encode
from twobowls.statistics.ratings_columns import RatingColumns, checked_values
from twobowls.statistics.ratings_results import RatingFit

WHOLE_LIMIT = 1200  # marks up to which all are taken together; above, each taster alone
ODD_CHANCE = 0.05  # an outlying mark would turn up by chance in one table of twenty
END_SHARE = 0.01  # of the scale's width: such marks sit at an end
MANY_AT_ENDS = 0.10
MEDIAN_TO_SD = 1.4826  # of a normal distribution


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlyingMark:
    """A mark that the others did not foretell.

    ``row`` counts the marks from 0, ``expected`` is what the others foretell, and
    ``standardised`` the error in units of its standard deviation.
    """

    row: int
    taster: str
    coffee: str
    round: str | None
    mark: float
    expected: float
    standardised: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Checks:
    """What the checks found.

    ``standardised`` (n,) are the errors of all marks, in units that fit their taster: one whose
    marks count for less (``weights`` of the fit) is allowed more; ``at_ends`` is the share of
    marks at an end of the scale; ``spread`` is each taster's root mean square error, 1 where the
    taster is as steady as the model holds everybody to be, and ``scattered`` names those whose
    marks scatter more than it can hold. ``sentences`` are for the host; none means that nothing
    was found.
    """

    standardised: tuple[float, ...]
    outlying: tuple[OutlyingMark, ...]
    at_ends: float
    spread: dict[str, float]
    scattered: tuple[str, ...]
    sentences: tuple[str, ...]


def check_marks(
    columns: RatingColumns, fit: RatingFit, scale: tuple[float, float] = (0.0, 100.0)
) -> Checks:
    """Check the marks against the model that was fitted to them.

    Parameters
    ----------
    columns : RatingColumns
        The marks.
    fit : RatingFit
        Their fit: its mean variances are taken as they are.
    scale : tuple of float
        Both ends of the scale.

    Returns
    -------
    Checks
        A mark is outlying when an error as large would turn up among all marks of one table in
        twenty.

    Examples
    --------
    >>> from twobowls.statistics.ratings import fit_ratings
    >>> y = [60, 40, 62, 43, 58, 41, 61, 39, 59, 40, 63, 42, 100, 100]
    >>> taster = [t for t in "abcdefg" for _ in "AB"]
    >>> columns = RatingColumns(y=y, taster=taster, coffee=list("AB") * 7)
    >>> found = check_marks(columns, fit_ratings(columns))
    >>> found.sentences[-1].split(":")[0]
    '14 % of the marks sit at an end of the scale'
    """
    values = checked_values(columns, scale)
    factors = {name: encode(name, labels) for name, labels in columns.factors().items()}
    taster = factors["taster"]
    noise = _own_noise(values, factors, fit)
    errors, expected = _predicted(
        values, factors, fit, fit.variance["residual"] * noise[taster.codes]
    )
    outlying = _outlying(values, factors, errors, expected)
    low, high = scale
    edge = END_SHARE * (high - low)
    at_ends = float(np.mean((values <= low + edge) | (values >= high - edge)))
    counts = np.asarray(np.bincount(taster.codes), dtype=np.float64)
    squares = np.asarray(np.bincount(taster.codes, errors**2), dtype=np.float64)
    sizes = np.sqrt(noise * squares / counts)
    spread = dict(zip(taster.levels, sizes.tolist(), strict=True))
    sentences = [_outlier_sentence(each) for each in outlying[:5]]
    scattered = _scattered(taster.levels, counts, noise * squares)
    sentences += [
        f"{name}'s marks scatter {spread[name]:.1f} times as much as the model holds likely."
        for name in scattered
    ]
    if at_ends >= MANY_AT_ENDS:
        sentences.append(
            f"{100 * at_ends:.0f} % of the marks sit at an end of the scale: "
            "differences there look smaller than they are."
        )
    return Checks(
        standardised=tuple(errors.tolist()),
        outlying=outlying,
        at_ends=at_ends,
        spread=spread,
        scattered=scattered,
        sentences=tuple(sentences),
    )


def _own_noise(values: FloatArray, factors: dict[str, Factor], fit: RatingFit) -> FloatArray:
    """How many times a steady taster's variance each taster's slips have (T,).

    A careless taster is allowed more, as the middle one of the errors tells: a single slip of
    the finger must not hide itself.
    """
    taster = factors["taster"]
    own = np.ones(len(taster.levels))
    if fit.weights:
        noise = np.full(len(values), fit.variance["residual"])
        errors = np.abs(_predicted(values, factors, fit, noise)[0])
        for k, name in enumerate(taster.levels):
            if name in fit.weights:
                middle = float(np.median(errors[taster.codes == k]))
                own[k] = max(1.0, MEDIAN_TO_SD * middle) ** 2
    return own


def _predicted(
    values: FloatArray, factors: dict[str, Factor], fit: RatingFit, noise: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Standardised prediction errors and predictions (n,)."""
    noise = np.maximum(noise, 1e-9)
    terms = [(name, fit.variance[name]) for name in fit.variance if name != "residual"]
    terms += [(name, 1e3 * float(np.var(values)) + 1.0) for name in fit.fixed]
    if len(values) <= WHOLE_LIMIT:
        return _leave_one_out(values, factors, terms, noise, np.arange(len(values)))
    # a large panel: what is common to all is known well, so that each taster is taken alone
    common = _common_part(values, factors)
    own = [(name, size) for name, size in terms if "taster" in name.split(":")]
    errors, expected = np.empty_like(values), np.empty_like(values)
    order = np.argsort(factors["taster"].codes, kind="stable")
    for rows in np.split(order, np.cumsum(np.bincount(factors["taster"].codes))[:-1]):
        errors[rows], expected[rows] = _leave_one_out(values - common, factors, own, noise, rows)
    return errors, expected + common


def _common_part(values: FloatArray, factors: dict[str, Factor]) -> FloatArray:
    """Mean of each coffee (in each round), less the mean of all marks."""
    parts = [factors[name] for name in ("coffee", "round") if name in factors]
    codes, size = combine(parts)
    counts = np.maximum(np.bincount(codes, minlength=size), 1)
    means = np.bincount(codes, values, size) / counts
    return np.asarray((means - values.mean())[codes])


def _leave_one_out(
    values: FloatArray,
    factors: dict[str, Factor],
    terms: list[tuple[str, float]],
    noise: FloatArray,
    rows: IntArray,
) -> tuple[FloatArray, FloatArray]:
    y = values[rows]
    if len(rows) == 1:
        return np.zeros(1), y.copy()
    covariance = np.diag(noise[rows])
    for name, size in terms:
        codes, _ = combine([factors[part] for part in name.split(":")])
        mine = codes[rows]
        covariance += size * (mine[:, None] == mine[None, :])
    inverse = np.linalg.inv(covariance)
    pulled = inverse.sum(axis=1)
    projection = inverse - np.outer(pulled, pulled) / pulled.sum()
    diagonal = np.maximum(np.diagonal(projection), 1e-300)
    errors = projection @ (y - y.mean())
    return errors / np.sqrt(diagonal), y - errors / diagonal


def _outlying(
    values: FloatArray, factors: dict[str, Factor], errors: FloatArray, expected: FloatArray
) -> tuple[OutlyingMark, ...]:
    from scipy.special import ndtri

    bound = -float(ndtri(ODD_CHANCE / (2 * len(values))))
    rows = [int(row) for row in np.argsort(-np.abs(errors)) if abs(errors[row]) > bound]

    def label(name: str, row: int) -> str:
        return factors[name].levels[int(factors[name].codes[row])]

    return tuple(
        OutlyingMark(
            row=row,
            taster=label("taster", row),
            coffee=label("coffee", row),
            round=label("round", row) if "round" in factors else None,
            mark=float(values[row]),
            expected=float(expected[row]),
            standardised=float(errors[row]),
        )
        for row in rows
    )


def _outlier_sentence(mark: OutlyingMark) -> str:
    when = "" if mark.round is None else f" in round {mark.round}"
    return (
        f"{mark.taster} put {mark.coffee}{when} at {mark.mark:.0f}, "
        f"where the other marks foretell about {mark.expected:.0f}: a slip of the finger?"
    )


def _scattered(
    tasters: tuple[str, ...], counts: FloatArray, squares: FloatArray
) -> tuple[str, ...]:
    """Tasters whose marks scatter more than the model holds steady tasters to do."""
    from scipy.special import chdtrc

    return tuple(
        name
        for k, name in enumerate(tasters)
        if counts[k] >= 4 and chdtrc(float(counts[k]), float(squares[k])) < 0.01 / len(tasters)
    )
