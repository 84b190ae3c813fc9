"""How people mark: found where it is, told kindly, and never of one person to another."""

import json
from dataclasses import replace

import numpy as np
import pytest
from tests.debrief.nights import TRUTH, bowls_of, mark, marks, night, tasting

from twobowls.debrief.marking import OwnMarking, OwnSensation, TableMarking
from twobowls.debrief.marking_words import own_sentences, table_sentence
from twobowls.debrief.own import own_debrief
from twobowls.debrief.tasting_debrief import TastingDebrief, debrief_of
from twobowls.interchange.debrief_json import debrief_dict
from twobowls.statistics.correlation import correlation_from
from twobowls.statistics.intervals import Interval
from twobowls.statistics.ratings_results import Estimate
from twobowls.tasting.records import Mark

SENSATIONS = ("acidity", "sweetness", "body", "verdict")


def table_of(seats: int = 5, seed: int = 3) -> TastingDebrief:
    """Seat 1 uses half of the line, seat 2 marks twelve points high, seat 3 marks by chance."""
    of, rng = tasting(seats=seats), np.random.default_rng(seed)
    made: list[Mark] = []
    for round_ in of.setup.rounds:
        for seat in of.seats:
            for bowl in of.plan.bowls:
                for sensation in SENSATIONS:
                    truth = TRUTH[bowl.coffee_id or "oro"][0]
                    if seat.number == 1:
                        truth = 48 + (truth - 48) / 2
                    if seat.number == 3:
                        truth = 48
                    x = truth + 12 * (seat.number == 2) + rng.normal(0, 5)
                    made.append(
                        mark(
                            seat.id,
                            bowl.code,
                            len(made),
                            sensation=sensation,
                            round=round_.key,
                            intensity=float(np.clip(x, 0, 100)),
                        )
                    )
    return debrief_of(night(of, made))


@pytest.fixture(scope="module")
def whole() -> TastingDebrief:
    return table_of()


@pytest.fixture(scope="module")
def marking(whole: TastingDebrief) -> TableMarking:
    assert whole.marking is not None
    return whole.marking


def test_a_narrow_hand_and_a_high_one_are_found(marking: TableMarking) -> None:
    narrow, plain = marking.tasters["1"].spread, marking.tasters["4"].spread
    assert narrow is not None
    assert plain is not None
    assert narrow.interval[1] < plain.interval[0]
    high = marking.tasters["2"].offset
    assert high is not None
    assert high.low < 14 < high.high  # the others' mean counts all of the other four
    assert high.low > 5
    assert marking.spread is not None
    assert marking.spread.interval[0] > 0.1


def test_who_marks_by_chance_is_not_told_to_follow_the_coffees(marking: TableMarking) -> None:
    by_chance = marking.tasters["3"].sensations
    sure = marking.tasters["4"].sensations
    assert all((each.apart or 0) < 0.9 for each in by_chance)
    assert all((each.apart or 0) > 0.99 for each in sure)
    assert [each.sensation for each in marking.sensations] == list(SENSATIONS)
    # the one by chance is never counted; the narrow hand is not always sure enough
    assert all(each.apart in (3, 4) and each.of == 5 for each in marking.sensations)
    agreement = marking.tasters["4"].agreement
    assert agreement is not None
    assert agreement.interval.low > 0.5
    assert agreement.pairs == len(SENSATIONS) * 2 + 1


def test_a_sensation_marked_on_one_coffee_only_says_nothing_and_breaks_nothing() -> None:
    of = tasting(repeats=())
    alone = mark("s1", of.plan.bowls[0].code, 999, sensation="body", intensity=40.0)
    whole = debrief_of(night(of, [*marks(of), alone]))
    told = whole.marking
    assert told is not None
    assert [each.sensation for each in told.sensations] == ["acidity", "verdict"]
    assert told.spread == debrief_of(night(of, marks(of))).marking.spread  # type: ignore[union-attr]


def test_coffees_whose_means_are_all_alike_have_no_reliability() -> None:
    of = tasting(seats=3, coffees=("brisa", "oro"), repeats=())
    brisa, oro = (bowls_of(of, name)[0] for name in ("brisa", "oro"))
    places = [("s1", brisa, 40.0), ("s1", oro, 60.0), ("s2", brisa, 60.0), ("s2", oro, 40.0)]
    places += [("s3", brisa, 50.0), ("s3", oro, 50.0)]
    made = [mark(seat, bowl, n, intensity=x) for n, (seat, bowl, x) in enumerate(places)]
    told = debrief_of(night(of, made)).marking
    assert told is not None
    assert [(each.one, each.mean) for each in told.sensations] == [(None, None)]


def test_with_two_people_nothing_is_told() -> None:
    assert table_of(seats=2).marking is None


def test_the_json_holds_the_table_alone(whole: TastingDebrief) -> None:
    told = debrief_dict(whole)["marking"]
    assert set(told) == {"spread", "sensations"}
    assert "tasters" not in json.dumps(told)


def test_each_seat_gets_its_own(whole: TastingDebrief, marking: TableMarking) -> None:
    for seat in whole.night.tasting.seats:
        assert own_debrief(whole, seat).marking == marking.tasters[str(seat.number)]


SPREAD = Estimate(mean=0.6, se=0.1, interval=(0.45, 0.8))
OWN = OwnMarking(
    sensations=(
        OwnSensation(sensation="aroma", apart=0.4, offset=1.0),
        OwnSensation(sensation="acidity", apart=0.995, offset=9.0),
        OwnSensation(sensation="body", apart=0.97, offset=8.0),
    ),
    spread=SPREAD,
    offset=Interval(9.0, 6.0, 12.0, 0.9),
    agreement=correlation_from(0.9, 15),
)


def test_sentences_are_plain_and_kind() -> None:
    spread, offset, apart, agreement = own_sentences(OWN)
    assert spread == (
        "Along the lines of strength you spread the coffees about 60 % as far as the table does "
        "(45 % to 80 %). There is room towards both ends: what you notice will show more clearly."
    )
    assert offset.startswith("You set your tokens about 9 points further right than the others")
    assert apart == (
        "Your marks tell the coffees apart in acidity (clear) and body (likely). In aroma it is "
        "too early to tell."
    )
    assert agreement.startswith("In what is stronger you agree closely with the others: 0.8")
    assert own_sentences(OWN, swapped=True)[3].endswith("Sour and bitter are left out of this.")


def test_what_cannot_be_told_is_not_told() -> None:
    unknown = OwnMarking(sensations=(), spread=None, offset=None, agreement=None)
    assert own_sentences(unknown) == ()
    backwards = replace(SPREAD, interval=(-0.4, 0.9))
    small = Interval(2.0, 1.0, 3.0, 0.9)
    lost = OwnSensation(sensation="aroma", apart=0.4, offset=1.0)
    (said,) = own_sentences(
        OwnMarking(sensations=(lost,), spread=backwards, offset=small, agreement=None)
    )
    assert said.startswith("From your marks alone we cannot tell yet")


def test_disagreement_is_told_as_a_matter_of_words() -> None:
    apart = replace(OWN, agreement=correlation_from(-0.9, 15))
    assert "Perhaps you mean different things by the words" in own_sentences(apart)[3]
    unsure = replace(OWN, agreement=correlation_from(0.1, 5))
    assert "cannot be told from so few coffees" in own_sentences(unsure)[3]


def test_the_table_is_told_how_differently_it_spreads(marking: TableMarking) -> None:
    assert table_sentence(replace(marking, spread=None)) == ""
    said = table_sentence(replace(marking, spread=replace(SPREAD, mean=0.2, interval=(0.1, 0.4))))
    assert "one in three spreads the coffees more than 20 % (10 % to 40 %) further, or" in said
