"""From records to tables: which mark counts, what a bowl is called, where it stood."""

import numpy as np
import pytest
from tests.debrief.nights import bowls_of, closed, mark, marks, night, tasting

from twobowls.debrief.analysis import POPULATIONS, analyse
from twobowls.debrief.tables import mark_rows, positions, rating_table
from twobowls.interchange.marks_csv import marks_csv
from twobowls.interchange.ratings_file import Choices, read_ratings
from twobowls.tasting.planning import order_for
from twobowls.tasting.records import Mark


def test_the_latest_mark_of_a_round_counts() -> None:
    of = tasting()
    bowl = of.plan.bowls[0].code
    history = [
        mark("s1", bowl, 1, intensity=10.0),
        mark("s1", bowl, 2, intensity=80.0),
        mark("s1", bowl, 3, round="warm", intensity=40.0),
    ]
    table = rating_table(night(of, history))
    assert table.intensity is not None
    assert table.intensity.tolist() == [80, 40]
    rows = mark_rows(night(of, history))
    assert [(row.intensity, row.counts) for row in rows] == [(10, 0), (80, 1), (40, 1)]


def test_bowls_of_a_coffee_share_its_name_only_once_revealed() -> None:
    of = tasting()
    made = marks(of)
    shown = rating_table(night(of, made))
    assert sorted(shown.coffee.labels) == ["Brisa", "Oro", "Umbra"]
    assert shown.bowl is not None
    assert len(shown.bowl.labels) == 4
    hidden = rating_table(night(closed(of), made))
    assert sorted(hidden.coffee.labels) == sorted(bowl.code for bowl in of.plan.bowls)
    assert hidden.bowl is None


def test_a_position_is_the_bowls_place_in_the_seats_own_order() -> None:
    of = tasting()
    seat = of.seats[2]
    order = order_for(of.plan, seat.number)
    assert positions(of, seat) == {code: place for place, code in enumerate(order, start=1)}
    table = rating_table(night(of, [mark(seat.id, order[1])]))
    assert table.position is not None
    assert table.position.values() == ["2"]


def test_sensations_and_rounds_come_in_their_own_order() -> None:
    of = tasting()
    bowl = of.plan.bowls[0].code
    made = [
        mark("s1", bowl, 1, sensation="verdict", round="cool"),
        mark("s1", bowl, 2, sensation="acidity", round="hot"),
        mark("s1", bowl, 3, sensation="body", round="warm"),
    ]
    table = rating_table(night(of, made))
    assert table.sensation is not None
    assert table.sensation.labels == ("acidity", "body", "verdict")
    assert table.round is not None
    assert table.round.labels == ("hot", "warm", "cool")


def test_a_mark_with_one_value_counts_on_that_scale_only() -> None:
    of = tasting()
    bowl = of.plan.bowls[0].code
    table = rating_table(night(of, [mark("s1", bowl, liking=None)]))
    assert [(part.sensation, part.scale) for part in table.parts()] == [("verdict", "intensity")]
    assert (
        rating_table(night(of, [mark("s1", bowl, intensity=None, liking=None)])).parts() is not None
    )
    assert len(rating_table(night(of, [mark("s1", bowl, intensity=None, liking=None)]))) == 0


def test_the_export_read_back_gives_the_same_figures() -> None:
    of = tasting()
    made = marks(of)
    made.append(mark("s1", bowls_of(of, "oro")[0], 5000, sensation="verdict", intensity=91.0))
    here = night(of, made)
    text = marks_csv(mark_rows(here))
    file = read_ratings(text.encode())
    assert file.mapping.columns["taster"] == "seat"
    assert set(file.mapping.columns) == {
        "taster",
        "coffee",
        "sensation",
        "intensity",
        "liking",
        "round",
        "position",
        "bowl",
        "flight",
        "counts",
        "kept",
    }
    assert file.table.limits == {"intensity": (0, 100), "liking": (0, 100)}
    assert file.rows == len(made)
    assert file.used == len(made) - 1
    page, again = analyse(rating_table(here)), analyse(file.table)
    assert [fit.id for fit in page.fits] == [fit.id for fit in again.fits]
    for one, two in zip(page.fits, again.fits, strict=True):
        for a, b in zip(one.fit.people.contrasts, two.fit.people.contrasts, strict=True):
            assert (a.a, a.b) == (b.a, b.b)
            assert np.isclose(a.estimate.mean, b.estimate.mean, rtol=1e-9, atol=1e-9)
            assert np.isclose(a.probability, b.probability, atol=1e-9)


def test_a_small_scale_of_marks_is_still_read_as_ours() -> None:
    of = tasting()
    low = [mark("s1", bowl.code, 1, intensity=4.0, liking=7.0) for bowl in of.plan.bowls]
    file = read_ratings(marks_csv(mark_rows(night(of, low))).encode(), Choices())
    assert file.table.limits["intensity"] == (0, 100)


def test_a_name_that_looks_like_a_formula_is_made_harmless_and_read_back() -> None:
    of = tasting()
    here = night(of, marks(of))
    here.labels.update(dict.fromkeys(bowls_of(of, "brisa"), "=2+5"))
    text = marks_csv(mark_rows(here))
    assert ",'=2+5," in text
    assert ",=2+5," not in text
    assert "=2+5" in read_ratings(text.encode()).table.coffee.labels


def test_the_export_tells_a_kept_mark_from_a_fresh_one() -> None:
    of = tasting()
    bowl = of.plan.bowls[0].code
    made = [mark("s1", bowl, 1), mark("s1", bowl, 2, round="warm", kept=True)]
    here = night(of, made)
    assert [row.kept for row in mark_rows(here)] == [0, 1]
    text = marks_csv(mark_rows(here)).splitlines()
    assert [line.rsplit(",", 1)[1] for line in text] == ["kept", "0", "1"]
    read = read_ratings("\n".join(text).encode()).table
    assert read.kept is not None
    assert read.kept.tolist() == [False, True]


def test_a_kept_mark_and_the_one_it_repeats_are_one_placing() -> None:
    of = tasting()
    bowl, other = of.plan.bowls[0].code, of.plan.bowls[1].code
    made = [
        mark("s1", bowl, 1, intensity=30.0, liking=60.0),
        mark("s1", bowl, 2, round="warm", intensity=30.0, liking=60.0, kept=True),
        mark("s1", bowl, 3, round="cool", intensity=30.0, liking=60.0, kept=True),
        mark("s1", other, 4, round="warm", intensity=30.0, liking=60.0),
        mark("s1", other, 5, round="cool", intensity=30.0, liking=60.0),  # put there once more
        mark("s2", bowl, 6, round="warm", intensity=30.0, liking=60.0, kept=True),  # of what?
        mark("s2", bowl, 7, round="cool", intensity=30.0, liking=60.0, kept=True),
    ]
    table = rating_table(night(of, made))
    assert len(table) == 7
    for part in table.parts():
        assert part.rows.tolist() == [0, 3, 4, 5]


@pytest.mark.parametrize("revealed", [True, False])
def test_a_table_that_keeps_everything_is_as_sure_as_with_one_round(revealed: bool) -> None:
    of = tasting() if revealed else closed(tasting())
    rng = np.random.default_rng(4)
    first: list[Mark] = []
    later: list[Mark] = []
    for seat in of.seats[:3]:
        for bowl in of.plan.bowls:
            value, number = float(rng.uniform(20, 80)), len(first)
            first.append(mark(seat.id, bowl.code, number, intensity=value, liking=None))
            for k, name in enumerate(("warm", "cool"), start=1):
                own: dict[str, object] = {
                    "round": name,
                    "intensity": value,
                    "liking": None,
                    "kept": True,
                }
                later.append(mark(seat.id, bowl.code, 100 * k + number, **own))
    once = analyse(rating_table(night(of, first)))
    kept = analyse(rating_table(night(of, first + later)))
    for population in POPULATIONS:
        for a, b in zip(
            once.fits[0].means(population).contrasts,
            kept.fits[0].means(population).contrasts,
            strict=True,
        ):
            assert b.estimate.se == pytest.approx(a.estimate.se, rel=0.02)
            assert b.estimate.mean == pytest.approx(a.estimate.mean, abs=0.02 * a.estimate.se)
