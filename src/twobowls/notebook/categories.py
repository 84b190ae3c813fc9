"""``twobowls.categories``: ratings in ordered categories, without assuming their distances."""

from collections.abc import Mapping, Sequence
from typing import Literal

import narwhals as nw
import numpy as np

from twobowls.counting import count_of
from twobowls.debrief.rating_table import Factor
from twobowls.errors import InputError
from twobowls.notebook.asked import Asked, Rows, texts
from twobowls.notebook.cells import labels
from twobowls.notebook.estimates import (
    CONTRAST,
    ESTIMATE,
    contrast_rows,
    estimate_cells,
    interval_words,
)
from twobowls.notebook.names import listed
from twobowls.notebook.pictures import bars_of, intervals_picture
from twobowls.notebook.result import Result, Section
from twobowls.notebook.tables import Table, rows_table
from twobowls.statistics.ordinal import OrdinalFit, fit_ordinal
from twobowls.statistics.ordinal_means import category_contrasts, category_means

_MOST_CATEGORIES = 30
_MOST_TASTES = 1000  # tasters times coffees


def categories(
    frame: object,
    *,
    category: str | None = None,
    coffee: str | None = None,
    taster: str | None = None,
    round: str | None = None,
    fixed: Sequence[str] | None = None,
    random: Sequence[str] | None = None,
    order: Sequence[str] | None = None,
    merge: Mapping[str, str] | None = None,
    link: Literal["probit", "logit"] = "probit",
    thresholds: Literal["flexible", "equidistant"] = "flexible",
    quadrature: int = 1,
    prior: Literal["weak", "flat"] = "weak",
    level: float = 0.90,
) -> Result[OrdinalFit]:
    """Compare coffees by ratings in ordered categories: a nine-point scale, "none" to "strong".

    Parameters
    ----------
    frame : data frame or dict of lists
        One row a rating, of one sensation.
    category : str, optional
        Column of the ratings: whole numbers, ordered categories, or text with ``order``.
    coffee, taster, round : str, optional
        Columns of labels; found by their names when left out.
    fixed : sequence of str, optional
        Columns whose levels are compared; the coffee, and the round where there is one, when
        left out.
    random : sequence of str, optional
        Columns whose levels are a sample, crossed by a colon; the taster, where there is one,
        and ``"taster:coffee"`` where somebody rated a coffee again, when left out.
    order : sequence of str, optional
        All categories, lowest first.
    merge : dict, optional
        Spellings to read as others: ``{"ana": "Ana"}``.
    link, thresholds, quadrature, prior, level
        As in `twobowls.statistics.ordinal.fit_ordinal`.

    Returns
    -------
    Result
        Tables ``levels`` (mean category), ``shares`` (of each category), ``contrasts`` (on
        the latent scale), ``coefficients``, ``spread`` (standard deviations of random terms, and
        with the weak prior of the levels of fixed ones), ``columns``.

    Raises
    ------
    InputError
        When a column is missing or of the wrong kind, the order of the categories is not
        known, or nothing can be fitted.

    Notes
    -----
    Cumulative probit or logit mixed model; sources in
    `twobowls.statistics.ordinal.fit_ordinal`.

    Examples
    --------
    >>> found = categories({
    ...     "rating": [1, 2, 2, 1, 3, 2, 3, 4, 3, 2, 4, 4],
    ...     "coffee": ["Brisa"] * 6 + ["Oro"] * 6,
    ...     "taster": ["Ines", "Tomas", "Wen"] * 4,
    ... })
    >>> levels = found.to_frame("levels")
    >>> levels["level"], [round(mean, 1) for mean in levels["mean"]]
    (['Brisa', 'Oro'], [2.0, 3.1])
    """
    asked = Asked(frame, merge)
    rated, ordered = _rated(asked, category, order)
    known: dict[str, Factor] = {}
    _find_usual(asked, known, ("coffee", coffee), ("taster", taster), ("round", round))
    if fixed is None and "coffee" not in known:
        asked.find("coffee", coffee)  # tells what is missing
    fixed_terms = _terms(asked, known, "fixed", fixed)
    random_terms = _terms(asked, known, "random", random)
    asked.one_of_each()
    used = {part for term in (*fixed_terms, *random_terms) for part in term.split(":")}
    rows = asked.keep({"category": rated}, {name: known[name] for name in sorted(used)})
    if random is None and "taster" in random_terms and _again(known, rows, prior):
        random_terms = (*random_terms, *_tastes(asked, known))
    _check_levels(asked, known, fixed_terms, rated, rows)
    with asked.naming(ratings="category"):
        fit = fit_ordinal(
            texts(rated, rows),
            {term: _joined(known, term, rows) for term in fixed_terms},
            {term: _joined(known, term, rows) for term in random_terms},
            categories=ordered,
            link=link,
            thresholds=thresholds,
            quadrature=quadrature,
            prior=prior,
            level=level,
        )
    return _told(fit, fixed_terms, asked)


def _rated(
    asked: Asked, category: str | None, order: Sequence[str] | None
) -> tuple[Factor, tuple[str, ...]]:
    """Return the ratings as a factor, and its labels from the lowest to the highest."""
    column = asked.find("category", category)
    assert column is not None
    dtype = asked.frame.dtype(column)
    if dtype is not None and dtype.is_numeric():
        rated = _numbered(asked, column)
    else:
        rated = labels(asked.frame, column)
    if order is not None:
        return rated, _given_order(column, rated, order)
    if isinstance(dtype, nw.Enum):
        return rated, tuple(" ".join(str(each).split()) for each in dtype.categories)
    word = next((each for each in rated.labels if not _is_number(each)), None)
    if word is not None and word.strip("+-").casefold() in ("inf", "infinity"):
        raise InputError(column, f"{word!r} is no category", "Correct that rating, or leave it out")
    if word is not None:
        raise InputError(
            column,
            f"{word!r} is not a number, so the order of the categories is not known",
            'Give them lowest first, as order=["none", "some", "strong"]',
        )
    if len(rated.labels) > _MOST_CATEGORIES:
        raise InputError(
            column,
            f"{len(rated.labels)} different values are no categories",
            "For marks on a line use twobowls.ratings",
        )
    return rated, tuple(sorted(rated.labels, key=float))


def _numbered(asked: Asked, column: str) -> Factor:
    """Return numbers as labels, halves too."""
    values = asked.only_numbers(column)
    there = ~np.isnan(values)
    kinds, codes = np.unique(values[there], return_inverse=True)
    coded = np.full(len(values), -1, dtype=np.int32)
    coded[there] = codes
    return Factor(tuple(str(each).removesuffix(".0") for each in kinds.tolist()), coded)


def _given_order(column: str, rated: Factor, order: Sequence[str]) -> tuple[str, ...]:
    given = listed("order", order, 'Give a list, as ["none", "strong"]')
    ordered = tuple(" ".join(str(each).split()) for each in given)
    stray = next((each for each in rated.labels if each not in ordered), None)
    if stray is not None:
        raise InputError(
            column, f"{stray!r} is not in order=", "Correct the rating, or add the category"
        )
    return ordered


def _is_number(label: str) -> bool:
    try:
        return bool(np.isfinite(float(label)))
    except ValueError:
        return False


def _find_usual(asked: Asked, known: dict[str, Factor], *roles: tuple[str, str | None]) -> None:
    for role, stated in roles:
        factor = asked.maybe_labels(role, stated, dates=role == "round")
        if factor is not None:
            known[role] = factor


def _terms(
    asked: Asked, known: dict[str, Factor], field: str, stated: Sequence[str] | None
) -> tuple[str, ...]:
    """Return the terms of one part of the model, reading columns that are not known yet."""
    if stated is None:
        if field == "random":
            return ("taster",) if "taster" in known else ()
        usual = ("coffee", "round")
        return tuple(
            each for each in usual if each in known and (each == "coffee" or _varies(known[each]))
        )
    if isinstance(stated, str):
        stated = [stated]
    terms = tuple(str(each) for each in listed(field, stated, 'Give a list, as ["coffee"]'))
    for term in terms:
        for part in term.split(":"):
            if part in known:
                continue
            owner = next((role for role, name in asked.used.items() if name == part), None)
            if owner in known:
                known[part] = known[owner]
            else:
                known[part] = asked.labels(part, part, dates=True)
    return terms


def _check_levels(
    asked: Asked, known: dict[str, Factor], fixed: Sequence[str], rated: Factor, rows: Rows
) -> None:
    """Refuse what cannot be compared, and caution of names that are nearly the same."""
    here = {name: factor.take(rows) for name, factor in known.items()}
    for term in fixed:
        if term in here and len(here[term].labels) == 1:
            name = asked.used.get(term, term)
            only = here[term].labels[0]
            raise InputError(name, f"there is only {only!r}", "Give two or more, or leave it out")
    given = rated.take(rows).labels
    if len(given) == 1:
        column = asked.used["category"]
        raise InputError(
            column, f"every rating is {given[0]!r}", "Without a second category nothing can be told"
        )
    for name, other in (("taster", "coffee"), ("coffee", "taster")):
        if name in here:
            asked.spellings(name, here[name], here[other].codes if other in here else None)


def _varies(factor: Factor) -> bool:
    return len(factor.labels) > 1


def _tastes(asked: Asked, known: dict[str, Factor]) -> tuple[str, ...]:
    """Let tasters have tastes of their own where that can be fitted while one waits."""
    tasters = len(known["taster"].labels)
    if tasters * len(known["coffee"].labels) <= _MOST_TASTES:
        return ("taster:coffee",)
    asked.cautions.append(
        f"With {tasters:,} tasters their tastes are not told apart from slips; "
        'random=["taster", "taster:coffee"] does it, and takes its time.'
    )
    return ()


def _again(known: dict[str, Factor], rows: Rows, prior: str) -> bool:
    """Tell whether somebody rated a coffee again: then tastes can be told from slips."""
    if prior != "weak" or not {"taster", "coffee"} <= set(known):
        return False
    coffee, taster = (known[name].codes[rows].astype(np.int64) for name in ("coffee", "taster"))
    cells = taster * (len(known["coffee"].labels) + 1) + coffee
    return len(np.unique(cells)) < len(cells)


def _joined(known: dict[str, Factor], term: str, rows: Rows) -> list[str]:
    """Return the levels of a term; names with a colon are quoted where several are joined."""
    parts = [texts(known[name], rows) for name in term.split(":")]
    if len(parts) == 1:
        return parts[0]
    told = [[repr(each) if ":" in each else each for each in part] for part in parts]
    return [":".join(row) for row in zip(*told, strict=True)]


def _told(fit: OrdinalFit, fixed: Sequence[str], asked: Asked) -> Result[OrdinalFit]:
    means = [(term, each) for term in fixed for each in category_means(fit, term)]
    levels = rows_table(
        "levels",
        "Mean category, for people like these",
        ("factor", "level", *ESTIMATE),
        [(term, each.level, *estimate_cells(each.score)) for term, each in means],
        dict.fromkeys(ESTIMATE, 2),
    )
    shares = rows_table(
        "shares",
        "Share of each category",
        ("factor", "level", "category", *ESTIMATE),
        [
            (term, each.level, category, *estimate_cells(share))
            for term, each in means
            for category, share in each.shares.items()
        ],
        dict.fromkeys(ESTIMATE, "share"),
    )
    contrasts = rows_table(
        "contrasts",
        "Pairs, on the latent scale",
        ("factor", *CONTRAST),
        [(term, *row) for term in fixed for row in contrast_rows(category_contrasts(fit, term))],
        {"probability": 3},
    )
    first = [row for row in levels.rows() if row[0] == fixed[0]]
    ranked = sorted(first, key=lambda row: -row[2])
    kinds = len(fit.categories)
    shown = Section(
        sentences=_sentences(contrasts),
        notes=(
            f"{count_of(fit.ratings, 'rating')} in {kinds} categories; cumulative {fit.link}, "
            f"{fit.prior} prior; {interval_words(fit.level)}.",
        ),
        picture=intervals_picture(bars_of(ranked, 1, 2, 4), "Mean category"),
        tables=(levels,),
        folded=(contrasts, shares, _coefficients(fit), _spread(fit), asked.columns_table()),
    )
    return Result(
        title=f"Category ratings: {', '.join(fixed) or 'no factor'}",
        result=fit,
        sections=(shown,),
        tables=(levels, shares, contrasts, _coefficients(fit), _spread(fit), asked.columns_table()),
        cautions=(
            *asked.cautions,
            *(each for each in fit.cautions if "are they one?" not in each),  # told already
        ),
        backend=asked.frame.backend,
    )


def _sentences(contrasts: Table) -> tuple[str, ...]:
    c = contrasts.columns
    said = [
        f"{a} is rated higher than {b}. {word.capitalize()}."
        for a, b, word in zip(c["a"], c["b"], c["evidence"], strict=True)
        if word != "cannot tell"
    ]
    return tuple(said[:8]) or ("No difference can be claimed.",)


def _coefficients(fit: OrdinalFit) -> Table:
    rows = []
    for name, value in fit.coefficients.items():
        low, high = fit.interval(name).interval
        rows.append((name, float(value), float(fit.standard_errors[name]), float(low), float(high)))
    return rows_table("coefficients", "Coefficients", ("name", *ESTIMATE), rows)


def _spread(fit: OrdinalFit) -> Table:
    rows = [
        (name, "random", float(sd), float(fit.random_sd_error[name]))
        for name, sd in fit.random_sd.items()
    ]
    rows += [
        (name, "fixed", float(each.mean), float(each.se)) for name, each in fit.spreads.items()
    ]
    return rows_table(
        "spread", "Standard deviations on the latent scale", ("term", "kind", "sd", "se"), rows
    )
