"""What people may call themselves, and which names look alike."""

import pytest

from twobowls.errors import ConflictError, InputError
from twobowls.store.nicknames import LONGEST_NICKNAME, check_distinct, clean_nickname, suggestion


@pytest.mark.parametrize(
    ("taken", "taking"),
    [
        ("Paul", "Раul"),  # the first two letters are Cyrillic
        ("Ana", "Αnа"),  # Greek, Latin, Cyrillic
        ("Ilse", "llse"),
        ("Oda", "0da"),
        ("Zoë", "Zoe\u0308"),
        ("Mona", "Ｍｏｎａ"),  # full width
        ("Tom", "𝐓𝐨𝐦"),  # mathematical bold
        ("Ben ☕", "Ben ☕\ufe0f"),
    ],
)
def test_a_name_that_looks_like_anothers_is_refused(taken: str, taking: str) -> None:
    for first, second in ((taken, taking), (taking, taken)):
        with pytest.raises(ConflictError, match=f"Somebody here is called {first}"):
            check_distinct(clean_nickname(second), [first])


@pytest.mark.parametrize(
    ("taken", "taking"),
    [("Ana", "Anna"), ("Zoe", "Zoë"), ("Ben", "Ben 2"), ("Иван", "Ivan"), ("Li", "Lu")],
)
def test_names_that_look_different_are_both_taken(taken: str, taking: str) -> None:
    check_distinct(clean_nickname(taking), [taken])
    check_distinct(clean_nickname(taken), [taking])


@pytest.mark.parametrize(
    "blank", ["\u3164", "\u2800", "\u115f", "\ufe01", "\u034f", "\u00ad", "\u200b", "\u202e"]
)
def test_characters_that_nobody_sees_are_refused(blank: str) -> None:
    for name in (blank, f"Ana{blank}"):
        with pytest.raises(InputError, match="it holds characters that cannot be seen"):
            clean_nickname(name)


def test_what_is_offered_looks_like_nobodys_name() -> None:
    taken = ["Paul", "Paul 2", "Раul 3"]
    assert suggestion("Paul", taken) == "Paul 4"
    assert len(suggestion("x" * LONGEST_NICKNAME, ["x" * LONGEST_NICKNAME])) <= LONGEST_NICKNAME


def test_the_refusal_says_whether_the_names_are_the_same_or_look_so() -> None:
    with pytest.raises(ConflictError, match=r'called Ana already\. Take "ana 2"'):
        check_distinct("ana", ["Ana"])
    with pytest.raises(ConflictError, match=r"called Ana, which looks the same\."):
        check_distinct("Аna", ["Ana"])
