"""What the category model says to input it cannot use."""

import re
from collections.abc import Iterable
from typing import Any

import numpy as np
import pytest

from twobowls.errors import InputError
from twobowls.statistics.ordinal import OrdinalPrior, cross_labels, fit_ordinal

RATINGS = [1, 2, 2, 1, 3, 2, 3, 4, 3, 2, 4, 4]
COFFEE = ["A"] * 6 + ["B"] * 6
TASTER = ["Ines", "Tomas", "Wen"] * 4

BAD: list[tuple[dict[str, Any], str]] = [
    ({"ratings": []}, "ratings: There is not one rating. Give at least one."),
    (
        {"ratings": [*RATINGS[:-1], float("nan")]},
        "ratings: entry 12 is missing. Leave that rating out, or name it.",
    ),
    (
        {"ratings": [*RATINGS[:-1], float("-inf")]},
        "ratings: entry 12 is -inf, which is no category. Correct that rating, or leave it out.",
    ),
    (
        {"ratings": np.array([1.0, np.inf, *RATINGS[2:]])},
        "ratings: entry 2 is inf, which is no category. Correct that rating, or leave it out.",
    ),
    (
        {"ratings": ["low", "high"] * 6},
        'ratings: "low" is not a number, so the order of the categories is not known. '
        "Give categories, lowest first.",
    ),
    (
        {"categories": ["1", "2", "3"]},
        'ratings: "4" is not one of the categories 1, 2, 3. '
        "Correct the rating, or add the category.",
    ),
    (
        {"categories": ["1", "2", "3", "4", "4"]},
        'categories: "4" is there twice. Name each category once.',
    ),
    (
        {"ratings": [*RATINGS[:-1], None]},
        "ratings: entry 12 is missing. Leave that rating out, or name it.",
    ),
    (
        {"ratings": np.ones((12, 2), dtype=int)},
        "ratings: It is not one column. Give one entry for every rating.",
    ),
    (
        {"ratings": "122132343244"},
        "ratings: It is one text, not a column. Give one entry for every rating.",
    ),
    (
        {"random": {"taster": [*TASTER[:-1], "  "]}},
        "random taster: entry 12 is missing. Leave that rating out, or name it.",
    ),
    (
        {"random": {"taster": [*range(11), np.nan]}},
        "random taster: entry 12 is missing. Leave that rating out, or name it.",
    ),
    (
        {"ratings": [3] * 12},
        "ratings: Only 3 was given. At least 2 categories are needed to compare anything.",
    ),
    (
        {"ratings": [1, 2] * 6, "thresholds": "equidistant", "prior": "flat"},
        "ratings: Only 1, 2 were given. At least 3 categories are needed to compare anything.",
    ),
    (
        {"fixed": {"coffee": COFFEE[:-1]}},
        "fixed coffee: 11 entries for 12 ratings. Give one entry for every rating.",
    ),
    (
        {"fixed": {"coffee": [*COFFEE[:-1], ""]}},
        "fixed coffee: entry 12 is missing. Leave that rating out, or name it.",
    ),
    (
        {"fixed": {"coffee": ["A"] * 12}},
        'fixed coffee: There is only one level, "A". Give at least two, or leave the factor out.',
    ),
    (
        {"random": {"taster": ["Ines"] * 12}, "prior": "flat"},
        'random taster: There is only one level, "Ines". '
        "Give at least two, or leave the factor out.",
    ),
    (
        {"fixed": {"coffee": COFFEE, "roast": COFFEE}},
        'fixed: The effect "roast=B" cannot be told apart from the effects before it. '
        "Leave out one of the columns that say the same thing.",
    ),
    (
        {"reference": {"coffee": "C"}},
        'reference: "C" is not a level of coffee (A, B). Name a level that is in the data.',
    ),
    (
        {"reference": {"roast": "A"}},
        'reference: "roast" is not a factor of fixed. Choose from coffee.',
    ),
    ({"X": {"age": [1.0] * 12}}, "X age: Every entry is the same. Leave the column out."),
    (
        {"X": {"age": [*range(11), np.inf]}},
        "X age: entry 12 is not a finite number. Leave that rating out.",
    ),
    ({"X": {"age": ["old"] * 12}}, "X age: Not every entry is a number. Give numbers only."),
    (
        {"X": {"age": np.ones((12, 2))}},
        "X age: It is not one column of numbers. Give one number a rating.",
    ),
    (
        {"fixed": {f"f{each}": COFFEE for each in range(15)}},
        "fixed: 15 factors are too many to average over how far each spreads. "
        'Keep 14 at most, or use prior="flat".',
    ),
    ({"link": "cloglog"}, "link: 'cloglog' is not known. Choose one of probit, logit."),
    (
        {"thresholds": "even"},
        "thresholds: 'even' is not known. Choose one of flexible, equidistant.",
    ),
    (
        {"quadrature": 7, "random": {}},
        "quadrature: 7 nodes need exactly one random factor, and there are 0. "
        "Use 1 (Laplace), or keep one random factor.",
    ),
    ({"prior": "strong"}, 'prior: "strong" is not known. Choose "weak" or "flat".'),
    ({"level": 1.0}, "level: 1 is out of range. Give a number between 0 and 1."),
    (
        {"ratings": [1] * 6 + [2] * 6, "random": {}, "prior": "flat"},
        'ratings: They are so well separated that "coffee=B" has no finite estimate. '
        'Use prior="weak", which gives finite answers with honest errors.',
    ),
]


@pytest.mark.parametrize(("changed", "message"), BAD)
def test_bad_input_names_the_field_and_the_cure(changed: dict[str, Any], message: str) -> None:
    given: dict[str, Any] = {
        "ratings": RATINGS,
        "fixed": {"coffee": COFFEE},
        "random": {"taster": TASTER},
    }
    with pytest.raises(InputError, match=f"^{re.escape(message)}$"):
        fit_ordinal(**(given | changed))


def test_columns_of_different_length_cannot_be_crossed() -> None:
    with pytest.raises(InputError, match="columns: They are not equally long"):
        cross_labels(COFFEE, TASTER[:3])


def test_a_prior_needs_positive_widths() -> None:
    with pytest.raises(InputError, match=r"prior: random_sd is -1.0. Give a number above zero"):
        OrdinalPrior(random_sd=-1.0)


def test_numbers_text_and_arrays_of_categories_are_the_same() -> None:
    ways: list[Iterable[object]] = [
        RATINGS,
        list(map(str, RATINGS)),
        np.array(RATINGS),
        np.array(RATINGS, dtype=float),
    ]
    fits = [fit_ordinal(each, {"coffee": COFFEE}, prior="flat") for each in ways]
    assert {fit.categories for fit in fits} == {("1", "2", "3", "4")}
    assert len({fit.log_likelihood for fit in fits}) == 1


def test_categories_are_ordered_as_numbers() -> None:
    fit = fit_ordinal([9, 10, 11, 10, 9, 11], prior="flat")
    assert list(fit.coefficients) == ["9|10", "10|11"]


def test_words_need_and_keep_their_order() -> None:
    words = ["dislike", "neither", "like"]
    ratings = [words[k] for k in [0, 1, 2, 2, 1, 0, 2, 1]]
    fit = fit_ordinal(ratings, categories=words, prior="flat")
    assert list(fit.coefficients) == ["dislike|neither", "neither|like"]


def test_a_category_never_given_is_left_out_with_a_flat_prior_and_kept_with_a_weak_one() -> None:
    every = [str(k) for k in range(1, 6)]
    flat = fit_ordinal(RATINGS, {"coffee": COFFEE}, categories=every, prior="flat")
    weak = fit_ordinal(RATINGS, {"coffee": COFFEE}, categories=every)
    assert flat.categories == ("1", "2", "3", "4")
    assert "Never given, so left out: 5." in flat.cautions
    assert weak.categories == tuple(every)


@pytest.mark.parametrize("other", ["ines ", "INES", "In\u00e9s", "I-nes"])
def test_two_spellings_of_one_taster_or_coffee_are_pointed_out(other: str) -> None:
    fit = fit_ordinal(RATINGS, {"coffee": COFFEE}, {"taster": ["Ines", other, "Wen"] * 4})
    first, second = sorted(["Ines", other])
    expected = f'"{first}" and "{second}" are counted as two levels of taster; are they one?'
    assert expected in fit.cautions
    coffees = ["Ines", other] * 6
    assert any("two levels of coffee" in each for each in _cautions({"coffee": coffees}))


def _cautions(fixed: dict[str, Iterable[object]]) -> tuple[str, ...]:
    return fit_ordinal(RATINGS, fixed, {"taster": TASTER}).cautions


def test_names_that_are_numbers_are_not_taken_for_each_other() -> None:
    assert not any("are they one" in each for each in _cautions({"coffee": ["1.1", "11"] * 6}))


def test_hundreds_of_doubtful_names_do_not_flood_the_page() -> None:
    names = [f"{letter}{number}" for number in range(40) for letter in "Tt"]
    fit = fit_ordinal([1, 2, 3, 2] * 20, None, {"taster": names})
    assert sum("are they one" in each for each in fit.cautions) == 5


def test_categories_written_in_two_ways_are_one() -> None:
    mixed = [f"{each}.0" if row % 2 else str(each) for row, each in enumerate(RATINGS)]
    assert fit_ordinal(mixed, prior="flat").categories == ("1", "2", "3", "4")


def test_one_category_only_is_kept_with_all_categories_given_and_says_little() -> None:
    names = ["1", "2", "3", "4", "5"]
    fit = fit_ordinal([3] * 12, {"coffee": COFFEE}, {"taster": TASTER}, categories=names)
    assert abs(fit.coefficients["coffee=B"]) < 0.05
    assert fit.standard_errors["coffee=B"] > 0.2
    with pytest.raises(InputError, match=r"^ratings: Only 3 was given\. At least 2 categories"):
        fit_ordinal([3] * 12, {"coffee": COFFEE}, categories=names, prior="flat")


def test_one_coffee_only_can_be_rated_but_not_compared() -> None:
    fit = fit_ordinal(RATINGS, None, {"taster": TASTER})
    assert list(fit.coefficients) == ["1|2", "2|3", "3|4"]
    with pytest.raises(InputError, match='fixed coffee: There is only one level, "A"'):
        fit_ordinal(RATINGS, {"coffee": ["A"] * 12}, {"taster": TASTER})


def test_one_rating_a_coffee_by_one_taster_leaves_everything_open() -> None:
    fit = fit_ordinal([2, 3], {"coffee": ["A", "B"]}, {"taster": ["Ines"] * 2})
    low, high = fit.interval("coffee=B").interval
    assert low < 0.0 < high


def test_a_million_ratings_are_counted_and_fitted() -> None:
    rng = np.random.default_rng(1)
    taster, coffee = rng.integers(0, 40, 1_000_000), rng.integers(0, 4, 1_000_000)
    latent = rng.normal(size=taster.size) + rng.normal(0, 0.5, 40)[taster] + 0.5 * coffee
    rating = np.digitize(latent, [-0.5, 0.5, 1.5]) + 1
    fit = fit_ordinal(rating, {"coffee": coffee}, {"taster": taster})
    assert (fit.ratings, fit.rows) == (1_000_000, 640)
    truth = np.array([0.5, 1.0, 1.5])
    ours = np.array([fit.coefficients[f"coffee={each}"] for each in (1, 2, 3)])
    error = np.array([fit.standard_errors[f"coffee={each}"] for each in (1, 2, 3)])
    assert (np.abs(ours - truth) < 4.0 * error).all()


def test_rows_that_are_alike_are_counted_once() -> None:
    fit = fit_ordinal(RATINGS * 100, {"coffee": COFFEE * 100}, prior="flat")
    assert (fit.ratings, fit.rows) == (1200, 6)
