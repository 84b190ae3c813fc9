"""Join codes: letters that are not mixed up, and as many codes as before at the least."""

from itertools import pairwise, product
from math import log2
from pathlib import Path

from tests.store.tables import add_table

from twobowls.store import open_store
from twobowls.store.join_codes import (
    JOIN_ALPHABET,
    JOIN_LENGTH,
    clean_join_code,
    draw_join_code,
    is_welcome,
)
from twobowls.tasting.codes import PLAIN_CODES

FORMER_COUNT = 26**4


def test_a_join_code_shares_no_sign_with_a_bowls_code() -> None:
    assert JOIN_ALPHABET.isalpha()
    assert JOIN_ALPHABET.isupper()
    assert not set(JOIN_ALPHABET) & set("".join(PLAIN_CODES))
    assert not set(JOIN_ALPHABET) & set("AEIOULSVNDC")
    assert len(set(JOIN_ALPHABET)) == len(JOIN_ALPHABET)


def test_there_are_as_many_codes_as_the_docstring_says_and_more_than_before() -> None:
    every = map("".join, product(JOIN_ALPHABET, repeat=JOIN_LENGTH))
    plain = [code for code in every if all(a != b for a, b in pairwise(code))]
    welcome = sum(is_welcome(code) for code in plain)
    said = draw_join_code.__doc__ or ""
    assert f"{len(plain):,} codes, {welcome:,} of which" in " ".join(said.split())
    assert f"{log2(welcome):.1f} bits" in said
    assert welcome > FORMER_COUNT


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
