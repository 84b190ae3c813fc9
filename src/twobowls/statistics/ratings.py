"""The front door of the rating engine: marks in, what they say about the coffees out."""

from typing import Literal

from twobowls.errors import InputError
from twobowls.statistics.ratings_columns import RatingColumns, checked_values, gather_columns
from twobowls.statistics.ratings_flat import fit_flat
from twobowls.statistics.ratings_results import RatingFit
from twobowls.statistics.ratings_terms import check_compared, check_terms
from twobowls.statistics.ratings_weak import fit_weak

__all__ = ["RatingColumns", "fit_ratings"]


def fit_ratings(
    columns: RatingColumns,
    *,
    prior: Literal["weak", "flat"] = "weak",
    random: tuple[str, ...] | None = None,
    fixed: tuple[str, ...] | None = None,
    scale: tuple[float, float] = (0.0, 100.0),
    level: float = 0.90,
    placings: bool = False,
) -> RatingFit:
    """Fit a linear mixed model to the marks of one sensation on one scale.

    Parameters
    ----------
    columns : RatingColumns
        The marks, on ``scale``.
    prior : {"weak", "flat"}
        ``weak``: every term's effects are exchangeable with a deviation of its own, whose
        weak prior is given in `ratings_priors`; all deviations are integrated out, and
        intervals and probabilities are those of the posterior. Marks of a taster who scatters
        far more than the others count for less, and what that leaves open widens the
        intervals (`ratings_care`). ``flat``: restricted maximum
        likelihood with fixed effects, as lme4 does it, with Satterthwaite's degrees of
        freedom, as lmerTest does it, and means with equal weights over the other factors.
    random, fixed : tuple of str, or None
        Terms: factors (taster, coffee, round, position, bowl, flight) joined by ``:``. The
        intercept is implied. By default the fixed terms are coffee, round, position and
        flight where they vary. Random terms by default, flat: taster; taster:coffee if
        somebody marked a coffee twice; bowl if a coffee had two bowls. Weak: taster,
        taster:coffee, taster:round, bowl, and coffee:round with the fixed ones, wherever
        the factors are there.
    scale : tuple of float
        Both ends of the scale.
    level : float
        Probability of the intervals.
    placings : bool
        Whether one person's placings of one bowl may hang together over the rounds, as they do
        where the former ones are seen: the weak default terms then have taster:bowl besides,
        wherever a bowl was marked in several rounds. A bowl's placing is not the coffee's, so
        that it is part of no mean.

    Returns
    -------
    RatingFit
        For *people* (tasters are a sample) and for the *table* (these tasters). A bowl's own
        effect is part of neither: hidden repeats teach how much bowls differ.

    Raises
    ------
    InputError
        Marks that are missing, no numbers, off the scale or (flat) all the same; terms that
        cannot be read or cannot be told apart.

    References
    ----------
    Bates, Mächler, Bolker and Walker (2015), Journal of Statistical Software 67(1).
    Kuznetsova, Brockhoff and Christensen (2017), Journal of Statistical Software 82(13).

    Examples
    --------
    >>> columns = RatingColumns(
    ...     y=[62, 41, 70, 55, 66, 38, 74, 50],
    ...     taster=["Ada", "Ada", "Bo", "Bo", "Cy", "Cy", "Di", "Di"],
    ...     coffee=["A", "B"] * 4,
    ... )
    >>> contrast = fit_ratings(columns).people.contrasts[0]
    >>> (contrast.a, contrast.b, contrast.probability > 0.9)
    ('A', 'B', True)
    >>> flat = fit_ratings(columns, prior="flat").people.contrasts[0]
    >>> (round(flat.estimate.mean, 2), round(flat.estimate.se, 2))
    (22.0, 2.74)
    """
    given = columns.factors()
    values = checked_values(columns, scale)
    if not 0.0 < level < 1.0:
        raise InputError("level", f"{level:g} is not between 0 and 1", "Give a share such as 0.9")
    if prior not in ("weak", "flat"):
        raise InputError("prior", f"“{prior}” is not known", "Use “weak” or “flat”")
    check_terms(random or (), "random", tuple(given))
    check_terms(fixed or (), "fixed", tuple(given))
    used = {"taster", "coffee"}
    for names, default in ((random, {"bowl"}), (fixed, {"round", "position", "flight"})):
        used |= default if names is None else {part for name in names for part in name.split(":")}
    cells = gather_columns(columns, values, used)
    check_compared(cells, random, fixed, flat=prior == "flat")
    if prior == "flat":
        return fit_flat(cells, random, fixed, level)
    return fit_weak(cells, random, fixed, scale[1] - scale[0], level, placings=placings)
