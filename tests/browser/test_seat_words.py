"""Picks, words, notes, the guide, the wait and the bowls' clocks."""

import pytest
from playwright.sync_api import Page, expect
from tests.browser.conftest import OpenPhone
from tests.browser.fake_laptop import FakeLaptop, serving
from tests.browser.touch import Pad, seldom, words_of
from tests.browser.waiting import stop_clock, until

pytestmark = pytest.mark.browser


def saved(page: Page) -> None:
    expect(page.locator(".seat-saved")).to_have_text("All saved on the laptop")


def place_two_close(page: Page) -> Pad:
    """Place all four bowls on the acidity pad, 417 and 305 close together."""
    page.locator('[data-pad="acidity"]').click()
    pad = Pad(page)
    pad.show()
    for code, intensity, liking in (("417", 50, 60), ("862", 90, 20), ("305", 54, 62)):
        pad.place(code, intensity, liking)
    expect(page.locator(".picks-panel")).to_be_hidden()  # the pad is not complete
    pad.place("588", 10, 20)
    return pad


def test_two_bowls_close_together_bring_up_one_question(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    pad = place_two_close(page)
    question = page.get_by_role("group", name="Which has more acidity, 417 or 305?")
    question.get_by_role("button", name="305").click()
    expect(page.locator(".picks-panel")).to_be_hidden()
    page.get_by_role("button", name="Ask again about 417 and 305").click()
    expect(question.get_by_role("button", name="305")).to_have_attribute("aria-pressed", "true")
    question.get_by_role("button", name="417").click()
    pad.place("862", 12, 22)  # now close to 588, and no other question for it
    expect(page.locator(".picks-panel")).to_be_hidden()
    saved(page)
    picks = [(p["question"], p["answer"], p["sensation"]) for p in laptop.marks(kind="pick")]
    assert picks == [("more", "305", "acidity"), ("more", "417", "acidity")]


def test_later_is_an_answer_that_is_remembered(laptop: FakeLaptop, open_phone: OpenPhone) -> None:
    page = open_phone(laptop.url)
    place_two_close(page)
    page.get_by_role("button", name="Later").click()
    expect(page.locator(".picks-panel")).to_be_hidden()
    page.reload()
    again = page.get_by_role("button", name="Ask again about 417 and 305")
    expect(again).to_be_visible()
    expect(page.locator(".picks-panel")).to_be_hidden()
    again.click()
    page.get_by_role("button", name="the same").click()
    saved(page)
    assert [pick["answer"] for pick in laptop.marks(kind="pick")] == ["same"]


def test_words_by_family_with_finer_ones_and_a_feeling(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    words_of(page, "862")
    page.get_by_role("button", name="Fruity", exact=True).click()
    page.get_by_role("button", name="citrus", exact=True).click()
    word = page.locator('.word[data-term="citrus"]')
    word.get_by_role("button", name="dislike").click()
    expect(word.get_by_role("button", name="dislike")).to_have_attribute("aria-pressed", "true")
    page.get_by_role("button", name="Fruity, no finer").click()
    word.get_by_role("button", name="Remove citrus").click()
    expect(word).to_have_count(0)
    saved(page)
    words = [(w["bowl"], w["family"], w["term"], w["feeling"]) for w in laptop.marks(kind="word")]
    assert words == [
        ("862", "fruity", "citrus", "neutral"),
        ("862", "fruity", "citrus", "disliked"),
        ("862", "fruity", "", "neutral"),
        ("862", "fruity", "citrus", "removed"),
    ]
    words_of(page, "417")
    expect(page.locator(".word")).to_have_count(0)


def test_a_note_is_kept_letter_by_letter_and_recorded_when_the_typing_rests(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    words_of(page, "417")
    note = page.get_by_label("Note on 417")
    note.fill("like <b>cold</b> tea")
    page.reload()
    page.wait_for_selector("#seat[data-screen=tasting]")
    words_of(page, "417")
    expect(page.get_by_label("Note on 417")).to_have_value("like <b>cold</b> tea")
    page.get_by_label("Note on 417").fill("like cold tea, later honey")
    words_of(page, "862")
    expect(page.get_by_label("Note on 862")).to_have_value("")
    saved(page)
    texts = [note["text"] for note in laptop.marks(kind="note")]
    assert texts[-1] == "like cold tea, later honey"
    assert {note["bowl"] for note in laptop.marks(kind="note")} == {"417"}


def test_a_note_belongs_to_the_round_in_which_it_was_typed(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    laptop.round = "warm"
    page = open_phone(laptop.url)
    stop_clock(page)  # the typing does not rest
    words_of(page, "417")
    page.get_by_label("Note on 417").fill("flat")
    # as on phones where a button that is tapped takes no focus
    page.locator('.chip[data-round="hot"]').evaluate("chip => chip.click()")
    until(page, lambda: laptop.records, "the note is on the laptop")
    (note,) = laptop.marks(kind="note")
    assert (note["round"], note["text"]) == ("warm", "flat")


def test_the_guide_says_what_a_sensation_is_and_closes_again(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    page.locator('[data-pad="bitterness"]').click()
    page.get_by_role("button", name="What is this?").click()
    sheet = page.get_by_role("dialog", name="Bitterness")
    for part in ("What it is", "How to notice it", "Think of", "cocoa powder", "Sourness"):
        expect(sheet).to_contain_text(part)
    page.keyboard.press("Escape")
    expect(sheet).to_be_hidden()


def test_the_aftertaste_waits_before_it_is_judged(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    expect(page.locator(".wait")).to_be_hidden()
    stop_clock(page)
    page.locator('[data-pad="aftertaste"]').click()
    wait = page.locator(".wait")
    expect(wait).to_contain_text("wait 15 seconds before you judge")
    page.get_by_role("button", name="Start the wait").click()
    expect(wait.get_by_role("timer")).to_have_text("15")
    page.clock.run_for(5100)
    expect(wait.get_by_role("timer")).to_have_text("10")
    page.clock.run_for(10_500)
    expect(wait).to_contain_text("Now judge what is still there.")
    page.get_by_role("button", name="Next bowl").click()
    expect(wait.get_by_role("timer")).to_have_text("15")


def test_each_bowl_has_a_clock_and_the_next_one_is_shown(open_phone: OpenPhone) -> None:
    with serving(FakeLaptop(poured_ago_s=493)) as laptop:  # it may be sipped in 2:57
        page = open_phone(laptop.url)
        bowl = page.locator('.bowl[data-code="417"]')
        expect(bowl).to_contain_text("sip in 2:")
        expect(bowl).to_have_class("bowl next")
        expect(page.locator('.pad-token[data-code="417"] .pad-sub')).to_contain_text("2:")
        Pad(page).show()
        Pad(page).place("417", 50, 60)
        expect(page.locator('.bowl[data-code="862"]')).to_have_class("bowl next")
        laptop.change(poured_ago_s=1200)
        expect(bowl).to_contain_text("48 °C")
        laptop.change(poured_ago_s=None)
        expect(bowl).to_contain_text("not poured yet")


def test_the_seat_waits_for_the_host_and_goes_on_by_itself(open_phone: OpenPhone) -> None:
    with serving(FakeLaptop(state="planned", round=None, poured_ago_s=None)) as laptop:
        page = open_phone(laptop.url)
        expect(page.get_by_role("heading", name="Not open yet")).to_be_visible()
        laptop.change(state="open")
        expect(page.get_by_role("heading", name="Soon")).to_be_visible()
        laptop.change(round="hot")
        expect(page.locator("#seat")).to_have_attribute("data-screen", "tasting")
        laptop.change(state="closed")
        expect(page.get_by_role("heading", name="Thank you, Ana.")).to_be_visible()


def test_the_practice_and_the_cautions_can_be_seen_again(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    seldom(page, "Cautions")
    expect(page.get_by_role("dialog")).to_contain_text("Spitting is fine")
    page.get_by_role("button", name="Close").click()
    seldom(page, "Practise again")
    expect(page.locator(".practice-hint")).to_contain_text("Tap lemon")
