"""Picks beside the marks: what counts, what they move, and that nothing else changes."""

from dataclasses import replace

import pytest
from tests.debrief.nights import bowls_of, marks, night, pick, tasting

from twobowls.debrief.joined_picks import JoinedPicks, WithPicks, move_sentence, moved_tally
from twobowls.debrief.pick_counts import pick_rows
from twobowls.debrief.tables import Evening
from twobowls.debrief.tasting_debrief import debrief_of
from twobowls.interchange.analysis_json import analysis_dict
from twobowls.interchange.debrief_json import debrief_dict
from twobowls.tasting.records import Pick


def blurred(extra: list[Pick]) -> Evening:
    """Return a night of noisy marks, one round, with some picks."""
    of = tasting()
    seen = [each for each in marks(of, noise=24, seed=9) if each.round == "hot"]
    return night(of, [*seen, *extra])


def agreeing() -> list[Pick]:
    """Return picks of Brisa over Oro and Umbra by every seat, and two that do not count."""
    of = tasting()
    (brisa,), (umbra,) = bowls_of(of, "brisa"), bowls_of(of, "umbra")
    oro, again = bowls_of(of, "oro")
    made: list[Pick] = []
    for seat in ("s1", "s2", "s3", "s4"):
        made.append(pick(seat, brisa, oro, brisa, len(made)))
        made.append(pick(seat, umbra, brisa, brisa, len(made)))
    made.append(pick("s1", oro, again, oro, 20))
    made.append(pick("s1", brisa, umbra, "same", 21, sensation="sweetness"))
    return made


def test_picks_join_the_marks_of_their_sensation_and_scale() -> None:
    found = debrief_of(blurred(agreeing())).joined
    assert [(each.id, each.picks, each.seats, each.same) for each in found] == [
        ("verdict-liking", 8, 4, 0)
    ]
    for each in found[0].table:
        if each.a == "Brisa":
            assert each.push > 0.1
            assert each.after > each.before


def test_the_marks_own_figures_stay_as_they_are() -> None:
    with_them, without = debrief_of(blurred(agreeing())), debrief_of(blurred([]))
    assert without.joined == ()
    assert analysis_dict(with_them.analysis) == analysis_dict(without.analysis)
    whole = debrief_dict(with_them)
    (fit,) = (each for each in whole["fits"] if each["id"] == "verdict-liking")
    (joined,) = whole["with_picks"]
    assert (joined["fit"], joined["picks"], joined["seats"]) == ("verdict-liking", 8, 4)
    chances = {each["id"]: each["probability"] for each in fit["table"]["contrasts"]}
    for each in joined["table"]:
        alone = chances[each["contrast"]]
        assert each["marks_alone"]["probability"] == pytest.approx(max(alone, 1 - alone))
    assert debrief_dict(without)["with_picks"] == []


def test_a_picker_without_marks_is_left_out() -> None:
    of = tasting()
    seen = [each for each in marks(of) if each.seat != "s4"]
    (brisa,), (umbra,) = bowls_of(of, "brisa"), bowls_of(of, "umbra")
    picks = [pick("s4", brisa, umbra, umbra, 1), pick("zz", brisa, umbra, umbra, 2)]
    assert debrief_of(night(of, [*seen, *picks])).joined == ()


def moved(before: float, after: float, push: float) -> WithPicks:
    return WithPicks(
        id="verdict-liking--1-2",
        a="Brisa",
        b="Oro",
        before=before,
        after=after,
        push=push,
        difference=8,
        se=4,
        interval=(1, 15),
    )


_JOINED = JoinedPicks(
    id="verdict-liking",
    sensation="verdict",
    scale="liking",
    picks=8,
    seats=4,
    same=0,
    table=(),
    people=(),
    slope=0.1,
)


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        (0.93, 0.97, "Brisa is liked better than Oro: leaning by the marks, likely with the"
         " picks."),
        (0.6, 0.9, "Brisa is liked better than Oro: the marks alone cannot tell, leaning with"
         " the picks."),
        (0.9, 0.7, "Brisa is liked better than Oro: leaning by the marks, with the picks we cannot"
         " tell."),
        (0.6, 0.04, "Brisa is liked better than Oro: the marks alone cannot tell, with the picks"
         " likely the other way round."),
    ],
)  # fmt: skip
def test_a_move_is_told_plainly(before: float, after: float, said: str) -> None:
    assert move_sentence("verdict", "liking", moved(before, after, 1.0)) == said


def test_only_what_the_picks_pushed_has_moved() -> None:
    assert moved(0.93, 0.97, 0.4).moved
    assert not moved(0.949, 0.951, 0.02).moved
    assert not moved(0.96, 0.98, 0.4).moved


def test_a_statement_that_the_picks_turn_round_has_moved_and_counts() -> None:
    turned = moved(0.6, 0.04, -2.0)
    assert (turned.moved, turned.turned, turned.words) == (True, True, ("cannot tell", "likely"))
    assert moved(0.85, 0.15, -2.0).moved  # leaning, the other way round
    assert not moved(0.6, 0.4, -0.5).moved
    one = replace(_JOINED, table=(turned,))
    assert moved_tally([one]) == "1 statement with the picks: fewer than 0.1 expected to be wrong."


def test_moved_statements_come_with_how_many_may_be_wrong() -> None:
    held = (moved(0.93, 0.97, 0.4), moved(0.6, 0.85, 0.8), moved(0.9, 0.7, -0.8))
    one = replace(_JOINED, table=held)
    assert moved_tally([one]) == "2 statements with the picks: about 0.2 expected to be wrong."
    assert moved_tally([replace(one, table=())]) == ""


def test_the_export_has_every_pick_and_says_which_count() -> None:
    of = tasting()
    (brisa,), (umbra,) = bowls_of(of, "brisa"), bowls_of(of, "umbra")
    rows = pick_rows(
        night(
            of,
            [
                pick("s2", brisa, umbra, "same", 7, round="cool"),
                pick("s2", brisa, umbra, brisa, 3),
            ],
        )
    )
    assert [(row.answer, row.picked, row.counts) for row in rows] == [
        (brisa, "Brisa", 0),
        ("same", "same", 1),
    ]
    assert (rows[0].nickname, rows[0].coffee_a, rows[0].coffee_b) == ("Ben", "Brisa", "Umbra")
