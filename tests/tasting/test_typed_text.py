"""Text that people type holds nothing that nobody can see."""

from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from twobowls.errors import InputError
from twobowls.tasting.coffees import Coffee, coffee_problems
from twobowls.tasting.setup import Setup
from twobowls.tasting.setup_check import check_setup
from twobowls.tasting.typed_text import cleaned, drawable, unseen_problem

UNSEEN = ["\x00", "\x01", "\x0b", "\x1b", "\x7f", "\x85", "\ud800", "\udfff", "\ufffe", "\uffff"]


@pytest.mark.parametrize("sign", UNSEEN)
def test_a_coffee_and_a_tasting_refuse_what_cannot_be_seen(sign: str) -> None:
    wrong = f"Amber{sign} Gate"
    (problem,) = coffee_problems(Coffee(id="a", name=wrong))
    assert problem.field == "name"
    assert f"(U+{ord(sign):04X}, at place 6)" in str(problem)
    (problem,) = coffee_problems(Coffee(id="a", name="Amber Gate", notes=wrong))
    assert problem.field == "notes"
    with pytest.raises(InputError, match="Delete it, or type the text again"):
        check_setup(Setup(name=wrong, coffee_ids=("a", "b")))
    assert cleaned(wrong) == "Amber Gate"


@pytest.mark.parametrize("text", ["Tère Ànna", "a\tb\nc\r\n", "👩‍🌾 🫖", "בית", "می‌خواهم", ""])
def test_what_people_do_type_stays(text: str) -> None:
    assert cleaned(text) == drawable(text) == text
    assert unseen_problem("name", text) is None


@given(st.text(alphabet=st.characters(exclude_categories=())))
def test_what_is_drawable_can_be_stored_and_read_as_xml(text: str) -> None:
    kept = drawable(text)
    kept.encode()
    escaped = kept.replace("&", "&amp;").replace("<", "&lt;")
    ElementTree.fromstring(f"<svg>{escaped}</svg>")
    assert unseen_problem("name", cleaned(text)) is None
