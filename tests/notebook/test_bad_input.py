"""Every call with every bad input: a message that names the field and the cure, or what is right.

Rows are counted from 0, as frames count them.
"""

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest
from tests.notebook.calls import BY_NAME, CALLS, Call, marks, whole

import twobowls
from twobowls import InputError

wrongly: Any = twobowls  # calls that no type checker would let pass

# What a bad input does to a good frame.
Spoil = Callable[[Call], Any]


def _put(frame: pd.DataFrame, column: str, row: int, cell: object) -> pd.DataFrame:
    cells = list(frame[column])
    cells[row] = cell
    kind = object if isinstance(cell, str) or cell is None else None
    return frame.assign(**{column: pd.Series(cells, index=frame.index, dtype=kind)})


def _fill(call: Call, cell: object) -> pd.DataFrame:
    return call.frame.assign(**{call.judged: [cell] * len(call.frame)})


def _label(call: Call, cell: object) -> pd.DataFrame:
    return call.frame.assign(**{call.labels[0]: [cell] * len(call.frame)})


def _mixed(call: Call) -> pd.DataFrame:
    first = call.labels[0]
    return _put(_put(call.frame, first, 1, "1"), first, 0, 1)


REFUSED: dict[str, tuple[Spoil, str]] = {
    "a list": (lambda _: [1, 2], "frame: a list cannot be read. Give a data frame"),
    "a file name": (
        lambda _: "marks.csv",
        "frame: 'marks.csv' is not a data frame. Read it first, as pandas.read_csv does",
    ),
    "an array": (lambda _: np.ones((3, 2)), "frame: a ndarray cannot be read. Give a data"),
    "no columns": (lambda _: pd.DataFrame(), "frame: it has no columns. Give a data frame"),
    "no rows": (lambda call: call.frame.iloc[:0], "frame: it has no rows. Add a row for each"),
    "no rows in a dict": (lambda _: {"taster": []}, "frame: it has no rows. Add a row"),
    "uneven lists": (
        lambda _: {"taster": ["Ana", "Ben"], "coffee": ["Oro"]},
        "coffee: it has 1 cells where another column has 2. Make all columns equally long",
    ),
    "one text for a column": (
        lambda _: {"taster": "Ana", "coffee": "Oro"},
        "taster: 'Ana' is not a list of cells. Give a data frame",
    ),
    "one number for a column": (
        lambda _: {"taster": 1},
        "taster: 1 is not a list of cells. Give a data frame",
    ),
    "numbers for names": (
        lambda _: pd.DataFrame([[1, 2]]),
        "frame: a column is called 0, which is not text. Give columns names of text",
    ),
    "one name twice": (
        lambda call: pd.concat([call.frame, call.frame], axis=1),
        "frame: columns have the same name",
    ),
    "strange names": (
        lambda call: call.frame.rename(columns=lambda name: f"x{len(name)}{name[0]}"),
        "no column looks like it among x",
    ),
}

JUDGED: dict[str, tuple[Spoil, dict[str, str]]] = {
    "text": (
        lambda call: _fill(call, "tasty"),
        {
            "categories": "category: 'tasty' is not a number, so the order of the categories is",
            "picks": "row 0, answer: 'tasty' is neither 'Oro' nor 'Night Ferry'. Give one of",
            "ranks": "rank: it holds no numbers, but 'tasty'. Make it numbers first",
            "taster_skill": "mark: it holds no numbers, but 'tasty'. Make it numbers first",
            "agreement": "mark: it holds no numbers, but 'tasty'. Make it numbers first",
            "discrimination": "row 0, right: 'tasty' is neither true nor false. Give true or",
            "similarity": "row 0, right: 'tasty' is neither true nor false. Give true or",
            "threshold": "row 0, right: 'tasty' is neither true nor false. Give true or",
        },
    ),
    "digits as text": (
        lambda call: _fill(call, "3"),
        {
            "ratings": "intensity: it holds no numbers, but '3'. Make it numbers first",
            "categories": "category: every rating is '3'. Without a second category nothing can",
            "picks": "row 0, answer: '3' is neither 'Oro' nor 'Night Ferry'",
            "ranks": "rank: it holds no numbers, but '3'. Make it numbers first",
            "taster_skill": "mark: it holds no numbers, but '3'. Make it numbers first",
            "agreement": "mark: it holds no numbers, but '3'. Make it numbers first",
            "discrimination": "row 0, right: '3' is neither true nor false",
            "similarity": "row 0, right: '3' is neither true nor false",
            "threshold": "row 0, right: '3' is neither true nor false",
        },
    ),
    "one text among numbers": (
        lambda call: _put(call.frame, call.judged, 1, "oops"),
        {
            "ratings": "row 1, intensity: 'oops' is not a number. Give a number, or leave the",
            "categories": "category: 'oops' is not a number, so the order of the categories",
            "picks": "row 1, answer: 'oops' is neither 'Brisa' nor 'Night Ferry'",
            "ranks": "row 1, rank: 'oops' is not a number. Give a number, or leave the cell",
            "taster_skill": "row 1, mark: 'oops' is not a number. Give a number, or leave",
            "agreement": "row 1, mark: 'oops' is not a number. Give a number, or leave",
            "discrimination": "row 1, right: 'oops' is neither true nor false",
            "similarity": "row 1, right: 'oops' is neither true nor false",
            "preference": "answer: 3 different answers (Oro, oops, Brisa). Keep the rows of one",
            "threshold": "row 1, right: 'oops' is neither true nor false",
        },
    ),
    "infinity": (
        lambda call: _put(call.frame, call.judged, 1, float("inf")),
        {
            "ratings": "row 1, intensity: inf is not a finite number. Give a number, or leave",
            "categories": "row 1, category: inf is not a finite number. Give a number, or",
            "picks": "answer: inf is a number with decimals, not a name",
            "ranks": "row 1, rank: inf is not a finite number",
            "taster_skill": "row 1, mark: inf is not a finite number",
            "agreement": "row 1, mark: inf is not a finite number",
            "words": "word: inf is a number with decimals, not a name",
            "discrimination": "row 1, right: 'inf' is neither true nor false",
            "similarity": "row 1, right: 'inf' is neither true nor false",
            "preference": "answer: inf is a number with decimals, not a name",
            "threshold": "row 1, right: 'inf' is neither true nor false",
        },
    ),
    "dates": (
        lambda call: _fill(call, pd.Timestamp("2026-01-01")),
        {
            "categories": "category: it holds dates, such as 2026-01-01",
            "picks": "answer: it holds dates, such as 2026-01-01",
            "ranks": "rank: it holds dates or times. Name a column of numbers",
            "taster_skill": "mark: it holds dates or times. Name a column of numbers",
            "agreement": "mark: it holds dates or times. Name a column of numbers",
            "words": "word: it holds dates, such as 2026-01-01",
            "discrimination": "row 0, right: '2026-01-01 00:00:00' is neither true nor false",
            "similarity": "row 0, right: '2026-01-01 00:00:00' is neither true nor false",
            "preference": "answer: it holds dates, such as 2026-01-01",
            "threshold": "row 0, right: '2026-01-01 00:00:00' is neither true nor false",
        },
    ),
    "true and false": (
        lambda call: _fill(call, True),
        {
            "categories": "category: 'True' is not a number, so the order of the categories",
            "picks": "row 0, answer: 'True' is neither 'Oro' nor 'Night Ferry'",
            "ranks": "rank: it holds true and false. Name a column of numbers",
            "taster_skill": "mark: it holds true and false. Name a column of numbers",
            "agreement": "mark: it holds true and false. Name a column of numbers",
        },
    ),
    "categories without numbers": (
        lambda call: call.frame.assign(
            **{call.judged: call.frame[call.judged].astype(str).astype("category")}
        ),
        {
            "ratings": "intensity: it holds categories. Make them numbers if their distances",
            "ranks": "rank: it holds categories. Make them numbers if their distances mean",
            "taster_skill": "mark: it holds categories. Make them numbers",
            "agreement": "mark: it holds categories. Make them numbers",
            "discrimination": "row 0, right: '1' is neither true nor false",
            "similarity": "row 0, right: '1' is neither true nor false",
            "threshold": "row 0, right: '0' is neither true nor false",
        },
    ),
    "nothing at all": (
        lambda call: _fill(call, None),
        {
            "categories": "frame: no row can be used. Fill in category",
            "picks": "frame: no row can be used. Fill in answer",
            "ranks": "frame: no row can be used. Fill in rank",
            "taster_skill": "frame: no row can be used. Fill in mark",
            "agreement": "frame: no row can be used. Fill in mark",
            "words": "word: nobody said a word. Fill in the words",
            "discrimination": "frame: no row can be used. Fill in right",
            "similarity": "frame: no row can be used. Fill in right",
            "preference": "frame: no row can be used. Fill in answer",
            "threshold": "frame: no row can be used. Fill in strength and right",
        },
    ),
    "one value only": (
        lambda call: _fill(call, call.frame[call.judged].iloc[0]),
        {
            "categories": "category: every rating is '5'. Without a second category nothing",
            "ranks": "rank: no taster told any two coffees apart. There is nothing to test",
            "agreement": "mark: no mark differs between coffees. There is nothing to compare",
        },
    ),
    "one row": (
        lambda call: call.frame.iloc[:1],
        {
            "categories": "coffee: there is only 'Night Ferry'. Give two or more",
            "ranks": "coffee: there is one coffee only. Give two or more",
            "agreement": "coffee: there is one coffee only. Give two or more",
            "threshold": "strength: there is one strength only. Give two or more",
        },
    ),
}

LABELS: dict[str, tuple[Spoil, str]] = {
    "numbers with decimals": (
        lambda call: _label(call, 1.5),
        "taster: 1.5 is a number with decimals, not a name. Name the column that has the",
    ),
    "lists": (lambda call: _label(call, ["Ana"]), "taster: a list in a cell is no name. Name"),
    "dates": (
        lambda call: _label(call, pd.Timestamp("2026-01-01")),
        "taster: it holds dates, such as 2026-01-01. Name the column that has the labels",
    ),
    "a number and a text alike": (
        _mixed,
        "taster: it holds 1 as a number and '1' as text. Make the column all text or all",
    ),
    "true beside names": (
        lambda call: _put(call.frame, call.labels[0], 0, "x").assign(
            **{call.labels[0]: [True, *call.frame[call.labels[0]].iloc[1:]]}
        ),
        "taster: it holds true or false beside other labels. Make the column all text",
    ),
}


def _said(call: Call, frame: object, **more: Any) -> str:
    with pytest.raises(InputError) as caught:
        call(frame, **more)
    return str(caught.value)


def _shown(call: Call, frame: object, **more: Any) -> Any:
    """Return a result that can also be shown, whatever is in it."""
    found = call(frame, **more)
    assert found._repr_html_()
    assert str(found)
    return found


every_call = pytest.mark.parametrize("call", CALLS, ids=lambda call: call.name)


@every_call
@pytest.mark.parametrize("bad", REFUSED)
def test_what_is_no_frame_is_refused(call: Call, bad: str) -> None:
    spoil, message = REFUSED[bad]
    assert message in _said(call, spoil(call))


@every_call
@pytest.mark.parametrize("bad", JUDGED)
def test_a_judgement_of_the_wrong_kind_is_refused_or_told(call: Call, bad: str) -> None:
    spoil, messages = JUDGED[bad]
    if call.name in messages:
        assert _said(call, spoil(call)).startswith(messages[call.name])
    else:
        _shown(call, spoil(call))  # what it says is tested one by one below


@every_call
@pytest.mark.parametrize("bad", LABELS)
def test_labels_of_the_wrong_kind_are_refused(call: Call, bad: str) -> None:
    spoil, message = LABELS[bad]
    assert message in _said(call, spoil(call))


@every_call
def test_an_unknown_column_is_told_with_the_near_one(call: Call) -> None:
    said = _said(call, call.frame, **{call.judged: call.judged[:-1]})
    assert f"the frame has no column {call.judged[:-1]!r}" in said
    assert f"Did you mean {call.judged!r}? There are: " in said
    assert ", ".join(call.frame.columns) in said


@every_call
def test_a_column_that_is_like_none_is_told_with_all(call: Call) -> None:
    said = _said(call, call.frame, **{call.judged: "zzz"})
    assert f"Use one of: {', '.join(call.frame.columns)}" in said


@every_call
def test_a_column_is_named_by_text(call: Call) -> None:
    assert "3 is not the name of a column" in _said(call, call.frame, **{call.judged: 3})


@every_call
def test_a_column_in_the_index_is_told(call: Call) -> None:
    said = _said(call, call.frame.set_index(call.judged), **{call.judged: call.judged})
    assert "is in the index, which is not read. Make it a column first, with reset_index()" in said


@every_call
def test_a_missing_judgement_is_left_out_and_told(call: Call) -> None:
    cell = None if call.judged in ("answer", "word") else float("nan")
    good = whole(call.name)
    found = _shown(call, _put(call.frame, call.judged, 1, cell))
    if call.name == "words":  # somebody who tasted and said nothing
        assert found.result.tasted.tolist() == good.result.tasted.tolist()
    elif call.name == "ratings":
        assert "intensity: 1 row is without a value, left out of that fit." in found.cautions
    else:
        assert f"{call.judged}: 1 row is without one, left out." in found.cautions


@every_call
def test_a_judgement_without_a_name_is_refused(call: Call) -> None:
    if call.name in ("discrimination", "similarity", "preference"):  # who answered is not asked
        _shown(call, _put(call.frame, "taster", 1, None))
        return
    said = _said(call, _put(call.frame, "taster", 1, None))
    assert said.startswith("row 1, taster: the taster is missing. Say which taster it is")


@every_call
def test_two_spellings_are_offered_and_never_merged_unasked(call: Call) -> None:
    frame = _put(call.frame, "taster", 0, "ANA")
    if call.name in ("discrimination", "similarity", "preference"):
        assert _shown(call, frame).result == whole(call.name).result
        return
    if call.name == "agreement":  # a spelling makes a gap
        said = _said(call, frame)
        assert "'ANA' has no mark of 'Oro'. If 'ANA' is 'Ana', add merge={'ANA': 'Ana'}" in said
    else:
        offers = [each for each in _shown(call, frame).cautions if "two spellings" in each]
        assert offers == [
            "taster: 'ANA' and 'Ana' may be one taster in two spellings. They are kept apart; "
            "to join them, add merge={'ANA': 'Ana'}."
        ]
    merged = _shown(call, frame, merge={"ANA": "Ana"})
    assert merged.title == whole(call.name).title
    assert not [each for each in merged.cautions if "two spellings" in each]


@every_call
def test_a_merge_of_nobody_is_refused(call: Call) -> None:
    if call.name in ("discrimination", "similarity", "preference"):
        return
    assert "merge: no label is 'Bob'" in _said(call, call.frame, merge={"Bob": "Ben"})
    assert 'Write {"ana": "Ana"}' in _said(call, call.frame, merge=["Bob"])


@every_call
def test_rows_that_are_there_twice_are_told(call: Call) -> None:
    twice = pd.concat([call.frame, call.frame], ignore_index=True)
    if call.name == "ranks":
        said = _said(call, twice)
        assert "'Ana' has two rows for the coffee 'Night Ferry' (rows 0 and 24)" in said
        return
    found = _shown(call, twice)
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
        assert _shown(call, frame).result.sensations == ("acidity", "body")
    elif call.name == "words":
        _shown(call, frame)
    else:
        said = _said(call, frame)
        assert "sensation: the column 'sensation' holds 2 of them (acidity, body)" in said


@every_call
def test_marks_that_were_changed_later_do_not_count(call: Call) -> None:
    old = call.frame.assign(counts=0)
    both = pd.concat([call.frame.assign(counts=1), old], ignore_index=True)
    found = _shown(call, both)
    assert any("changed later" in each for each in found.cautions)
    assert found.to_frame(backend="dict") == whole(call.name).to_frame(backend="dict")


@every_call
def test_a_column_of_categories_names_people_as_well_as_text(call: Call) -> None:
    frame = call.frame.assign(taster=call.frame["taster"].astype("category"))
    assert _shown(call, frame).title == whole(call.name).title


@every_call
@pytest.mark.parametrize("level", [0, 1, -0.5, float("nan"), "x", None, True])
def test_a_level_out_of_range_is_refused(call: Call, level: object) -> None:
    if call.name in ("ranks", "similarity"):  # they have risks, no level
        return
    assert _said(call, call.frame, level=level).startswith("level: ")


def test_marks_off_a_stated_scale_are_refused() -> None:
    frame = _put(_put(marks(), "intensity", 4, 140.0), "intensity", 7, -3.0)
    with pytest.raises(InputError) as caught:
        twobowls.ratings(frame, scale=(0, 100))
    assert str(caught.value) == (
        "row 4, intensity: 140 is off the scale from 0 to 100. Correct it, or change scale=, or "
        "leave such rows out with skip_errors=True (1 more cell is like this)."
    )
    found = twobowls.ratings(frame, scale=(0, 100), skip_errors=True)
    assert "2 rows are left out because of errors, as asked by skip_errors=True." in found.cautions


@pytest.mark.parametrize("scale", [(100, 0), (5, 5), (0,), "0,100", 7, (0, float("inf")), ("a", 1)])
def test_a_scale_that_is_none_is_refused(scale: Any) -> None:
    with pytest.raises(InputError, match=r"is not a scale. Give its two ends, such as \(0, 100\)"):
        twobowls.ratings(marks(), scale=scale)


def test_a_column_called_intensity_without_numbers_is_told() -> None:
    for cell in ("tasty", True, None, pd.Timestamp("2026-01-01")):
        found = twobowls.ratings(_fill(BY_NAME["ratings"], cell))
        assert {fit.scale for fit in found.result.fits} == {"liking"}
        assert (
            "The column 'intensity' was not taken for the intensity: its values do not look like "
            "it. If they are, say intensity='intensity'."
        ) in found.cautions


def test_a_stated_column_without_numbers_is_refused() -> None:
    with pytest.raises(InputError, match="intensity: it holds no numbers, but 'tasty'"):
        twobowls.ratings(_fill(BY_NAME["ratings"], "tasty"), intensity="intensity")


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


def test_intensity_and_liking_are_not_mixed_up() -> None:
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


def test_a_million_answers_are_more_than_a_test_takes() -> None:
    frame = {"right": np.resize([1, 0, 0], 1_000_000)}
    with pytest.raises(InputError, match="trials: 1000000 is too many"):
        twobowls.discrimination("triangle", frame)


def test_strengths_must_be_above_nothing() -> None:
    frame = _put(BY_NAME["threshold"].frame, "strength", 3, 0.0)
    with pytest.raises(InputError, match=r"row 3, strength: 0 is not above 0. Leave out plain"):
        twobowls.threshold(frame)


def test_picks_of_one_coffee_against_itself_are_refused() -> None:
    frame = _put(_put(BY_NAME["picks"].frame, "b", 2, "Niebla"), "a", 2, "Niebla")
    with pytest.raises(InputError, match=r"row 2, b: 'Niebla' is set against itself. Leave that"):
        twobowls.picks(frame)


def test_two_likings_of_one_coffee_are_refused() -> None:
    frame = BY_NAME["words"].frame.copy()
    again = frame.duplicated(["taster", "coffee"])
    frame.loc[again.idxmax(), "liking"] += 10
    with pytest.raises(InputError, match=r"'Ana' likes '.*' differently in two rows"):
        twobowls.words(frame)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"order": "none some"}, "order: 'none some' is one text. Give a list"),
        ({"order": ["1", "2"]}, "category: '3' is not in order=. Correct the rating, or add"),
        ({"link": "cauchit"}, "link: 'cauchit' is not known. Choose one of probit, logit"),
        ({"prior": "strong"}, 'prior: "strong" is not known. Choose "weak" or "flat"'),
        ({"fixed": ["cofee"]}, "cofee: the frame has no column 'cofee'. Did you mean 'coffee'?"),
        ({"quadrature": 5, "random": ["taster", "round"]}, "quadrature: 5 nodes need exactly one"),
    ],
)
def test_options_of_categories_that_cannot_be_are_refused(
    options: dict[str, Any], message: str
) -> None:
    assert message in _said(BY_NAME["categories"], BY_NAME["categories"].frame, **options)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"predicted": ["Oro"]}, "predicted: not every coffee is in it once. Order all of"),
        ({"predicted": ["Oroo"]}, "predicted: there is no coffee 'Oroo'. Did you mean 'Oro'?"),
        ({"alpha": 2}, "alpha: 2 is out of range"),
        ({"rng": "seed"}, "rng: 'seed' is no source of chance. Give a whole number"),
    ],
)
def test_options_of_ranks_that_cannot_be_are_refused(options: dict[str, Any], message: str) -> None:
    assert message in _said(BY_NAME["ranks"], BY_NAME["ranks"].frame, **options)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: wrongly.discrimination("quartet", correct=1, trials=2), "'quartet' is not known"),
        (lambda: wrongly.discrimination("triangle"), "correct: it is missing. Give correct= and"),
        (lambda: wrongly.discrimination("triangle", correct=3), "trials: it is missing"),
        (lambda: wrongly.discrimination("triangle", correct=9, trials=8), "9 is too many"),
        (
            lambda: wrongly.discrimination("triangle", {"right": [1]}, correct=1),
            "correct: there is a frame as well. Give a frame, or correct=",
        ),
        (lambda: wrongly.preference(for_a=1.5, trials=3), "for_a: 1.5 is not a whole number"),
        (
            lambda: wrongly.preference({"answer": ["Oro", "Brisa"]}, for_coffee="Niebla"),
            "for_coffee: nobody chose 'Niebla'. Use one of: Oro, Brisa",
        ),
        (lambda: wrongly.similarity("triangle", correct=2, trials=9, beta=7), "beta: 7 is out of"),
        (lambda: wrongly.a_not_a(3, 2, 0, 2), "a_called_a: 3 is too many"),
        (lambda: wrongly.serving_orders(0, 4), "bowls: 0 is too few. Give a whole number from 1"),
        (lambda: wrongly.serving_orders("417", 4), "bowls: '417' is one text. Give a list"),
        (lambda: wrongly.serving_orders(["a", "a"], 4), "bowls: 'a' is there twice. Name each"),
        (lambda: wrongly.serving_orders(["a", " "], 4), "bowls: one has no name. Name it"),
        (lambda: wrongly.serving_orders(3, 4.5), "seats: 4.5 is not a whole number"),
        (
            lambda: wrongly.serving_orders(["417", "862"], 2, apart=[("417", "863")]),
            "apart: there is no '863'. Did you mean '862'?",
        ),
        (lambda: wrongly.serving_orders(2, 2, apart=["12"]), "apart: '12' is one text"),
        (lambda: wrongly.blocks(5, [2, 2]), "sizes: 4 places are too few for 5 coffees. Give at"),
        (lambda: wrongly.blocks(5, 3), "sizes: 3 is not a list. Give the size of each flight"),
        (lambda: wrongly.blocks(5, []), "sizes: there is no flight"),
        (lambda: wrongly.blocks(["x", "y"], [2], anchors=["z"]), "anchors: there is no 'z'"),
        (lambda: wrongly.power(coffees=1, tasters=3), "coffees: 1 is too few"),
        (lambda: wrongly.power(coffees=2, tasters=3, difference=-1), "difference: -1 is out of"),
        (lambda: wrongly.power(coffees=2, tasters=3, chance=1.5), "chance: 1.5 is out of range"),
        (lambda: wrongly.power(coffees=2, tasters=3, spread=8), "spread: 8 is no Spread"),
        (lambda: wrongly.plan_tasting(["Oro"], repeats=["Orro"]), "Did you mean 'Oro'?"),
        (lambda: wrongly.plan_tasting(2, rounds=["tepid"]), "rounds: there is no round 'tepid'"),
        (lambda: wrongly.plan_tasting(2, rounds="hot"), "rounds: 'hot' is one text"),
        (lambda: wrongly.plan_tasting(2, seats=0), "seats: 0 is too few"),
        (lambda: wrongly.plan_tasting(2, water_c="warm"), "water_c: 'warm' is not a number"),
        (lambda: wrongly.cooling(water_c=15), "water_c: 15 °C is no warmer than the room"),
        (lambda: wrongly.cooling(volume_ml=5), "volume_ml: 5 is out of range"),
        (lambda: wrongly.cooling(probes=[60]), "probes: [60] are no readings. Give pairs"),
        (lambda: wrongly.cooling(level=90), "level: 90 is out of range"),
    ],
)
def test_what_cannot_be_counted_or_planned_is_refused(
    call: Callable[[], object], message: str
) -> None:
    with pytest.raises(InputError) as caught:
        call()
    assert message in str(caught.value)
