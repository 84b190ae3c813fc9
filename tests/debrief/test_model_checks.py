"""What a host reads about the model: slips found, crowded ends told, nobody named."""

from dataclasses import replace

import numpy as np
import pytest
from tests.debrief.nights import NAMES, marks, night, tasting

from twobowls.debrief.analysis import analyse
from twobowls.debrief.model_checks import FitCheck, OddMark, check_sentences, model_checks
from twobowls.debrief.tables import rating_table
from twobowls.debrief.tasting_debrief import debrief_of
from twobowls.interchange.debrief_json import debrief_dict
from twobowls.tasting.records import Mark


def test_a_slip_of_the_finger_is_told_with_its_coffee_and_round() -> None:
    of = tasting(seats=6)
    seen = marks(of, noise=3)
    place = next(
        number
        for number, each in enumerate(seen)
        if each.sensation == "acidity" and each.intensity is not None and each.intensity > 60
    )
    seen[place] = replace(seen[place], intensity=2.0)
    whole = debrief_of(night(of, seen))
    (check,) = (each for each in whole.checks if each.id == "acidity-intensity")
    odd = check.odd[0]
    assert (odd.coffee, odd.round, odd.mark) == ("Brisa", seen[place].round, 2.0)
    assert odd.expected == pytest.approx(70, abs=10)
    said = check_sentences(whole.checks, {"hot": "Hot", "warm": "Warm", "cool": "Cool"})
    assert any(
        each.startswith(f"Acidity, strength: Brisa, round {odd.round.capitalize()}, marked 2, ")  # type: ignore[union-attr]
        for each in said
    )
    assert not any(name in each for each in said for name in NAMES)
    found = debrief_dict(whole)["checks"]
    assert [each["fit"] for each in found] == [fit.id for fit in whole.analysis.fits]


def test_marks_at_the_ends_of_the_line_are_told_with_a_cure() -> None:
    of = tasting()
    seen: list[Mark] = [
        replace(each, intensity=100.0 if (each.intensity or 0) > 60 else each.intensity)
        for each in marks(of)
    ]
    table = rating_table(night(of, seen))
    said = check_sentences(model_checks(table, analyse(table)))
    (crowded,) = (each for each in said if each.startswith("Many marks sit at an end"))
    assert "Acidity, strength (25 %)" in crowded
    assert crowded.endswith("the ends are for the most extreme cup one can think of.")


def check(**given: object) -> FitCheck:
    fields = {
        "id": "body-liking", "sensation": "body", "scale": "liking", "marks": 200, "slip": 7.0,
        "places": 0, "beyond": 9, "odd": (), "at_ends": 0.0, "scattered": 0, **given,
    }  # fmt: skip
    return FitCheck(**fields)  # type: ignore[arg-type]


def test_what_is_usual_stands_beside_what_was_found() -> None:
    assert check_sentences([check()]) == (
        "No mark is so far off that it looks like a slip of the finger.",
        "9 of 200 marks are far from what the others foretell; about 9 would be usual.",
    )
    assert "read “clear” as “likely”" in check_sentences([check(beyond=25)])[1]
    assert len(check_sentences([check(marks=12)])) == 1


def test_many_slips_are_cut_short() -> None:
    odd = OddMark(
        sensation="body", scale="liking", coffee="Oro", round=None, mark=3, expected=61, places=0
    )
    said = check_sentences([check(odd=(odd,) * 11)])
    assert said[0].startswith("11 marks look like a slip of the finger")
    assert said[1] == "Body, liking: Oro, marked 3, foretold about 61."
    assert said[9] == "And 3 more."


def test_people_who_jump_about_are_counted_not_named() -> None:
    said = check_sentences([check(scattered=1)])
    assert said[-1] == (
        "Body, liking: the marks of 1 person jump about more than the model can hold. They weigh "
        "as much as everybody's, so figures may be less sure than they look."
    )


def test_who_marks_at_random_counts_for_less_and_is_counted_as_such() -> None:
    of, rng = tasting(seats=6), np.random.default_rng(1)
    seen = [
        replace(each, intensity=float(rng.uniform(0, 100))) if each.seat == "s2" else each
        for each in marks(of, noise=3)
    ]
    table = rating_table(night(of, seen))
    found = [each for each in model_checks(table, analyse(table)) if each.scattered]
    assert found
    assert all(each.lighter == each.scattered == 1 for each in found)


def test_marks_that_count_for_less_are_not_said_to_weigh_as_much() -> None:
    (light,) = check_sentences([check(scattered=2, lighter=2)])[2:]
    assert light.endswith("can hold. They count for less than everybody else's.")
    (mixed,) = check_sentences([check(scattered=2, lighter=1)])[2:]
    assert "Some of them weigh as much as everybody's" in mixed
