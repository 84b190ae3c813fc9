"""``twobowls.picks``: which of two coffees, again and again."""

from collections.abc import Mapping, Sequence
from typing import Literal

import numpy as np

from twobowls.counting import count_of
from twobowls.debrief.phrases import signed
from twobowls.debrief.rating_table import Factor
from twobowls.errors import InputError
from twobowls.notebook.asked import Asked, texts
from twobowls.notebook.estimates import (
    CONTRAST,
    ESTIMATE,
    contrast_rows,
    estimate_cells,
    interval_words,
)
from twobowls.notebook.pictures import bars_of, intervals_picture
from twobowls.notebook.result import Result, Section
from twobowls.notebook.tables import Table, rows_table
from twobowls.statistics.inputs import one_of
from twobowls.statistics.picks import fit_picks
from twobowls.statistics.picks_results import Dependence, PicksFit
from twobowls.statistics.picks_table import SAME, PickTable, count_picks, tabulate_picks

_MOST_TASTES = 600  # tasters times coffees


def picks(
    frame: object,
    *,
    a: str | None = None,
    b: str | None = None,
    answer: str | None = None,
    for_a: str | None = None,
    for_b: str | None = None,
    same: str | None = None,
    taster: str | None = None,
    merge: Mapping[str, str] | None = None,
    ties: Literal["davidson", "half"] = "davidson",
    first_bowl: bool = False,
    dependence: Dependence | None = None,
    prior: Literal["weak", "flat"] = "weak",
    level: float = 0.90,
) -> Result[PicksFit]:
    """Rank coffees by paired picks, with intervals.

    Parameters
    ----------
    frame : data frame or dict of lists
        One row a pick (with ``answer``) or one row a pair (with ``for_a`` and ``for_b``), of
        one sensation and one question.
    a, b : str, optional
        Columns of the two coffees.
    answer : str, optional
        Column of the coffee that was picked, or ``"same"``.
    for_a, for_b, same : str, optional
        Columns of counts.
    taster : str, optional
        Column that says who picked; found by its name where there is one.
    merge : dict, optional
        Spellings to read as others: ``{"oro": "Oro"}``.
    dependence : {"tasters", "independent", "spread"}, optional
        What is assumed of picks by one taster. When left out: ``"tasters"`` where several are
        known and the prior is weak, ``"spread"`` where it is flat or they are very many,
        ``"independent"`` where nobody is named.
    first_bowl : bool
        Whether being the first of the two (``a``) may help or harm a coffee; it is then
        estimated, and told.
    ties, prior, level
        As in `twobowls.statistics.picks.fit_picks`.

    Returns
    -------
    Result
        Tables ``coffees`` (log-odds above the middle), ``contrasts``, ``terms`` (in log-odds:
        how often bowls are called the same, what being the first adds, how far tastes of one's
        own spread; those that were fitted), ``columns``.

    Raises
    ------
    InputError
        When a column is missing, an answer is neither coffee, or (flat prior) no finite
        answer exists.

    Notes
    -----
    Bradley-Terry model with Davidson's ties; sources in `twobowls.statistics.picks.fit_picks`.

    Examples
    --------
    >>> found = picks({
    ...     "a": ["Oro", "Oro", "Oro", "Brisa"],
    ...     "b": ["Brisa", "Niebla", "Brisa", "Niebla"],
    ...     "answer": ["Oro", "Oro", "same", "Brisa"],
    ... })
    >>> found.to_frame()["coffee"]
    ['Oro', 'Brisa', 'Niebla']
    """
    asked = Asked(frame, merge)
    one, two = asked.labels("a", a), asked.labels("b", b)
    who = asked.maybe_labels("taster", taster)
    counted = (
        for_a is not None
        or for_b is not None
        or (answer is None and {"for_a", "for_b"} <= set(asked.frame.columns))
    )
    if counted:
        columns = {"for_a": asked.numbers("for_a", for_a), "for_b": asked.numbers("for_b", for_b)}
        tied = asked.maybe_numbers("same", same)
        _one_question(asked)
        rows = asked.keep(columns, {"a": one, "b": two, "taster": who})
        table = tabulate_picks(
            texts(one, rows),
            texts(two, rows),
            columns["for_a"][rows],
            columns["for_b"][rows],
            None if tied is None else np.nan_to_num(tied[rows]),
            None if who is None else texts(who, rows),
        )
    else:
        said = asked.labels("answer", answer)
        _one_question(asked)
        rows = asked.keep({"answer": said}, {"a": one, "b": two, "taster": who})
        names = (texts(one, rows), texts(two, rows), texts(said, rows))
        _check_answers(asked, np.flatnonzero(rows).tolist(), *names)
        table = count_picks(*names, None if who is None else texts(who, rows))
    if who is not None:
        asked.spellings("taster", who.take(rows))
    asked.spellings("coffee", Factor.of([*texts(one, rows), *texts(two, rows)]))
    one_of("prior", prior, ("weak", "flat"))
    if not isinstance(first_bowl, bool):
        raise InputError(
            "first_bowl", f"{first_bowl!r} is neither True nor False", "Give one of them"
        )
    fit = fit_picks(
        table,
        ties=ties,
        order=first_bowl,
        dependence=dependence or _usual(table, prior, asked),
        prior=prior,
        level=level,
    )
    return _told(fit, asked)


def _usual(table: PickTable, prior: str, asked: Asked) -> Dependence:
    """Let tasters have tastes of their own where that can be fitted while one waits."""
    if len(table.tasters) < 2:
        return "independent"
    if prior == "weak" and len(table.tasters) * len(table.coffees) <= _MOST_TASTES:
        return "tasters"
    if prior == "weak":
        asked.cautions.append(
            f"With {len(table.tasters):,} tasters the picks of one taster are allowed for by wider "
            'errors only; dependence="tasters" fits tastes of their own, and takes its time.'
        )
    return "spread"


def _one_question(asked: Asked) -> None:
    asked.one_of_each("sensation")
    asked.one_of_each("question")


def _check_answers(
    asked: Asked, rows: Sequence[int], one: list[str], two: list[str], said: list[str]
) -> None:
    for row, a, b, answer in zip(rows, one, two, said, strict=True):
        if a == b:
            raise InputError(
                asked.used["b"], f"{a!r} is set against itself", "Leave that row out", row
            )
        if answer not in (a, b, SAME):
            raise InputError(
                asked.used["answer"],
                f"{answer!r} is neither {a!r} nor {b!r}",
                f"Give one of the two, or {SAME!r}",
                row,
            )


def _told(fit: PicksFit, asked: Asked) -> Result[PicksFit]:
    ranked = sorted(fit.abilities, key=lambda each: -each.estimate.mean)
    coffees = rows_table(
        "coffees",
        "Log-odds of being picked, above the middle of the coffees",
        ("coffee", *ESTIMATE),
        [(each.level, *estimate_cells(each.estimate)) for each in ranked],
        dict.fromkeys(ESTIMATE, 2),
    )
    contrasts = rows_table(
        "contrasts", "Pairs", CONTRAST, contrast_rows(fit.contrasts), {"probability": 3}
    )
    terms = _terms(fit)
    shown = Section(
        sentences=_sentences(fit),
        notes=(
            f"{count_of(fit.picks, 'pick')}; {fit.prior} prior; dependence: {fit.dependence}; "
            f"{interval_words(fit.level)}.",
            *_first_bowl(fit),
        ),
        picture=intervals_picture(
            bars_of(coffees.rows(), 0, 1, 3), "Log-odds of being picked", neutral=0.0
        ),
        tables=(coffees,),
        folded=(contrasts, terms, asked.columns_table()),
    )
    return Result(
        title=f"Picks: {count_of(len(fit.coffees), 'coffee')}",
        result=fit,
        sections=(shown,),
        tables=(coffees, contrasts, terms, asked.columns_table()),
        cautions=(*asked.cautions, *fit.cautions),
        backend=asked.frame.backend,
    )


def _terms(fit: PicksFit) -> Table:
    """Return what else was fitted: ties, the first bowl, tastes of one's own."""
    known = {"same": fit.tie, "first bowl": fit.order, "taster:coffee (sd)": fit.spread}
    rows = [(name, *estimate_cells(each)) for name, each in known.items() if each is not None]
    caption = "What else was fitted, in log-odds"
    return rows_table("terms", caption, ("term", *ESTIMATE), rows, dict.fromkeys(ESTIMATE, 2))


def _first_bowl(fit: PicksFit) -> tuple[str, ...]:
    if fit.order is None:
        return ()
    mean, (low, high) = fit.order.mean, fit.order.interval
    told = f"{signed(mean, 2)} ({signed(low, 2)} to {signed(high, 2)})"
    return (f"Being the first of the two adds to the log-odds of being picked: {told}.",)


def _sentences(fit: PicksFit) -> tuple[str, ...]:
    said = [
        f"{row[0]} is picked over {row[1]}. {row[-1].capitalize()}."
        for row in sorted(contrast_rows(fit.contrasts), key=lambda row: -row[-2])
        if row[-1] != "cannot tell"
    ]
    return tuple(said[:8]) or ("No difference can be claimed.",)
