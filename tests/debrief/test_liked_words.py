"""Words and liking of an evening: who counts, when nothing is told, and how it is said."""

from collections.abc import Iterable

import numpy as np
import pytest
from tests.debrief.nights import bowls_of, mark, night, tasting, word

from twobowls.debrief.liked_words import (
    FamilyLift,
    LikedWords,
    family_sentence,
    liked_words,
    liking_sentences,
    liking_tally,
    own_liking,
)
from twobowls.debrief.own import own_debrief
from twobowls.debrief.tasting_debrief import debrief_of
from twobowls.interchange.debrief_json import debrief_dict
from twobowls.statistics.intervals import Interval
from twobowls.statistics.shared_lift import shared_lift
from twobowls.tasting.records import Record
from twobowls.tasting.tasting import Tasting

COFFEES = ("brisa", "oro", "umbra")


def verdicts(of: Tasting, liking: dict[tuple[str, str], float]) -> list[Record]:
    """Let each seat like each coffee so much, in all of its bowls."""
    cells = [(seat, code, y) for (seat, what), y in liking.items() for code in bowls_of(of, what)]
    return [mark(seat, code, n, liking=y) for n, (seat, code, y) in enumerate(cells)]


def said(of: Tasting, cells: Iterable[tuple[str, str]], family: str = "fruity") -> list[Record]:
    return [
        word(seat, bowls_of(of, coffee)[0], family, 1000 + n)
        for n, (seat, coffee) in enumerate(cells)
    ]


def evening(seats: int = 6) -> tuple[Tasting, dict[tuple[str, str], float], list[tuple[str, str]]]:
    """A table on which everybody likes two of three coffees more, and calls just those fruity."""
    of = tasting(seats=seats)
    rng = np.random.default_rng(3)
    pairs = [(f"s{n}", coffee) for n in range(1, seats + 1) for coffee in COFFEES]
    fruity = [pair for n, pair in enumerate(pairs) if (n + n // 3) % 3 and (n * 7) % 5]
    liking = {
        pair: 45 + 25 * (pair in fruity) + float(rng.normal(0, 3)) + 5 * (pair[0] == "s2")
        for pair in pairs
    }
    return of, liking, fruity


def test_a_person_and_coffee_is_one_observation_whatever_the_bowls() -> None:
    of, liking, fruity = evening()
    one, two = bowls_of(of, "oro")
    twice = [word("s1", one, "fruity", 2000), word("s1", two, "fruity", 2001, term="citrus")]
    found = liked_words(night(of, [*verdicts(of, liking), *said(of, fruity), *twice]))
    assert found is not None
    (family,) = found.families
    own = {*fruity, ("s1", "oro")}
    keys = sorted((seat, coffee.capitalize()) for seat, coffee in liking)
    (expected,) = shared_lift(
        [seat for seat, _ in keys],
        [coffee for _, coffee in keys],
        [liking[seat, coffee.lower()] for seat, coffee in keys],
        [[(seat, coffee.lower()) in own] for seat, coffee in keys],
        ["fruity"],
    )
    assert (family.said, family.of) == (len(own), 18)
    assert expected.lift is not None
    assert family.lift.estimate == pytest.approx(expected.lift.estimate)
    assert (found.tasters, found.coffees) == (6, 3)


def test_what_goes_with_liking_is_told_with_its_interval_and_its_cost() -> None:
    of, liking, fruity = evening()
    whole = debrief_of(night(of, [*verdicts(of, liking), *said(of, fruity)]))
    found = whole.liked_words
    assert found is not None
    (text,) = liking_sentences(found)
    assert text.startswith("Where people said “Fruity”, they liked the coffee about ")
    assert text.endswith(": clear.")
    assert "points better (" in text
    assert liking_tally(found) == (
        "1 kind of flavour was looked at, 1 statement made: fewer than 0.1 expected to be wrong."
    )
    mine = {seat for seat, _ in fruity}
    for seat in of.seats:
        told = own_debrief(whole, seat).liking
        assert told == ((f"Over the whole table: w{text[1:]}",) if seat.id in mine else ())
    (family,) = debrief_dict(whole)["word_liking"]["families"]
    assert (family["name"], family["evidence"]) == ("Fruity", "clear")
    assert family["interval"][0] < family["difference"] < family["interval"][1]


def test_what_goes_with_nothing_is_said_not_to_be_clear() -> None:
    of, liking, fruity = evening()
    rng = np.random.default_rng(4)
    flat = {pair: 50 + float(rng.normal(0, 8)) for pair in liking}
    rare = said(of, fruity[:1], "spice")
    whole = debrief_of(night(of, [*verdicts(of, flat), *said(of, fruity), *rare]))
    found = whole.liked_words
    assert found is not None
    assert [each.evidence for each in found.families] == ["cannot tell"]
    assert liking_sentences(found) == (
        "Where people said “Fruity”, it is not clear whether they liked the coffee better or less.",
        "“Spice” was said, or left out, too seldom to look at.",
    )
    assert liking_tally(found) == ""
    seat = next(each for each in of.seats if each.id == fruity[0][0])
    assert own_debrief(whole, seat).liking == (
        "Whether your words go with liking is not clear from this table.",
    )


@pytest.mark.parametrize(
    ("seats", "kept", "reason"),
    [
        (2, 9, "it takes verdicts of 3 people, and there are those of 2 people"),
        (1, 9, "it takes verdicts of 3 people, and there are those of 1 person"),
        (4, 2, "it takes a word that was said 3 times and left out 3 times"),
    ],
)
def test_too_little_is_said_to_be_too_little(seats: int, kept: int, reason: str) -> None:
    of, liking, fruity = evening(seats)
    found = liked_words(night(of, [*verdicts(of, liking), *said(of, fruity[:kept])]))
    assert found is not None
    assert found.families == ()
    assert liking_sentences(found) == (
        f"Whether any of these words goes with liking cannot be told: {reason}.",
    )
    assert own_liking(found, {"fruity"}) == (
        "Whether your words go with liking is not clear from this table.",
    )


def test_without_words_or_verdicts_there_is_nothing() -> None:
    of, liking, fruity = evening()
    assert liked_words(night(of, verdicts(of, liking))) is None
    assert liked_words(night(of, said(of, fruity))) is None
    assert own_liking(None, {"fruity"}) == ()


def test_a_word_taken_back_does_not_count() -> None:
    of, liking, fruity = evening()
    gone = [
        word(seat, bowls_of(of, coffee)[0], "fruity", 5000 + n, feeling="removed")
        for n, (seat, coffee) in enumerate(fruity)
    ]
    assert liked_words(night(of, [*verdicts(of, liking), *said(of, fruity), *gone])) is None


def lift_of(estimate: float, low: float, high: float, probability: float) -> FamilyLift:
    return FamilyLift(
        family="nutty",
        name="Nutty",
        said=5,
        of=15,
        lift=Interval(estimate, low, high, 0.9),
        probability=probability,
        same_coffee=None,
    )


@pytest.mark.parametrize(
    ("lift", "text"),
    [
        (lift_of(9.4, 3.2, 15.9, 0.97), "about 9 points better (3 to 16): likely."),
        (lift_of(-9.4, -15.9, -3.2, 0.004), "about 9 points less (3 to 16): clear."),
        (lift_of(-13, -36, 9, 0.17), "about 13 points less (from 9 better to 36 less): leaning."),
        (lift_of(4, -1.2, 9, 0.88), "about 4 points better (from 1 less to 9 better): leaning."),
        (lift_of(1.1, 0.2, 2, 0.97), "about 1 point better (0 to 2): likely."),
    ],
)
def test_a_lift_is_said_in_its_own_direction(lift: FamilyLift, text: str) -> None:
    assert family_sentence(lift) == f"Where people said “Nutty”, they liked the coffee {text}"


def test_the_cost_of_several_statements_is_their_sum() -> None:
    found = LikedWords(
        families=(lift_of(9, 3, 15, 0.97), lift_of(-7, -16, 3, 0.18), lift_of(0, -9, 9, 0.5)),
        too_few=(),
        tasters=5,
        coffees=3,
    )
    assert found.expected_false == pytest.approx(0.03 + 0.18)
    assert liking_tally(found) == (
        "3 kinds of flavour were looked at, 2 statements made: about 0.2 expected to be wrong."
    )
