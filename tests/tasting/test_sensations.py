import pytest

from twobowls.errors import NotFoundError
from twobowls.tasting.sensations import SENSATIONS, sensation, sensations_in
from twobowls.tasting.setup import ALL_ROUNDS

KEYS = ["aroma", "acidity", "bitterness", "sweetness", "body", "aftertaste", "verdict"]


def test_there_are_six_sensations_and_the_verdict() -> None:
    assert [each.key for each in SENSATIONS] == KEYS
    assert [sensation(key).key for key in KEYS] == KEYS


@pytest.mark.parametrize("key", KEYS)
def test_every_guide_is_complete_and_short(key: str) -> None:
    guide = sensation(key).guide
    for text in (guide.what, guide.notice, guide.mistaken_for, *guide.like):
        assert text
    whole = f"{guide.what} {guide.notice} {guide.mistaken_for}"
    assert len(whole.split()) <= 75
    assert all(text.endswith((".", "?")) for text in (guide.what, guide.notice, guide.mistaken_for))
    assert guide.like[0] != guide.like[1]


def test_sour_and_bitter_point_at_each_other() -> None:
    assert "bitter" in sensation("acidity").guide.mistaken_for.lower()
    assert "sour" in sensation("bitterness").guide.mistaken_for.lower()


def test_aroma_is_smell_through_nose_and_mouth() -> None:
    what = sensation("aroma").guide.what
    assert "nose" in what
    assert "mouth" in what


def test_only_the_aftertaste_waits() -> None:
    assert {each.key: each.wait_s for each in SENSATIONS if each.wait_s} == {"aftertaste": 15}


def test_aroma_rounds_have_the_aroma_only() -> None:
    counts = {each.key: len(sensations_in(each)) for each in ALL_ROUNDS}
    assert counts == {"dry": 1, "wet": 1, "hot": 7, "warm": 7, "cool": 7}


def test_an_unknown_sensation_is_named() -> None:
    with pytest.raises(NotFoundError, match=r"no sensation 'crunch'\. Use one of: aroma, acidity"):
        sensation("crunch")


@pytest.mark.parametrize("key", KEYS)
def test_no_guide_draws_a_map_of_the_tongue(key: str) -> None:
    guide = sensation(key).guide
    whole = f"{guide.what} {guide.notice} {guide.mistaken_for}"
    for place in ("sides of the tongue", "back of the tongue", "at the back", "tip of the tongue"):
        assert place not in whole
