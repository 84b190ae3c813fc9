"""Rows that are bad: gaps, spellings, copies, marks off the scale; told, or put right."""

import numpy as np
import pandas as pd
import pytest
from tests.notebook.bad_frames import every_call, put, said_of, shown
from tests.notebook.calls import BY_NAME, Call, marks, whole

import twobowls
from twobowls import InputError


@every_call
def test_a_missing_judgement_is_left_out_and_told(call: Call) -> None:
    cell = None if call.judged in ("answer", "word") else float("nan")
    good = whole(call.name)
    found = shown(call, put(call.frame, call.judged, 1, cell))
    if call.name == "words":  # somebody who tasted and said nothing
        assert found.result.tasted.tolist() == good.result.tasted.tolist()
    elif call.name in ("ratings", "stretch"):
        assert "intensity: 1 row is without a value, left out of that fit." in found.cautions
    else:
        assert f"{call.judged}: 1 row is without one, left out." in found.cautions


@every_call
def test_a_judgement_without_a_name_is_refused(call: Call) -> None:
    if call.name in ("discrimination", "similarity", "preference"):  # who answered is not asked
        shown(call, put(call.frame, "taster", 1, None))
        return
    said = said_of(call, put(call.frame, "taster", 1, None))
    assert said.startswith("row 1, taster: the taster is missing. Say which taster it is")


@every_call
def test_two_spellings_are_offered_and_never_merged_unasked(call: Call) -> None:
    frame = put(call.frame, "taster", 0, "ANA")
    if call.name in ("discrimination", "similarity", "preference"):
        assert shown(call, frame).result == whole(call.name).result
        return
    if call.name == "agreement":  # a spelling makes a gap
        said = said_of(call, frame)
        assert "'ANA' has no mark of 'Oro'. If 'ANA' is 'Ana', add merge={'ANA': 'Ana'}" in said
    else:
        offers = [each for each in shown(call, frame).cautions if "two spellings" in each]
        assert offers == [
            "taster: 'ANA' and 'Ana' may be one taster in two spellings. They are kept apart; "
            "to join them, add merge={'ANA': 'Ana'}."
        ]
    merged = shown(call, frame, merge={"ANA": "Ana"})
    assert merged.title == whole(call.name).title
    assert not [each for each in merged.cautions if "two spellings" in each]


@every_call
def test_a_merge_of_nobody_is_refused(call: Call) -> None:
    if call.name in ("discrimination", "similarity", "preference"):
        return
    assert "merge: no label is 'Bob'" in said_of(call, call.frame, merge={"Bob": "Ben"})
    assert 'Write {"ana": "Ana"}' in said_of(call, call.frame, merge=["Bob"])


@every_call
def test_rows_that_are_there_twice_are_told(call: Call) -> None:
    twice = pd.concat([call.frame, call.frame], ignore_index=True)
    if call.name == "ranks":
        said = said_of(call, twice)
        assert "'Ana' has two rows for the coffee 'Night Ferry' (rows 0 and 24)" in said
        return
    found = shown(call, twice)
    told = " ".join(found.cautions)
    if call.name == "words":  # a word counts once a taster, however often it is written down
        assert found.result.said.tolist() == whole(call.name).result.said.tolist()
    elif call.name in ("discrimination", "similarity", "preference"):
        assert "6 tasters gave 12 answers: answers of one taster are no separate witnesses" in told
    else:
        assert f"{len(call.frame)} rows are the same as an earlier one in every column." in told


@every_call
def test_several_sensations_are_never_pooled(call: Call) -> None:
    kinds = np.resize(["acidity", "body"], len(call.frame))
    frame = call.frame.assign(sensation=kinds)
    if call.name == "ratings":
        assert shown(call, frame).result.sensations == ("acidity", "body")
    elif call.name == "stretch":
        found = shown(call, frame).result.sensations
        assert {each.sensation for each in found} == {"acidity", "body"}
    elif call.name == "words":
        shown(call, frame)
    else:
        said = said_of(call, frame)
        assert "sensation: the column 'sensation' holds 2 of them (acidity, body)" in said


@every_call
def test_marks_that_were_changed_later_do_not_count(call: Call) -> None:
    old = call.frame.assign(counts=0)
    both = pd.concat([call.frame.assign(counts=1), old], ignore_index=True)
    found = shown(call, both)
    assert any("changed later" in each for each in found.cautions)
    assert found.to_frame(backend="dict") == whole(call.name).to_frame(backend="dict")


def test_marks_off_a_stated_scale_are_refused() -> None:
    frame = put(put(marks(), "intensity", 4, 140.0), "intensity", 7, -3.0)
    with pytest.raises(InputError) as caught:
        twobowls.ratings(frame, scale=(0, 100))
    assert str(caught.value) == (
        "row 4, intensity: 140 is off the scale from 0 to 100. Correct it, or change scale=, or "
        "leave such rows out with skip_errors=True (1 more cell is like this)."
    )
    found = twobowls.ratings(frame, scale=(0, 100), skip_errors=True)
    assert "2 rows are left out because of errors, as asked by skip_errors=True." in found.cautions


def test_one_mark_and_one_coffee_are_mostly_the_prior() -> None:
    one = twobowls.ratings(marks().iloc[:1])
    assert "One mark only: nearly everything here is the prior." in " ".join(one.cautions)
    coffee = twobowls.ratings(marks()[lambda table: table["coffee"] == "Oro"])
    assert "One coffee only: there is nothing to compare it with." in coffee.cautions


def test_marks_that_are_all_the_same_are_told() -> None:
    found = twobowls.ratings(marks().assign(intensity=50.0, liking=50.0))
    assert any("All marks are the same" in each for each in found.cautions)
    contrasts = found.to_frame("contrasts", backend="dict")
    assert max(abs(each) for each in contrasts["difference"]) < 1e-6
    assert set(contrasts["evidence"]) == {"cannot tell"}


def test_a_million_answers_are_more_than_a_test_takes() -> None:
    frame = {"right": np.resize([1, 0, 0], 1_000_000)}
    with pytest.raises(InputError, match="trials: 1000000 is too many"):
        twobowls.discrimination("triangle", frame)


def test_strengths_must_be_above_nothing() -> None:
    frame = put(BY_NAME["threshold"].frame, "strength", 3, 0.0)
    with pytest.raises(InputError, match=r"row 3, strength: 0 is not above 0. Leave out plain"):
        twobowls.threshold(frame)


def test_picks_of_one_coffee_against_itself_are_refused() -> None:
    frame = put(put(BY_NAME["picks"].frame, "b", 2, "Niebla"), "a", 2, "Niebla")
    with pytest.raises(InputError, match=r"row 2, b: 'Niebla' is set against itself. Leave that"):
        twobowls.picks(frame)


def test_two_likings_of_one_coffee_are_refused() -> None:
    frame = BY_NAME["words"].frame.copy()
    again = frame.duplicated(["taster", "coffee"])
    frame.loc[again.idxmax(), "liking"] += 10
    with pytest.raises(InputError, match=r"'Ana' likes '.*' differently in two rows"):
        twobowls.words(frame)
