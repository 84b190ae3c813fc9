"""``twobowls.ranks``: do tasters order the coffees alike."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from twobowls.counting import count_of
from twobowls.debrief.rating_table import Values
from twobowls.errors import InputError
from twobowls.interchange.ratings_columns import near
from twobowls.notebook.asked import Asked, pivot, refuse_doubles
from twobowls.notebook.chance import Rng, generator
from twobowls.notebook.names import listed
from twobowls.notebook.pictures import Bar, intervals_picture
from twobowls.notebook.result import Picture, Result, Section
from twobowls.notebook.tables import Places, Table, rows_table, show
from twobowls.statistics.incomplete_ranks import IncompleteRankTest, incomplete_rank_test
from twobowls.statistics.rank_trend import PageTest, page_test
from twobowls.statistics.ranks import FriedmanTest, RankContrasts, friedman_test, rank_contrasts


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranks:
    """What the ranks allow to be tested; None where it does not apply.

    ``friedman`` and ``contrasts`` need every taster to have ranked every coffee, ``incomplete``
    is for tables with gaps, ``page`` needs a predicted order.
    """

    friedman: FriedmanTest | None
    contrasts: RankContrasts | None
    incomplete: IncompleteRankTest | None
    page: PageTest | None


def ranks(
    frame: object,
    *,
    rank: str | None = None,
    coffee: str | None = None,
    taster: str | None = None,
    predicted: Sequence[str] | None = None,
    merge: Mapping[str, str] | None = None,
    alpha: float = 0.05,
    rng: Rng = None,
) -> Result[Ranks]:
    """Test whether tasters order the coffees alike, and compare rank sums.

    Parameters
    ----------
    frame : data frame or dict of lists
        One row a taster and coffee, of one sensation.
    rank : str, optional
        Column of ranks or scores; 1 is the lowest. Each taster's are ranked anew, ties get
        the mean rank.
    coffee, taster : str, optional
        Columns of labels; found by their names when left out.
    predicted : sequence of str, optional
        The coffees from the lowest to the highest, as known beforehand (Page's test).
    merge : dict, optional
        Spellings to read as others: ``{"ana": "Ana"}``.
    alpha : float
        Risk of telling a difference where there is none; two-sided for pairs.
    rng : numpy.random.Generator or int, optional
        For shuffled p-values of large tables; the same every time when left out.

    Returns
    -------
    Result
        Tables ``coffees`` (rank sums), ``contrasts``, ``tests``, ``columns``.

    Raises
    ------
    InputError
        When a column is missing, a taster ranked a coffee twice, or nobody told any two
        coffees apart.

    Notes
    -----
    ISO 8587 practice: Friedman's test first, then rank sums. Tables with gaps get the test of
    Skillings and Mack. Sources in `twobowls.statistics.ranks`.

    Examples
    --------
    >>> found = ranks({
    ...     "taster": ["Ana"] * 3 + ["Ben"] * 3 + ["Ciro"] * 3 + ["Dora"] * 3,
    ...     "coffee": ["Brisa", "Niebla", "Oro"] * 4,
    ...     "rank": [1, 2, 3, 1, 3, 2, 1, 2, 3, 2, 1, 3],
    ... })
    >>> found.to_frame()["rank_sum"], round(found.result.friedman.p_value, 3)
    ([11.0, 8.0, 5.0], 0.125)
    """
    asked = Asked(frame, merge)
    values = asked.numbers("rank", rank)
    coffees, tasters = asked.labels("coffee", coffee), asked.labels("taster", taster)
    asked.one_of_each()
    rows = asked.keep({"rank": values}, {"coffee": coffees, "taster": tasters})
    refuse_doubles("taster", tasters, "coffee", coffees, rows)
    coffees, tasters, values = coffees.take(rows), tasters.take(rows), values[rows]
    asked.spellings("taster", tasters, coffees.codes)
    asked.spellings("coffee", coffees, tasters.codes)
    if len(coffees.labels) < 2:
        raise InputError(asked.used["coffee"], "there is one coffee only", "Give two or more")
    table = pivot(tasters, coffees, values, np.ones(len(values), dtype=bool))
    order = _predicted(predicted, coffees.labels)
    with asked.naming(table="rank"):
        found = _tested(table, order, alpha, rng)
    return _told(found, table, coffees.labels, asked, alpha)


def _tested(table: Values, order: Values | None, alpha: float, rng: Rng) -> Ranks:
    chance = generator(rng)
    if np.isnan(table).any():
        if order is not None:
            raise InputError(
                "predicted",
                "some tasters did not rank every coffee",
                "Leave them out for this test",
            )
        incomplete = incomplete_rank_test(table, rng=chance)
        return Ranks(friedman=None, contrasts=None, incomplete=incomplete, page=None)
    return Ranks(
        friedman=friedman_test(table, rng=chance),
        contrasts=rank_contrasts(table, alpha=alpha),
        incomplete=None,
        page=None if order is None else page_test(table, order),
    )


def _predicted(order: Sequence[str] | None, coffees: Sequence[str]) -> Values | None:
    if order is None:
        return None
    named = [str(each) for each in listed("predicted", order, 'Give a list, as ["Oro", "Brisa"]')]
    for each in named:
        if each not in coffees:
            raise InputError("predicted", f"there is no coffee {each!r}", near(each, coffees))
    if sorted(named) != sorted(coffees):
        raise InputError(
            "predicted", "not every coffee is in it once", f"Order all of {', '.join(coffees)}"
        )
    return np.array([float(named.index(each)) for each in coffees])


def _sentences(found: Ranks, alpha: float) -> tuple[str, ...]:
    p_value = found.friedman.p_value if found.friedman else _incomplete_p(found)
    alike = (
        "The tasters order the coffees alike" if p_value < alpha else "No common order can be told"
    )
    said = [f"{alike} (p = {show(p_value, 'p')})."]
    if found.friedman is not None:
        said.append(f"Kendall's W, from 0 to 1: {found.friedman.concordance:.2f}.")
    if found.page is not None:
        follow = "They follow" if found.page.p_value < alpha else "They are not shown to follow"
        said.append(f"{follow} the predicted order (p = {show(found.page.p_value, 'p')}).")
    return tuple(said)


def _notes(found: Ranks, alpha: float) -> tuple[str, ...]:
    if found.contrasts is None:
        return ()
    return (
        "Two coffees whose bars do not overlap differ, looked at by themselves (least significant "
        f"difference of rank sums {found.contrasts.least_difference:.1f}, risk {alpha:g}).",
    )


def _picture(sums: Table, found: Ranks) -> Picture | None:
    """Draw rank sums with bars of half the least significant difference each way."""
    if found.contrasts is None:
        return None
    half = found.contrasts.least_difference / 2
    ranked = zip(sums.columns["coffee"], sums.columns["rank_sum"], strict=True)
    bars = [Bar(name, total, total - half, total + half) for name, total in ranked]
    return intervals_picture(bars, "Rank sum")


def _told(
    found: Ranks, table: Values, coffees: Sequence[str], asked: Asked, alpha: float
) -> Result[Ranks]:
    sums, contrasts = _sums(found, table, coffees), _contrasts(found, coffees)
    tests, columns = _tests(found), asked.columns_table()
    shown = Section(
        sentences=_sentences(found, alpha),
        notes=_notes(found, alpha),
        picture=_picture(sums, found),
        tables=(sums, contrasts) if found.contrasts else (sums,),
        folded=(tests, columns),
    )
    return Result(
        title=f"Ranks: {count_of(len(coffees), 'coffee')}, {count_of(len(table), 'taster')}",
        result=found,
        sections=(shown,),
        tables=(sums, contrasts, tests, columns),
        cautions=(*asked.cautions, *(found.friedman.cautions if found.friedman else ())),
        backend=asked.frame.backend,
    )


def _incomplete_p(found: Ranks) -> float:
    test = found.incomplete
    assert test is not None
    return test.p_value if test.p_shuffled is None else test.p_shuffled


def _sums(found: Ranks, table: Values, coffees: Sequence[str]) -> Table:
    ranked = (~np.isnan(table)).sum(axis=0).tolist()
    if found.friedman is not None:
        rows = list(zip(coffees, found.friedman.rank_sums, ranked, strict=True))
        rows.sort(key=lambda row: -row[1])
        told = [(name, tasters, float(total), total / tasters) for name, total, tasters in rows]
        header = ("coffee", "tasters", "rank_sum", "mean_rank")
        return rows_table("coffees", "Rank sums", header, told, {"rank_sum": 1, "mean_rank": 2})
    assert found.incomplete is not None
    scores = zip(coffees, ranked, map(float, found.incomplete.standardised), strict=True)
    return rows_table(
        "coffees",
        "Standardised rank scores",
        ("coffee", "tasters", "score"),
        sorted(scores, key=lambda row: -row[2]),
        {"score": 2},
    )


def _contrasts(found: Ranks, coffees: Sequence[str]) -> Table:
    header = ("a", "b", "difference", "p_value", "p_holm", "p_range")
    rows = []
    for each in found.contrasts.contrasts if found.contrasts else ():
        up = each.difference >= 0
        names = (coffees[each.a], coffees[each.b]) if up else (coffees[each.b], coffees[each.a])
        rows.append((*names, abs(each.difference), each.p_value, each.p_holm, each.p_range))
    places: dict[str, Places] = {"difference": 1, "p_value": "p", "p_holm": "p", "p_range": "p"}
    return rows_table("contrasts", "Pairs by rank sum", header, rows, places)


def _tests(found: Ranks) -> Table:
    rows: list[tuple[object, ...]] = []
    if found.friedman is not None:
        test = found.friedman
        rows += [
            ("Friedman, chi-squared", test.statistic, test.df, test.p_chi_squared),
            (f"Friedman, {test.how}", test.statistic, test.df, test.p_value),
            ("Iman-Davenport F", test.f, test.f_df[0], test.p_f),
        ]
    if found.incomplete is not None:
        gaps = found.incomplete
        rows.append(("Skillings-Mack, chi-squared", gaps.statistic, gaps.df, gaps.p_value))
        if gaps.p_shuffled is not None:
            rows.append(("Skillings-Mack, shuffled", gaps.statistic, gaps.df, gaps.p_shuffled))
    if found.page is not None:
        rows.append((f"Page's L, {found.page.how}", found.page.statistic, None, found.page.p_value))
    header = ("test", "statistic", "df", "p_value")
    return rows_table("tests", "Tests", header, rows, {"p_value": "p", "statistic": 2})
