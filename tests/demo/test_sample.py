from collections.abc import Iterator
from pathlib import Path

import pytest

from twobowls.demo import load_sample
from twobowls.demo.table import HABITS, PEOPLE, SHELF, STRENGTH
from twobowls.store import Store, open_store
from twobowls.tasting.lexicon import word_name
from twobowls.tasting.records import Mark, Pick, Word, latest_marks
from twobowls.tasting.sensations import SENSATIONS

NOW_MS = 1_795_600_000_000


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "sample.sqlite3") as opened:
        yield opened


def test_the_sample_fills_an_empty_store_once(store: Store) -> None:
    assert load_sample(store, NOW_MS)
    assert not load_sample(store, NOW_MS)

    assert [coffee.name for coffee in store.coffees()] == [coffee.name for coffee in SHELF]
    assert sorted(tasting.state for tasting in store.tastings()) == ["planned", "revealed"]


def test_every_person_marks_every_bowl_on_every_pad_in_every_round(store: Store) -> None:
    load_sample(store, NOW_MS)
    finished = next(each for each in store.tastings() if each.state == "revealed")
    records = store.records(finished.id)
    marks = [each for each in records if isinstance(each, Mark)]

    assert len(latest_marks(marks)) == len(PEOPLE) * 4 * 3 * len(SENSATIONS)
    assert len(marks) > len(latest_marks(marks)), "somebody changed their mind"
    assert all(mark.since_pour_s is not None and mark.since_pour_s > 600 for mark in marks)
    assert any(isinstance(each, Pick) for each in records)
    assert {"liked", "disliked"} <= {each.feeling for each in records if isinstance(each, Word)}


def test_the_hot_round_is_called_when_the_bowls_are_safe_to_sip(store: Store) -> None:
    load_sample(store, NOW_MS)
    finished = next(each for each in store.tastings() if each.state == "revealed")
    hot = [
        each.temperature_c
        for each in store.records(finished.id)
        if isinstance(each, Mark) and each.round == "hot" and each.temperature_c is not None
    ]

    assert max(hot) <= finished.setup.first_sip_c + 2.0


def test_the_sample_names_only_what_exists() -> None:
    assert set(HABITS) == set(STRENGTH) <= {coffee.id for coffee in SHELF}
    for habits in HABITS.values():
        for habit in habits:
            assert word_name(habit.family, habit.term)
    for strengths in STRENGTH.values():
        assert set(strengths) == {each.key for each in SENSATIONS}
