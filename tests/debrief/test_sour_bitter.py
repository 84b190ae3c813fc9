"""The private hint about sour and bitter: found where it is, silent elsewhere."""

import numpy as np
from tests.debrief.nights import mark, night, tasting

from twobowls.debrief.own import own_debrief, sour_bitter_sentence
from twobowls.debrief.sour_bitter import sour_bitter
from twobowls.debrief.tables import Evening, rating_table
from twobowls.debrief.tasting_debrief import debrief_of
from twobowls.tasting.records import Mark

SOUR = {"brisa": 80.0, "oro": 50.0, "umbra": 20.0}
BITTER = {"brisa": 25.0, "oro": 35.0, "umbra": 85.0}


def table_of(mixed_up: str, seats: int = 5, noise: float = 4.0) -> Evening:
    """Every seat marks acidity and bitterness; one uses the two words the other way round."""
    of = tasting(seats=seats)
    rng = np.random.default_rng(8)
    made: list[Mark] = []
    for round_ in of.setup.rounds:
        for seat in of.seats:
            for bowl in of.plan.bowls:
                truth = {"acidity": SOUR, "bitterness": BITTER}
                if seat.id == mixed_up:
                    truth = {"acidity": BITTER, "bitterness": SOUR}
                for sensation, values in truth.items():
                    here = values[bowl.coffee_id or ""] + rng.normal(0, noise)
                    made.append(
                        mark(
                            seat.id,
                            bowl.code,
                            len(made),
                            round=round_.key,
                            sensation=sensation,
                            intensity=float(np.clip(here, 0, 100)),
                        )
                    )
    return night(of, made)


def test_the_one_who_mixes_up_the_words_is_told_and_nobody_else() -> None:
    hints = sour_bitter(rating_table(table_of("s3")))
    assert list(hints) == ["3"]
    assert hints["3"].chance >= 0.90


def test_where_nobody_does_nothing_is_said() -> None:
    assert sour_bitter(rating_table(table_of("nobody"))) == {}


def test_two_tasters_are_too_few_to_say_who_is_right() -> None:
    assert sour_bitter(rating_table(table_of("s2", seats=2))) == {}


def test_the_hint_is_on_the_private_page_of_that_seat_only() -> None:
    found = debrief_of(table_of("s3"))
    seats = found.night.tasting.seats
    hints = [own_debrief(found, seat).sour_bitter for seat in seats]
    assert [hint is not None for hint in hints] == [False, False, True, False, False]
    assert hints[2] is not None
    said = sour_bitter_sentence(hints[2])
    assert "That is no matter of the tongue" in said
