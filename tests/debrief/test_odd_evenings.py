"""Evenings that are hardly any: every page and file is there, with numbers that are numbers."""

import json
from collections.abc import Callable
from dataclasses import replace

import pytest
from tests.debrief.nights import closed, marks, night, pick, tasting

from twobowls.debrief.own import own_debrief
from twobowls.debrief.tasting_debrief import debrief_of
from twobowls.interchange.debrief_json import debrief_dict
from twobowls.tasting.records import Mark, Pick
from twobowls.tasting.tasting import Tasting
from twobowls.web.debrief_view import tasting_view
from twobowls.web.private_view import private_view

TWO = tasting(seats=2, coffees=("brisa", "oro"), repeats=())


def picks(of: Tasting) -> list[Pick]:
    """Return a pick of every two bowls by every seat, always the first."""
    codes = [bowl.code for bowl in of.plan.bowls]
    pairs = [(a, b) for i, a in enumerate(codes) for b in codes[i + 1 :]]
    return [
        pick(seat.id, a, b, a, number)
        for number, (seat, (a, b)) in enumerate((s, p) for s in of.seats for p in pairs)
    ]


def as_made(mark: Mark) -> Mark | None:
    return mark


def one_round(mark: Mark) -> Mark | None:
    return mark if (mark.round, mark.sensation) == ("hot", "verdict") else None


def all_alike(mark: Mark) -> Mark | None:
    return replace(mark, intensity=50.0, liking=50.0)


def at_the_ends(mark: Mark) -> Mark | None:
    x, y = mark.intensity or 0.0, mark.liking or 0.0
    return replace(mark, intensity=100.0 * (x > 50), liking=100.0 * (y > 50))


def liking_only(mark: Mark) -> Mark | None:
    return replace(mark, intensity=None)


def one_person_first(mark: Mark) -> Mark | None:
    return mark if mark.seat == "s1" and mark.round == "hot" else None


def nothing(mark: Mark) -> Mark | None:
    return None


@pytest.mark.parametrize(
    ("of", "change"),
    [
        (tasting(), at_the_ends),
        (tasting(), all_alike),
        (tasting(), liking_only),
        (tasting(), one_person_first),
        (tasting(), nothing),
        (tasting(seats=1), as_made),
        (closed(tasting()), as_made),
        (TWO, as_made),
        (TWO, one_round),
    ],
)
def test_an_odd_evening_has_its_debrief(of: Tasting, change: Callable[[Mark], Mark | None]) -> None:
    seen = [kept for each in marks(of) if (kept := change(each)) is not None]
    whole = debrief_of(night(of, [*seen, *picks(of)]))
    text = json.dumps(debrief_dict(whole), allow_nan=False)
    assert len(json.loads(text)["fits"]) == len(whole.analysis.fits)
    assert all(0.0 <= move.after <= 1.0 for each in whole.joined for move in each.table)
    view = tasting_view(whole)
    assert bool(view.numbers) == bool(seen)
    for seat in of.seats:
        own = own_debrief(whole, seat)
        page = private_view(whole, seat, own)
        assert page.nickname == seat.nickname
        assert bool(page.marks) == any(
            mark.seat == seat.id and mark.intensity is not None for mark in seen
        )
