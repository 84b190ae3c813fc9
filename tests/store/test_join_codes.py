"""Join codes: letters that are not mixed up, and as many codes as before at the least."""

from itertools import pairwise
from math import log2
from pathlib import Path

from tests.store.tables import add_table

from twobowls.store import open_store
from twobowls.store.join_codes import (
    JOIN_ALPHABET,
    JOIN_LENGTH,
    UNWELCOME,
    clean_join_code,
    draw_join_code,
    is_welcome,
)
from twobowls.tasting.codes import PLAIN_CODES

FORMER_COUNT = 26**6  # six letters and figures


def test_a_join_code_shares_no_sign_with_a_bowls_code() -> None:
    assert JOIN_ALPHABET.isalpha()
    assert JOIN_ALPHABET.isupper()
    assert not set(JOIN_ALPHABET) & set("".join(PLAIN_CODES))
    assert not set(JOIN_ALPHABET) & set("AEIOULSV")
    assert len(set(JOIN_ALPHABET)) == len(JOIN_ALPHABET)


def count_codes(unwelcome: tuple[str, ...]) -> int:
    """Count codes letter by letter, by their last two letters; none is unwelcome for more."""
    assert all(len(each) <= 3 for each in unwelcome)
    endings = {"": 1}
    for _ in range(JOIN_LENGTH):
        longer: dict[str, int] = {}
        for ending, count in endings.items():
            for letter in JOIN_ALPHABET:
                code = ending + letter
                if code[-2:-1] != letter and not code.endswith(unwelcome or ("-",)):
                    longer[code[-2:]] = longer.get(code[-2:], 0) + count
        endings = longer
    return sum(endings.values())


def test_there_are_as_many_codes_as_the_docstring_says_and_more_than_before() -> None:
    plain, welcome = count_codes(()), count_codes(UNWELCOME)
    said = " ".join((draw_join_code.__doc__ or "").split())
    assert f"{plain:,} codes, {welcome:,} of which" in said
    assert f"{log2(welcome):.1f} bits" in said
    assert plain == len(JOIN_ALPHABET) * (len(JOIN_ALPHABET) - 1) ** (JOIN_LENGTH - 1)
    assert welcome > FORMER_COUNT


def test_unwelcome_letters_are_found_wherever_they_are() -> None:
    for each in UNWELCOME:
        assert set(each) <= set(JOIN_ALPHABET)
        for before in range(JOIN_LENGTH - len(each) + 1):
            code = "H" * before + each + "H" * (JOIN_LENGTH - len(each) - before)
            assert not is_welcome(code)


def test_codes_are_drawn_from_all_letters_at_every_place() -> None:
    drawn = [draw_join_code() for _ in range(2000)]
    assert all(a != b for code in drawn for a, b in pairwise(code))
    for place in range(JOIN_LENGTH):
        assert {code[place] for code in drawn} == set(JOIN_ALPHABET)


def test_a_tasting_gets_such_a_code_and_one_with_figures_is_still_found(tmp_path: Path) -> None:
    with open_store(tmp_path / "store.sqlite3") as store:
        tasting = add_table(store)
        assert set(tasting.join_code) <= set(JOIN_ALPHABET)
        assert store.tasting_by_join_code(f" {tasting.join_code.lower()} ").id == tasting.id
    assert clean_join_code(" k7-qm ") == "K7QM"
