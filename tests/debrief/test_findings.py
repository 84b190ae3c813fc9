"""Findings: what is said, what is left out, and what the list may cost."""

import pytest
from tests.debrief.nights import fit_of, marks, night, tasting

from twobowls.debrief.analysis import Analysis, SensationFit, analyse
from twobowls.debrief.claims import claims, pair_claim, standing_claims
from twobowls.debrief.evidence import evidence, expected_false
from twobowls.debrief.findings import find
from twobowls.debrief.phrases import chance
from twobowls.debrief.rating_table import Scale
from twobowls.debrief.tables import rating_table
from twobowls.errors import InputError


def fitted(
    chances: dict[tuple[str, str], float],
    means: dict[str, float],
    scale: Scale = "intensity",
    sensation: str = "acidity",
) -> SensationFit:
    return SensationFit(
        id=f"{sensation}-{scale}",
        sensation=sensation,
        scale=scale,
        limits=(0, 100),
        fit=fit_of(means, chances),
    )


@pytest.mark.parametrize(
    ("probability", "word"),
    [
        (0.99, "clear"),
        (0.9899, "likely"),
        (0.95, "likely"),
        (0.9499, "leaning"),
        (0.80, "leaning"),
        (0.7999, "cannot tell"),
        (0.5, "cannot tell"),
        (0.01, "clear"),
        (0.2, "leaning"),
    ],
)
def test_the_words_of_evidence(probability: float, word: str) -> None:
    assert evidence(probability) == word


def test_a_chance_is_never_rounded_into_the_next_word() -> None:
    assert chance(0.9497) == "94.9 %"
    assert chance(0.98999) == "98.9 %"
    assert chance(0.79999) == "79.9 %"
    assert chance(0.9501) == "95 %"


def test_an_implied_claim_is_not_made_again() -> None:
    means = {"A": 70.0, "B": 50.0, "C": 30.0}
    fit = fitted({("A", "B"): 0.995, ("B", "C"): 0.992, ("A", "C"): 0.999}, means)
    assert [(each.a, each.b) for each in claims(fit)] == [("A", "B"), ("B", "C")]


def test_a_claim_is_kept_where_the_way_round_is_less_sure() -> None:
    means = {"A": 70.0, "B": 50.0, "C": 30.0}
    fit = fitted({("A", "B"): 0.85, ("B", "C"): 0.96, ("A", "C"): 0.999}, means)
    assert [(each.a, each.b) for each in claims(fit)] == [("A", "C"), ("B", "C"), ("A", "B")]


def test_a_claim_names_the_higher_coffee_first_and_keeps_one_id() -> None:
    fit = fitted({("A", "B"): 0.03}, {"A": 30.0, "B": 50.0})
    claim = pair_claim(fit, "A", "B")
    assert (claim.a, claim.b) == ("B", "A")
    assert claim.table.probability == pytest.approx(0.97)
    assert claim.table.difference == 20
    assert list(claim.table.interval) == [12.0, 28.0]
    assert claim.id == pair_claim(fit, "B", "A").id == "acidity-intensity--1-2"


def test_only_liking_has_a_neutral_point() -> None:
    chances, means = {("A", "B"): 0.9}, {"A": 62.0, "B": 38.0}
    assert standing_claims(fitted(chances, means)) == ()
    liked = standing_claims(fitted(chances, means, "liking"))
    assert [(each.a, each.b) for each in liked] == [("A", "neutral"), ("neutral", "B")]
    assert liked[0].table.probability == pytest.approx(0.992, abs=0.001)


def test_sentences_join_what_has_the_same_winner_and_evidence() -> None:
    means = {"A": 70.0, "B": 31.0, "C": 30.0}
    fit = fitted({("A", "B"): 0.995, ("A", "C"): 0.996, ("B", "C"): 0.55}, means)
    found = find(Analysis(fits=(fit,)))
    assert [each.text for each in found.all] == ["A has more acidity than C and B."]
    (finding,) = found.all
    assert (finding.table, finding.people) == ("clear", "cannot tell")
    assert [each.id for each in finding.claims] == [
        "acidity-intensity--1-3",
        "acidity-intensity--1-2",
    ]


def test_the_expected_number_of_false_claims_is_counted_on_each_scale() -> None:
    means = {"A": 70.0, "B": 40.0}
    strong = fitted({("A", "B"): 0.97}, means)
    liked = fitted({("A", "B"): 0.81}, means, "liking", "verdict")
    found = find(Analysis(fits=(strong, liked)))
    by_scale = {each.scale: each for each in found.tallies}
    assert by_scale["intensity"].table == 1
    assert by_scale["intensity"].table_false == pytest.approx(0.03)
    assert by_scale["intensity"].people == 0
    made = [each for one in found.all if one.scale == "liking" for each in one.claims]
    assert by_scale["liking"].table == len(made) == 3  # one contrast, A liked, B disliked
    assert by_scale["liking"].table_false == pytest.approx(
        expected_false(each.table.probability for each in made)
    )
    assert by_scale["intensity"].text == (
        "1 statement about strength at this table: fewer than 0.1 expected to be wrong."
    )


def test_dislikes_are_told_as_well_as_likes() -> None:
    means = {"A": 64.0, "B": 52.0, "C": 31.0}
    chances = {("A", "B"): 0.96, ("B", "C"): 0.97, ("A", "C"): 0.999}
    found = find(Analysis(fits=(fitted(chances, means, "liking", "verdict"),)))
    texts = [each.text for each in found.headlines]
    assert texts[:3] == ["A is the most liked.", "C is the least liked.", "C is disliked."]
    assert "A is liked." in [each.text for each in found.all]


def test_a_lead_that_cannot_be_told_is_not_claimed() -> None:
    means = {"A": 64.0, "B": 62.0, "C": 31.0}
    chances = {("A", "B"): 0.6, ("B", "C"): 0.97, ("A", "C"): 0.999}
    found = find(Analysis(fits=(fitted(chances, means, "liking", "verdict"),)))
    assert found.headlines[0].text == "A is ahead in liking, but we cannot tell it from B."
    assert found.headlines[0].table == "cannot tell"


def test_where_nothing_can_be_told_the_room_for_a_difference_is_said() -> None:
    fit = fitted({("A", "B"): 0.55}, {"A": 52.0, "B": 50.0}, sensation="body")
    found = find(Analysis(fits=(fit,)))
    assert found.all == ()
    assert [each.text for each in found.open_questions] == [
        "Body: we cannot tell the coffees apart in strength. The widest gap is 2, A over B, and "
        "anything from −6 to 10 would fit."
    ]
    assert found.tallies[0].text == "Nothing is claimed about strength."


def test_one_taster_and_two_bowls_settle_nothing() -> None:
    of = tasting(seats=1, coffees=("brisa", "oro"), repeats=())
    once = [each for each in marks(of, ("verdict",)) if each.round == "hot"]
    found = find(analyse(rating_table(night(of, once))))
    assert found.little[0].startswith("One person tasted.")
    assert "There are 2 marks on 2 coffees for Verdict" in found.little[1]
    assert "That is very little" in found.little[1]
    for each in found.all:
        assert each.table != "clear"
        assert each.people in ("cannot tell", "leaning")


def test_the_same_marks_always_give_the_same_findings() -> None:
    of = tasting()
    made = marks(of)
    first = find(analyse(rating_table(night(of, made))))
    again = find(analyse(rating_table(night(of, made))))
    assert first == again


def test_a_difference_that_is_there_is_found() -> None:
    of = tasting(seats=6)
    found = find(analyse(rating_table(night(of, marks(of)))))
    assert found.headlines[0].text == "Brisa is the most liked."
    (more,) = [each for each in found.all if each.text.startswith("Brisa has more acidity than")]
    assert "Oro" in more.text
    assert more.table == "clear"
    assert "Umbra is the least liked." in [each.text for each in found.headlines]


def test_a_contrast_of_a_coffee_that_is_not_there_is_refused() -> None:
    fit = fitted({("A", "B"): 0.9}, {"A": 60.0, "B": 50.0})
    with pytest.raises(InputError, match="coffee: 'A' and 'Z' are not both in this fit"):
        fit.contrast("A", "Z", "table")
