"""Hidden repeats, words, picks and changes of mind, on tables small enough to count by hand."""

from math import pi, sqrt

import numpy as np
import pytest
from tests.debrief.nights import bowls_of, mark, night, pick, tasting, word

from twobowls.debrief.changes import changes
from twobowls.debrief.pick_counts import pick_pairs
from twobowls.debrief.rating_table import Factor, RatingTable
from twobowls.debrief.repeatability import repeatability
from twobowls.debrief.words import consensus
from twobowls.statistics.word_shares import mention_shares
from twobowls.tasting.records import Mark, Record
from twobowls.web.debrief_picks import picks_view


def repeats(sd: float, tasters: int, seed: int = 5) -> RatingTable:
    """Two bowls of one coffee, marked once by each taster for 7 sensations."""
    rng = np.random.default_rng(seed)
    sensations = [f"s{number}" for number in range(7)]
    rows = [(t, bowl, s) for t in range(tasters) for bowl in "ab" for s in sensations]
    return RatingTable(
        taster=Factor.of(str(t) for t, _, _ in rows),
        coffee=Factor.of("Oro" for _ in rows),
        bowl=Factor.of(bowl for _, bowl, _ in rows),
        sensation=Factor.of(s for _, _, s in rows),
        intensity=50 + rng.normal(0, sd, len(rows)),
        limits={"intensity": (0, 100)},
    )


def test_many_repeats_show_the_mean_distance_of_two_normal_numbers() -> None:
    (found,) = repeatability(repeats(6.0, 300))
    assert found.table.repeats == 2100
    assert found.table.typical == pytest.approx(6 * 2 / sqrt(pi), rel=0.04)
    low, high = found.table.interval
    assert low < 6 * 2 / sqrt(pi) < high


def test_few_repeats_are_honestly_uncertain() -> None:
    (found,) = repeatability(repeats(6.0, 1))
    low, high = found.table.interval
    assert high / low > 1.8
    assert found.coffees == ("Oro",)


def test_the_interval_covers_as_often_as_it_says() -> None:
    truth = 8 * 2 / sqrt(pi)
    inside = 0
    for seed in range(200):
        low, high = repeatability(repeats(8.0, 2, seed))[0].table.interval
        inside += low <= truth <= high
    # 90 % intervals; 4 of 18 degrees are the prior's, which knows the truth about well
    assert 172 <= inside <= 198


def test_rounds_of_one_pair_are_not_counted_as_new_repeats() -> None:
    once = repeats(6.0, 3)
    thrice = RatingTable(
        taster=Factor.of(once.taster.values() * 3),
        coffee=Factor.of(["Oro"] * len(once) * 3),
        bowl=Factor.of((once.bowl.values() if once.bowl else []) * 3),
        sensation=Factor.of((once.sensation.values() if once.sensation else []) * 3),
        round=Factor.of([each for each in ("hot", "warm", "cool") for _ in range(len(once))]),
        intensity=np.tile(once.intensity if once.intensity is not None else [], 3),
        limits=once.limits,
    )
    (first,), (second,) = repeatability(once), repeatability(thrice)
    assert second.table.repeats == first.table.repeats
    assert second.table.typical == pytest.approx(first.table.typical)


def test_without_repeats_nothing_is_said() -> None:
    table = repeats(6.0, 2)
    alone = RatingTable(
        taster=table.taster,
        coffee=Factor.of(table.bowl.values() if table.bowl else []),
        bowl=table.bowl,
        sensation=table.sensation,
        intensity=table.intensity,
        limits=table.limits,
    )
    assert repeatability(alone) == ()


def test_a_family_counts_once_a_seat_and_finer_words_roll_up() -> None:
    of = tasting()
    one, two = bowls_of(of, "oro")
    said: list[Record] = [
        word("s1", one, "fruity", 1, term="citrus", feeling="liked"),
        word("s1", two, "fruity", 2, term="citrus", feeling="liked"),
        word("s1", one, "fruity", 3, feeling="neutral"),
        word("s2", two, "fruity", 4, term="dried-fruit", feeling="disliked"),
        word("s3", one, "cocoa", 5),
        mark("s4", one, 6),
    ]
    (oro,) = consensus(night(of, said))
    assert oro.coffee == "Oro"
    fruity, cocoa = oro.families
    assert (fruity.name, fruity.seats, fruity.of) == ("Fruity", 2, 4)
    assert (fruity.liked, fruity.disliked) == (1, 1)
    assert fruity.finer == (("citrus", 1), ("dried fruit", 1))
    assert (cocoa.seats, cocoa.of) == (1, 4)


def test_shares_are_those_of_the_statistics() -> None:
    of = tasting()
    (oro, _), (brisa,) = bowls_of(of, "oro"), bowls_of(of, "brisa")
    said: list[Record] = [word(f"s{seat}", oro, "nutty", seat) for seat in (1, 2, 3, 4)]
    said += [word("s1", brisa, "nutty", 5), word("s1", brisa, "cocoa", 6), mark("s2", brisa, 7)]
    found = {each.coffee: each.families for each in consensus(night(of, said))}
    # families in the lexicon's own order: cocoa, nutty
    order = list(dict.fromkeys(night(of, said).labels.values()))
    counts = {"Oro": ([0, 4], 4), "Brisa": ([1, 1], 2)}
    named = [each for each in order if each in counts]
    shares = dict(
        zip(
            named,
            mention_shares(
                [counts[each][0] for each in named], [counts[each][1] for each in named]
            ),
            strict=True,
        )
    )
    (nutty,) = found["Oro"]
    assert nutty.share == pytest.approx(shares["Oro"][1].estimate)
    assert nutty.interval == pytest.approx((shares["Oro"][1].low, shares["Oro"][1].high))
    assert nutty.share < 1.0
    assert {each.family for each in found["Brisa"]} == {"cocoa", "nutty"}


def test_a_word_taken_back_is_gone() -> None:
    of = tasting()
    bowl = bowls_of(of, "oro")[0]
    said = [word("s1", bowl, "spice", 1), word("s1", bowl, "spice", 2, feeling="removed")]
    assert consensus(night(of, said)) == ()


def test_picks_are_counted_by_coffee_and_the_latest_of_a_seat_counts() -> None:
    of = tasting()
    oro, again = bowls_of(of, "oro")
    (brisa,) = bowls_of(of, "brisa")
    picks = [
        pick("s1", oro, brisa, oro, 1),
        pick("s1", brisa, again, brisa, 2, round="cool"),
        pick("s2", oro, brisa, brisa, 3),
        pick("s3", again, brisa, "same", 4),
        pick("s4", oro, again, oro, 5),
    ]
    (pair,) = pick_pairs(night(of, picks))
    assert (pair.a, pair.b, pair.for_a, pair.for_b, pair.same) == ("Brisa", "Oro", 2, 0, 1)
    assert pair.share == pytest.approx(3.5 / 5)
    # R 4.2.2: qbeta(c(.05, .95), 3.5, 1.5) and 1 - pbeta(.5, 3.5, 1.5)
    assert pair.interval == pytest.approx((0.3492928, 0.9539928), abs=5e-7)
    assert pair.probability == pytest.approx(0.8395305, abs=5e-7)
    assert pair.evidence == "leaning"


def test_changes_of_mind_and_of_favourites_are_counted() -> None:
    of = tasting(seats=2)
    (brisa,), (umbra,) = bowls_of(of, "brisa"), bowls_of(of, "umbra")

    def verdicts(seat: str, round_: str, first: float, second: float, number: int) -> list[Mark]:
        return [
            mark(seat, brisa, number, round=round_, liking=first),
            mark(seat, umbra, number + 1, round=round_, liking=second),
        ]

    history = [
        *verdicts("s1", "hot", 80, 20, 1),
        *verdicts("s2", "hot", 30, 60, 11),
        mark("s2", umbra, 19, round="hot", liking=75.0),
        *verdicts("s1", "warm", 40, 60, 21),
        *verdicts("s2", "warm", 30, 60, 31),
        mark("s2", umbra, 39, round="warm", liking=61.0),
        *verdicts("s1", "cool", 30, 60, 41),
        *verdicts("s2", "cool", 30, 60, 51),
    ]
    found = changes(night(of, history))
    seen = [
        (each.round, each.marks, each.moved, each.new_favourite, each.of) for each in found.rounds
    ]
    assert seen == [("hot", 4, 1, 0, 0), ("warm", 4, 0, 1, 2), ("cool", 4, 0, 0, 2)]
    assert found.settled == "Warm"


def test_the_typical_gap_is_the_median_of_its_posterior() -> None:
    # 35 repeats and 4 degrees of the prior; R 4.2.2: qchisq(c(.05, .5, .95), 39)
    quantiles = (25.69539, 38.3354, 54.57223)
    table = repeats(6.0, 5)
    assert table.intensity is not None
    pairs = table.intensity.reshape(5, 2, 7)
    squares = float(((pairs[:, 0] - pairs[:, 1]) ** 2 / 2).sum())
    high, middle, low = (
        2 / sqrt(pi) * sqrt((4 * 10**2 + squares) / quantile) for quantile in quantiles
    )
    (found,) = repeatability(table)
    assert found.table.repeats == 35
    assert found.table.typical == pytest.approx(middle, rel=1e-6)
    assert found.table.interval == pytest.approx((low, high), rel=1e-6)


def test_picks_of_several_rounds_are_shown_round_by_round_beside_the_last_word() -> None:
    of = tasting()
    (brisa,), (umbra,), oro = (bowls_of(of, each) for each in ("brisa", "umbra", "oro"))
    picks = [
        pick("s1", brisa, umbra, umbra, 1),
        pick("s2", brisa, umbra, brisa, 2),
        pick("s1", brisa, umbra, brisa, 3, round="cool"),
        pick("s2", umbra, brisa, brisa, 4, round="cool"),
        pick("s3", umbra, brisa, "same", 5, round="cool"),
        pick("s1", brisa, oro[0], brisa, 6),
        pick("s1", brisa, oro[1], oro[1], 7),  # the same round and coffees: the later counts
    ]
    pairs = pick_pairs(night(of, picks))
    first = pairs[0]
    assert (first.a, first.for_a, first.for_b, first.same) == ("Brisa", 2, 0, 1)
    rounds = {each.round: (each.for_a, each.for_b, each.same) for each in first.rounds}
    assert rounds == {"hot": (1, 1, 0), "cool": (2, 0, 1)}
    assert [(each.for_a, each.for_b) for each in pairs[1].rounds] == [(1, 0)]
    names = {each.key: each.name for each in of.setup.rounds}
    view = picks_view(pairs, (), names)
    assert view is not None
    assert view.rounds is not None
    assert view.rounds.header == ("Question", "Pair", "Hot", "Cool")
    (row,) = view.rounds.rows
    assert row.cells == (
        "Verdict: which is better",
        "Brisa over Umbra",
        "1 to 1",
        "2 to 0, same 1",
    )
    assert [row.cells[1] for row in view.pairs.rows] == ["Brisa over Umbra", "Oro over Brisa"]


def test_picks_of_one_round_have_no_table_by_rounds() -> None:
    of = tasting()
    (brisa,), (umbra,) = bowls_of(of, "brisa"), bowls_of(of, "umbra")
    view = picks_view(pick_pairs(night(of, [pick("s1", brisa, umbra, brisa, 1)])), (), {"hot": "H"})
    assert view is not None
    assert view.rounds is None
