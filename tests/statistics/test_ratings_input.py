"""What the rating engine says to input that cannot be right."""

from typing import Any

import numpy as np
import pytest

from twobowls.errors import InputError
from twobowls.statistics.ratings import RatingColumns, fit_ratings

GOOD: dict[str, Any] = {"y": [60.0, 40, 70, 55], "taster": list("aabb"), "coffee": list("ABAB")}


def problem(**changes: Any) -> str:
    options = {
        key: changes.pop(key)
        for key in ("prior", "random", "fixed", "scale", "level")
        if key in changes
    }
    with pytest.raises(InputError) as caught:
        fit_ratings(RatingColumns(**{**GOOD, **changes}), **options)
    return str(caught.value)


@pytest.mark.parametrize("prior", ["weak", "flat"])
def test_marks_must_be_finite_and_on_the_scale(prior: str) -> None:
    assert problem(y=[60, np.nan, 70, 50], prior=prior) == (
        "marks: mark 2 is nan, not a number. Leave out marks without an answer."
    )
    assert problem(y=[60, 40, 70, np.inf], prior=prior) == (
        "marks: mark 4 is inf, not a number. Leave out marks without an answer."
    )
    assert problem(y=[60, 40, 101, 50], prior=prior) == (
        "marks: mark 3 is 101, off the scale 0 to 100. "
        "Correct the mark, or give the scale that was used."
    )
    assert problem(y=["strong", 1, 2, 3], prior=prior) == (
        "marks: not all of them are numbers. Give numbers only."
    )
    assert problem(y=[], taster=[], coffee=[], prior=prior) == (
        "marks: there are none. Give at least one mark."
    )


def test_columns_must_have_the_same_length_and_no_blanks() -> None:
    assert problem(taster=list("aab")) == (
        "taster: 3 entries for 4 marks. Give one for every mark."
    )
    assert problem(coffee=["A", "", "A", "B"]) == (
        "coffee: mark 2 does not say which coffee. Name the coffee of every mark."
    )
    assert problem(round=["hot", None, "hot", "hot"]) == (
        "round: mark 2 does not say which round. Name the round of every mark."
    )


def test_terms_must_be_known_there_and_once() -> None:
    assert problem(random=("barista",)) == (
        "random: “barista” in “barista” is not a factor. "
        "Use taster, coffee, round, position, bowl, flight, joined by “:”."
    )
    assert problem(fixed=("coffee:round",)) == (
        "fixed: “coffee:round” needs the round of every mark, and there is none. "
        "Give a round for every mark, or leave “coffee:round” out."
    )
    assert problem(random=("taster:taster",)) == (
        "random: “taster:taster” names a factor twice. Name each factor once."
    )
    assert problem(random=("taster:coffee", "coffee:taster")) == (
        "random: “coffee:taster” is there twice. Name each term once."
    )
    assert problem(fixed=("bowl",), bowl=list("1212")) == (
        "fixed: a bowl cannot be fixed: it would take the place of its coffee. "
        "Name it under random."
    )


def test_flat_refuses_what_reml_cannot_tell_apart() -> None:
    assert problem(prior="flat", random=("taster:coffee",)) == (
        "random: “taster:coffee” has a level for every mark, so it cannot be told from the "
        "residual. Leave “taster:coffee” out, or use the weak prior."
    )
    assert problem(prior="flat", taster=list("aaaa"), random=("taster",)) == (
        "random: “taster” has one level, so it cannot be told from the mean. "
        "Leave “taster” out, or use the weak prior."
    )
    assert problem(prior="flat", y=[50.0] * 4) == (
        "marks: all 4 are the same (50): there is no variance to estimate. "
        "Check the column, or use the weak prior."
    )
    assert problem(prior="flat", y=[60.0], taster=["a"], coffee=["A"]) == (
        "marks: 1 cannot settle 1 fixed effects with a flat prior. "
        "Add marks, name fewer fixed terms, or use the weak prior."
    )


def test_flat_refuses_marks_without_any_residual() -> None:
    assert problem(prior="flat", y=[60.0, 40, 60, 40]) == (
        "marks: the named terms fit them without a remainder, so there is no variance to "
        "estimate. Check the marks, name fewer terms, or use the weak prior."
    )


def test_flat_refuses_undetermined_coffees() -> None:
    assert problem(
        prior="flat",
        y=[1.0, 2, 3, 4, 5, 6],
        taster=list("aabbcc"),
        coffee=list("AABBBB"),
        round=list("112222"),
        fixed=("coffee", "round"),
        random=(),
    ) == (
        "fixed: the marks leave some coffee means undetermined (a combination of levels that "
        "was never tasted). Name fewer fixed terms, or use the weak prior."
    )


def test_options_must_make_sense() -> None:
    assert problem(prior="strong") == "prior: “strong” is not known. Use “weak” or “flat”."
    assert problem(level=90) == "level: 90 is not between 0 and 1. Give a share such as 0.9."
    assert problem(scale=(50, 50.0001), y=[50.00005] * 4) == (
        "scale: 50 to 50.0001 is too narrow to reckon with. "
        "Give the marks and the scale in a smaller unit, say times a million."
    )
    assert problem(scale=(10, 10)) == (
        "scale: 10 to 10 has no width. Give a lower and a higher end."
    )


def test_one_taster_is_possible_with_a_flat_prior() -> None:
    fit = fit_ratings(
        RatingColumns(y=[60.0, 62, 40, 44], taster=list("aaaa"), coffee=list("AABB")), prior="flat"
    )
    assert fit.random == ()
    assert fit.people.contrasts[0].estimate.mean == pytest.approx(19)
    assert fit.cautions == ("One taster only: these numbers say nothing about other people.",)


def test_arrays_of_any_kind_are_read_as_labels() -> None:
    plain = fit_ratings(RatingColumns(**GOOD), prior="flat")
    arrays = fit_ratings(
        RatingColumns(
            y=np.array(GOOD["y"]), taster=np.array([1, 1, 2, 2]), coffee=np.array(GOOD["coffee"])
        ),
        prior="flat",
    )
    assert plain.people.contrasts == arrays.people.contrasts
