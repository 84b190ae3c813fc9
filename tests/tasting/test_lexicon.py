import pytest

from twobowls.errors import NotFoundError
from twobowls.tasting.lexicon import FAMILIES, family, word_name


def test_families_are_in_the_order_of_the_alphabet() -> None:
    names = [each.name for each in FAMILIES]
    assert names == sorted(names)
    assert len(names) == 13


def test_keys_are_unique_and_each_family_has_a_few_finer_terms() -> None:
    assert len({each.key for each in FAMILIES}) == len(FAMILIES)
    for each in FAMILIES:
        assert 4 <= len(each.terms) <= 8
        assert len({term.key for term in each.terms}) == len(each.terms)
        names = [term.name for term in each.terms]
        assert names == sorted(names)
        assert each.hint


def test_no_word_means_two_things() -> None:
    words = [
        word
        for each in FAMILIES
        for term in each.terms
        for word in (term.name, *(s for s in term.synonyms if s != term.name))
    ]
    assert len(set(words)) == len(words)


def test_words_have_names() -> None:
    assert word_name("fruity", "") == "Fruity"
    assert word_name("fruity", "citrus") == "citrus"


def test_unknown_words_are_named() -> None:
    with pytest.raises(NotFoundError, match=r"no family 'music'\. Use one of: cereal, chemical"):
        family("music")
    with pytest.raises(NotFoundError, match=r"no term 'jazz' in the family 'fruity'"):
        word_name("fruity", "jazz")
