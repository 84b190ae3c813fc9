"""Frames that are none, and columns of the wrong kind: a message with the field and the cure."""

import pandas as pd
import pytest
from tests.notebook.bad_frames import (
    JUDGED,
    LABELS,
    REFUSED,
    every_call,
    fill,
    said_of,
    shown,
)
from tests.notebook.calls import BY_NAME, Call, marks, whole

import twobowls
from twobowls import InputError


@every_call
@pytest.mark.parametrize("bad", REFUSED)
def test_what_is_no_frame_is_refused(call: Call, bad: str) -> None:
    spoil, message = REFUSED[bad]
    assert message in said_of(call, spoil(call))


@every_call
@pytest.mark.parametrize("bad", JUDGED)
def test_a_judgement_of_the_wrong_kind_is_refused_or_told(call: Call, bad: str) -> None:
    spoil, messages = JUDGED[bad]
    if call.name in messages:
        assert said_of(call, spoil(call)).startswith(messages[call.name])
    else:
        shown(call, spoil(call))  # what it says is tested one by one below


@every_call
@pytest.mark.parametrize("bad", LABELS)
def test_labels_of_the_wrong_kind_are_refused(call: Call, bad: str) -> None:
    spoil, message = LABELS[bad]
    assert message in said_of(call, spoil(call))


@every_call
def test_an_unknown_column_is_told_with_the_near_one(call: Call) -> None:
    said = said_of(call, call.frame, **{call.judged: call.judged[:-1]})
    assert f"the frame has no column {call.judged[:-1]!r}" in said
    assert f"Did you mean {call.judged!r}? There are: " in said
    assert ", ".join(call.frame.columns) in said


@every_call
def test_a_column_that_is_like_none_is_told_with_all(call: Call) -> None:
    said = said_of(call, call.frame, **{call.judged: "zzz"})
    assert f"Use one of: {', '.join(call.frame.columns)}" in said


@every_call
def test_a_column_is_named_by_text(call: Call) -> None:
    assert "3 is not the name of a column" in said_of(call, call.frame, **{call.judged: 3})


@every_call
def test_a_column_in_the_index_is_told(call: Call) -> None:
    said = said_of(call, call.frame.set_index(call.judged), **{call.judged: call.judged})
    assert "is in the index, which is not read. Make it a column first, with reset_index()" in said


@every_call
def test_a_column_of_categories_names_people_as_well_as_text(call: Call) -> None:
    frame = call.frame.assign(taster=call.frame["taster"].astype("category"))
    assert shown(call, frame).title == whole(call.name).title


def test_a_column_called_intensity_without_numbers_is_told() -> None:
    for cell in ("tasty", True, None, pd.Timestamp("2026-01-01")):
        found = twobowls.ratings(fill(BY_NAME["ratings"], cell))
        assert {fit.scale for fit in found.result.fits} == {"liking"}
        assert (
            "The column 'intensity' was not taken for the intensity: its values do not look like "
            "it. If they are, say intensity='intensity'."
        ) in found.cautions


def test_a_stated_column_without_numbers_is_refused() -> None:
    with pytest.raises(InputError, match="intensity: it holds no numbers, but 'tasty'"):
        twobowls.ratings(fill(BY_NAME["ratings"], "tasty"), intensity="intensity")


def test_intensity_and_liking_are_notmixed_up() -> None:
    for call in (twobowls.taster_skill, twobowls.agreement):
        with pytest.raises(InputError) as caught:
            call(marks())
        assert str(caught.value) == (
            "mark: it could be 'intensity' or 'liking'. Say which with mark=."
        )
        call(marks(), mark="liking")


def test_one_column_plays_one_part() -> None:
    with pytest.raises(InputError, match="the column 'mark' is already the mark"):
        twobowls.agreement(BY_NAME["agreement"].frame, mark="mark", taster="mark")
