"""Picks that cannot be counted or fitted, and what is said beside those that can."""

import re
from typing import Any

import numpy as np
import pytest
from tests.statistics.picks_values import (
    citations,
)

from twobowls.errors import InputError
from twobowls.statistics.picks import (
    PicksPrior,
    count_picks,
    fit_picks,
    tabulate_picks,
)

BAD: list[tuple[dict[str, Any], str]] = [
    ({"dependence": "pairs"}, "dependence: 'pairs' is not known. Choose one of independent, "),
    ({"ties": "drop"}, "ties: 'drop' is not known. Choose one of davidson, half."),
    ({"prior": "strong"}, "prior: 'strong' is not known. Choose one of weak, flat."),
    ({"level": 0}, "level: 0 is out of range. Give a number between 0 and 1."),
    (
        {"dependence": "tasters"},
        "dependence: It is not known who picked, or one taster made all picks. "
        'Name the tasters when counting, or use "independent" or "spread".',
    ),
]


@pytest.mark.parametrize(("options", "message"), BAD)
def test_options_that_cannot_be_used_are_refused(options: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=f"^{re.escape(message)}"):
        fit_picks(citations(), **options)


def test_deviations_of_tasters_need_a_prior() -> None:
    table = count_picks(["A", "A"], ["B", "B"], ["A", "B"], ["t", "u"])
    with pytest.raises(InputError, match='need prior="weak"'):
        fit_picks(table, dependence="tasters", prior="flat")


def test_without_a_chain_of_picks_there_is_no_flat_fit() -> None:
    table = tabulate_picks(["A", "A", "B"], ["B", "C", "C"], [3, 3, 2], [0, 0, 1])
    with pytest.raises(InputError, match='No chain of picks puts "B" over "A"'):
        fit_picks(table, prior="flat")


def test_an_order_that_never_changed_has_no_flat_fit() -> None:
    table = tabulate_picks(["A", "B"], ["B", "C"], [3, 5], [2, 4])
    message = "order: What being put first adds cannot be told from the coffees"
    with pytest.raises(InputError, match=message):
        fit_picks(table, order=True, prior="flat")
    weak = fit_picks(table, order=True)
    assert weak.order is not None
    assert np.isfinite(weak.order.mean)
    turned = tabulate_picks(["A", "B", "C"], ["B", "C", "A"], [3, 5, 2], [2, 4, 3])
    assert np.isfinite(fit_picks(turned, order=True, prior="flat").abilities[0].estimate.mean)


def test_ties_make_a_chain() -> None:
    table = tabulate_picks(["A", "A", "B"], ["B", "C", "C"], [3, 3, 2], [0, 0, 1], [1, 0, 0])
    assert np.isfinite(fit_picks(table, prior="flat").abilities[0].estimate.mean)


COLUMNS = {"a": ["A", "A"], "b": ["B", "C"], "answer": ["A", "same"]}


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"b": ["B"]}, "b: 1 entry for 2 answers. Give one entry for every pick."),
        (
            {"answer": ["A", "B"]},
            'answer: pick 2 is of "A" and "C", and "B" is neither. Give one of the two, or "same".',
        ),
        ({"a": ["A", "C"]}, 'picks: row 2 sets "C" against itself. Leave that row out.'),
        (
            {"a": ["A", " "], "b": ["B", "C"]},
            "picks: A coffee has no name. Name it, or leave the pick out.",
        ),
        (
            {"a": ["A", None], "answer": ["A", "C"]},
            "picks: A coffee has no name. Name it, or leave the pick out.",
        ),
        (
            {"a": ["A", float("nan")], "answer": ["A", "C"]},
            "picks: A coffee has no name. Name it, or leave the pick out.",
        ),
        (
            {"tasters": ["t", None]},
            "picks: A taster has no name. Name it, or leave the pick out.",
        ),
        (
            {"a": ["A", "same"]},
            'picks: A coffee is called "same", which means a tie. Give it another name.',
        ),
        (
            {"tasters": ["t"]},
            "tasters: 1 entry for 2 answers. Give one entry for every pick.",
        ),
        ({"a": [], "b": [], "answer": []}, "picks: There is not one pick. Give at least one."),
    ],
)
def test_picks_that_cannot_be_counted_are_refused(changed: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        count_picks(**(COLUMNS | changed))


@pytest.mark.parametrize(
    ("counts", "message"),
    [
        ({"for_b": [1.5]}, "for_b: 1.5 is not a count. Give whole numbers of zero or more."),
        (
            {"for_a": [float("nan")]},
            "for_a: entry 1 is missing or not finite. Fill the gap or leave the row out.",
        ),
        ({"for_a": [-1]}, "for_a: -1 is not a count. Give whole numbers of zero or more."),
        ({"for_a": [0], "for_b": [0]}, "picks: There is not one pick. Give at least one."),
        ({"tasters": []}, "tasters: no entries for 1 row. Name one taster a row."),
    ],
)
def test_counts_that_are_none_are_refused(counts: dict[str, Any], message: str) -> None:
    given: dict[str, Any] = {"a": ["A"], "b": ["B"], "for_a": [1], "for_b": [2]}
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        tabulate_picks(**(given | counts))


def test_a_prior_needs_positive_widths() -> None:
    with pytest.raises(InputError, match=r"prior: tie_sd is nan. Give a number above zero"):
        PicksPrior(tie_sd=float("nan"))


def test_rows_without_a_pick_and_their_tasters_are_left_out() -> None:
    table = tabulate_picks(["A", "A"], ["B", "B"], [2, 0], [1, 0], None, ["t", "u"])
    assert table.tasters == ("t",)
    assert table.picks == 3


def test_one_pick_says_little_and_that_it_came_from_the_prior() -> None:
    fit = fit_picks(count_picks(["A"], ["B"], ["A"]))
    low, high = fit.contrasts[0].estimate.interval
    assert low < 0.0 < high
    assert fit.contrasts[0].probability < 0.95
    assert '"A" was always picked: how far it stands out comes from the prior.' in fit.cautions


def test_only_ties_leave_the_coffees_together() -> None:
    table = count_picks(["A", "B", "A"], ["B", "C", "C"], ["same"] * 3)
    fit = fit_picks(table)
    np.testing.assert_allclose([each.estimate.mean for each in fit.abilities], 0.0, atol=1e-9)
    assert fit.tie is not None
    assert fit.tie.mean > 0.0
    with pytest.raises(InputError, match="Every pick is a tie, so that ties are infinitely likely"):
        fit_picks(table, prior="flat")


@pytest.mark.parametrize("other", ["brisa", "Bri sa", "Brisá"])
def test_two_spellings_of_one_coffee_or_taster_are_pointed_out(other: str) -> None:
    table = tabulate_picks(["Brisa", other], ["Oro", "Oro"], [3, 2], [1, 1], None, ["Wen", "wen"])
    said = fit_picks(table).cautions
    one, two = sorted(["Brisa", other])
    assert f'"{one}" and "{two}" are counted as two coffees; are they one?' in said
    assert '"Wen" and "wen" are counted as two tasters; are they one?' in said
