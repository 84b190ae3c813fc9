"""The pad under a finger, a keyboard and sliders, on a phone 360 px wide."""

import pytest
from playwright.sync_api import Page, expect
from tests.browser.conftest import OpenPhone
from tests.browser.fake_laptop import FakeLaptop, serving
from tests.browser.touch import Pad, seldom, to_round, words_of
from tests.browser.waiting import stop_clock, until

pytestmark = pytest.mark.browser
REST_MS, NOTE_MS = 700, 1500  # until a move by keys is taken down, or a note: settle.js, note.js


def saved(page: Page) -> None:
    """Wait until the page says that everything is on the laptop."""
    expect(page.locator(".seat-saved")).to_have_text("All saved on the laptop")


def at_acidity(page: Page) -> Pad:
    page.get_by_role("button", name="On to Acidity").click()
    pad = Pad(page)
    pad.show()
    return pad


def test_the_practice_pad_teaches_by_doing_and_records_nothing(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url, welcomed=False)
    pad = Pad(page)
    hint = page.locator(".practice-hint")
    expect(hint).to_contain_text("Tap lemon")
    pad.place("lemon", 10, 40)
    expect(hint).to_contain_text("drag it")
    pad.finger.drag(pad.label("honey"), pad.point(80, 60))
    expect(hint).to_contain_text("Changed your mind?")
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("heading", name="Before the first sip")).to_be_visible()
    page.get_by_role("button", name="I will take care").click()
    expect(page.locator("#seat")).to_have_attribute("data-screen", "tasting")
    assert laptop.records == {}
    page.reload()
    expect(page.locator("#seat")).to_have_attribute("data-screen", "tasting")


def test_tap_a_token_then_its_place_makes_one_mark_there(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    pad = at_acidity(page)
    pad.place("417", 62, 63)
    saved(page)
    (mark,) = laptop.marks(kind="mark")
    assert (mark["bowl"], mark["sensation"], mark["round"]) == ("417", "acidity", "hot")
    assert mark["intensity"] == pytest.approx(62, abs=0.6)
    assert mark["liking"] == pytest.approx(63, abs=0.6)
    assert abs(mark["at_ms"] - laptop.now_ms()) < 60_000
    expect(page.locator(".pad-readout:visible")).to_have_text(
        "417: acidity rather strong, liked a little"
    )
    expect(page.get_by_role("button", name="Acidity, 1 of 4 bowls placed")).to_be_visible()


def test_a_drag_makes_one_record_and_the_dot_floats_above_the_finger(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    pad = at_acidity(page)
    goal = pad.point(30, 70)
    pad.finger.drag(pad.label("862"), goal, steps=20, lift=False)
    lifted = pytest.approx((goal[0], goal[1] - 44), abs=2)
    until(page, lambda: pad.dot("862") == lifted, "the dot floats above the finger")
    pad.finger.up()
    saved(page)
    (mark,) = laptop.marks(kind="mark")
    assert mark["intensity"] == pytest.approx(30, abs=1)
    assert mark["liking"] == pytest.approx(70 + 44 / 3, abs=1)


def test_every_corner_of_the_scales_can_be_reached(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    pad = at_acidity(page)
    pad.place("417", 0, 0)
    pad.place("862", 100, 100)
    x, y = pad.point(0, 0)
    pad.finger.drag(pad.label("305"), (x - 30, y + 46))
    state = pad.state()
    assert state["417"] == [0, 0]
    assert state["862"] == [100, 100]
    assert state["305"] == [pytest.approx(0, abs=0.5), pytest.approx(0, abs=1)]


def test_undo_is_a_new_record_with_what_was_there_before(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    pad = at_acidity(page)
    pad.place("417", 20, 30)
    pad.place("417", 70, 80)
    undo = page.locator(".bar-undo")
    undo.click()
    expect(undo).to_be_enabled()
    undo.click()
    expect(undo).to_be_disabled()
    saved(page)
    values = [(mark["intensity"], mark["liking"]) for mark in laptop.marks(kind="mark")]
    assert values == [(20, 30), (70, 80), (20, 30), (None, None)]
    expect(page.locator('.pad-token[data-code="417"]')).to_have_attribute("data-placed", "false")


def test_a_token_can_be_carried_back_to_the_tray(laptop: FakeLaptop, open_phone: OpenPhone) -> None:
    page = open_phone(laptop.url)
    pad = at_acidity(page)
    pad.place("417", 50, 20)
    x, y = pad.label("588")
    pad.finger.drag(pad.label("417"), (x - 100, y + 45))
    saved(page)
    assert [mark["liking"] for mark in laptop.marks(kind="mark")] == [20, None]


def test_a_token_let_go_in_the_tray_makes_no_record(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    pad = at_acidity(page)
    x, y = pad.label("417")
    pad.finger.drag((x, y), (x + 60, y + 8))
    pad.place("862", 50, 50)  # a record of this would have gone before
    saved(page)
    assert [mark["bowl"] for mark in laptop.marks()] == ["862"]


def test_a_drag_that_the_phone_breaks_off_changes_nothing(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    pad = at_acidity(page)
    pad.place("417", 50, 70)
    before = pad.dot("417")
    pad.finger.drag(pad.label("417"), pad.point(90, 10), lift=False)
    pad.finger._send("touchCancel")
    until(page, lambda: pad.dot("417") == before, "the token is back where it was")
    pad.place("862", 50, 50)
    saved(page)
    assert [mark["bowl"] for mark in laptop.marks()] == ["417", "862"]


def test_bowls_on_the_same_spot_can_be_told_apart_and_taken_apart(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    pad = at_acidity(page)
    for code in ("417", "862", "305"):
        pad.place(code, 50, 70)
    for code in ("417", "862", "305"):
        pad.finger.tap(pad.label(code))
        expect(page.locator("bowl-pad:visible .selected")).to_have_attribute("data-code", code)
    pad.finger.drag(pad.label("862"), pad.point(90, 20))
    assert pad.state()["417"] == [50, 70]
    assert pad.state()["862"][0] == pytest.approx(90, abs=1.5)


def test_a_swipe_over_an_empty_part_of_the_pad_changes_nothing(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    """Everything is in sight: there is nothing to scroll to, and a swipe is no tap."""
    page = open_phone(laptop.url)
    pad = at_acidity(page)
    pad.place("417", 20, 20)
    before = pad.box(".pad-square")
    pad.finger.drag(pad.point(70, 40), pad.point(70, 95))
    assert pad.box(".pad-square") == before
    assert page.evaluate("scrollY") == 0
    pad.place("862", 50, 50)
    saved(page)
    assert [mark["bowl"] for mark in laptop.marks()] == ["417", "862"]


def test_a_mouse_let_go_beside_the_pad_leaves_it_usable(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url, has_touch=False, is_mobile=False)
    pad = at_acidity(page)
    page.mouse.move(*pad.point(50, 50))  # an empty part of it
    page.mouse.down()
    page.mouse.move(5, 5)
    page.mouse.up()
    page.mouse.click(*pad.label("417"))
    page.mouse.click(*pad.point(70, 60))
    saved(page)
    assert [mark["bowl"] for mark in laptop.marks()] == ["417"]


def test_keys_move_a_token_and_a_rest_makes_one_record(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    at_acidity(page)
    stop_clock(page)
    strength = page.get_by_role("slider", name="417: how strong")
    liking = page.get_by_role("slider", name="417: how much you like it")
    strength.focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowUp")
    expect(liking).to_be_focused()
    expect(liking).to_have_attribute("aria-valuetext", "liked a little, 60")
    saved(page)
    page.clock.run_for(REST_MS - 100)
    saved(page)
    assert laptop.records == {}
    page.clock.run_for(100)
    until(page, lambda: laptop.records, "where the token has come to rest is on the laptop")
    (mark,) = laptop.marks(kind="mark")
    assert (mark["intensity"], mark["liking"]) == (58, 60)


def test_what_rests_counts_from_when_it_was_made(laptop: FakeLaptop, open_phone: OpenPhone) -> None:
    """Should the host close while a last key or letter rests, it was made in time all the same."""
    page = open_phone(laptop.url)
    pad = at_acidity(page)
    laptop.broken = True  # no answer sets the phone's clock meanwhile
    stop_clock(page)
    pad.place("862", 50, 50)
    page.get_by_role("slider", name="417: how strong").focus()
    page.keyboard.press("ArrowRight")
    page.clock.run_for(REST_MS)
    words_of(page, "417")
    page.get_by_label("Note on 417").fill("flat")
    page.clock.run_for(NOTE_MS)
    expect(page.locator(".seat-saved")).to_contain_text("3 waiting on this phone")
    laptop.broken = False
    page.clock.run_for(8000)
    until(page, lambda: len(laptop.records) == 3, "all is on the laptop")
    placed, moved, noted = laptop.marks()
    assert (moved["bowl"], noted["kind"]) == ("417", "note")
    assert moved["at_ms"] - placed["at_ms"] < 10
    assert noted["at_ms"] - moved["at_ms"] == pytest.approx(REST_MS, abs=10)


def test_keys_still_moving_belong_to_the_pad_that_is_left(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    at_acidity(page)
    page.get_by_role("slider", name="417: how strong").focus()
    page.keyboard.press("ArrowRight")
    page.get_by_role("button", name="On to Bitterness").click()
    saved(page)
    (mark,) = laptop.marks(kind="mark")
    assert mark["sensation"] == "acidity"


def test_keys_still_moving_belong_to_the_round_that_the_host_leaves(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    laptop.round = "warm"
    page = open_phone(laptop.url)
    at_acidity(page)
    stop_clock(page)
    page.get_by_role("slider", name="417: how strong").focus()
    page.keyboard.press("ArrowRight")
    laptop.change(round="hot")  # called too early: the table goes back
    expect(page.locator("bowl-pad:visible")).to_have_attribute("data-round", "hot")
    page.clock.run_for(REST_MS)
    until(page, lambda: laptop.records, "the move is on the laptop")
    (mark,) = laptop.marks(kind="mark")
    assert mark["round"] == "warm"


def test_a_finger_that_is_on_the_pad_when_the_host_closes_leaves_it_usable(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    pad = at_acidity(page)
    pad.finger.drag(pad.label("417"), pad.point(50, 50), lift=False)
    laptop.change(state="closed")
    expect(page.locator("#seat")).to_have_attribute("data-screen", "closed")
    pad.finger.up()
    laptop.change(state="open")  # closed by mistake
    expect(page.locator("#seat")).to_have_attribute("data-screen", "tasting")
    expect(page.locator("bowl-pad:visible .lifted")).to_have_count(0)
    pad.show()
    pad.place("417", 70, 60)
    pad.place("862", 20, 30)
    saved(page)
    assert [mark["intensity"] for mark in laptop.marks(kind="mark")] == [70, 20]


def test_the_sliders_say_the_same_as_the_pad(laptop: FakeLaptop, open_phone: OpenPhone) -> None:
    page = open_phone(laptop.url)
    pad = at_acidity(page)
    pad.place("417", 40, 80)
    seldom(page, "Use sliders instead")
    strength = page.get_by_role("slider", name="417: Acidity, how strong")
    expect(strength).to_have_value("40")
    unset = page.get_by_role("slider", name="862: Acidity, how strong")
    expect(unset).to_have_attribute("aria-valuetext", "not placed yet")
    unset.fill("90")
    page.get_by_role("slider", name="862: how much you like it").fill("10")
    until(
        page,
        lambda: (90, 10) in [(m["intensity"], m["liking"]) for m in laptop.marks(bowl="862")],
        "where the sliders have come to rest is on the laptop",
    )
    seldom(page, "Use the pad instead")
    assert pad.state()["862"] == [90, 10]


def test_a_new_round_leaves_ghosts_and_going_back_changes_the_earlier_one(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    pad = at_acidity(page)
    pad.place("417", 20, 80)
    laptop.change(round="warm")
    page.get_by_role("button", name="Go to the round Warm").click()
    expect(page.locator('.pad-trail[data-code="417"] .pad-ghost')).to_have_count(1)
    expect(page.locator('.pad-token[data-code="417"]')).to_have_attribute("data-placed", "false")
    pad.show()
    pad.place("417", 60, 60)
    to_round(page, "hot")
    expect(page.locator(".rounds-back")).to_contain_text("The table is at Warm")
    pad.show()
    pad.place("417", 30, 30)
    saved(page)
    marks = [(mark["round"], mark["intensity"]) for mark in laptop.marks(kind="mark")]
    assert marks == [("hot", 20), ("warm", 60), ("hot", 30)]


def test_one_tap_places_the_next_bowl_and_a_tap_on_a_label_moves_another(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    pad = at_acidity(page)
    chosen = page.locator("bowl-pad:visible .selected")
    for place, code in enumerate(("417", "862", "305")):
        expect(chosen).to_have_attribute("data-code", code)
        pad.finger.tap(pad.point(20 + 25 * place, 60))
    pad.finger.tap(pad.label("862"))
    expect(chosen).to_have_attribute("data-code", "862")
    pad.finger.tap(pad.point(80, 20))
    expect(chosen).to_have_attribute("data-code", "588")
    pad.finger.tap(pad.point(20, 60))  # upon the dot of 417
    expect(chosen).to_have_count(0)
    pad.finger.tap(pad.point(50, 90))  # no bowl is meant by it
    saved(page)
    marks = [(mark["bowl"], round(mark["intensity"])) for mark in laptop.marks(kind="mark")]
    assert marks == [("417", 20), ("862", 45), ("305", 70), ("862", 80), ("588", 20)]
    assert pad.state()["862"] == [80, 20]


def test_in_a_later_round_one_tap_keeps_what_has_not_moved(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    pad = at_acidity(page)
    still = page.get_by_role("button", name="Still so")
    for code, intensity in (("417", 20), ("862", 50), ("305", 80)):
        pad.place(code, intensity, 60)
    expect(still).to_be_hidden()
    laptop.change(round="warm")
    page.get_by_role("button", name="Go to the round Warm").click()
    pad.show()
    pad.place("862", 60, 40)
    assert page.evaluate("document.documentElement.scrollWidth") == 360
    page.get_by_role("button", name="Still so: 417, 305 stand where they stood before").click()
    expect(still).to_be_hidden()  # 588 stood nowhere
    assert page.evaluate("document.documentElement.scrollWidth") == 360
    page.locator(".bar-undo").click()
    expect(page.locator(".pad-token[data-placed=true]")).to_have_count(1)
    still.click()
    pad.place("305", 90, 20)
    saved(page)
    last = {mark["bowl"]: mark for mark in laptop.marks(kind="mark", round="warm")}
    told = {code: (mark["intensity"], mark.get("kept", False)) for code, mark in last.items()}
    assert told == {"417": (20, True), "862": (60, False), "305": (90, False)}
    assert not any(mark.get("kept") for mark in laptop.marks(kind="mark", round="hot"))


def test_bowl_by_bowl_the_button_onward_goes_over_all_pads_with_one_sip(
    open_phone: OpenPhone,
) -> None:
    asked = {"hot": ["acidity", "body", "verdict"]}
    with serving(FakeLaptop(codes=(("417", "862"),), asked=asked, walk="bowls")) as laptop:
        page = open_phone(laptop.url)
        pad = Pad(page)
        onward = page.locator(".bar-next")
        stops = ("On to Body", "On to Verdict", "On to bowl 862", "On to Body", "On to Verdict")
        for number, stop in enumerate(stops):
            pad.finger.tap(pad.point(80 if number < 3 else 20, 60))
            expect(onward).to_have_attribute("aria-label", stop)
            onward.click()
        pad.finger.tap(pad.point(20, 60))
        saved(page)
        marks = [(mark["bowl"], mark["sensation"]) for mark in laptop.marks(kind="mark")]
        walked = [(bowl, pad) for bowl in ("417", "862") for pad in asked["hot"]]
        assert marks == walked
        page.locator(".bar-back").click()
        expect(page.locator(".pads-tab[aria-current]")).to_have_attribute("data-pad", "body")
        seldom(page, "sensation by sensation")
        page.reload()
        page.locator(".seat-more").click()
        chosen = page.get_by_role("button", name="sensation by sensation")
        expect(chosen).to_have_attribute("aria-pressed", "true")


def test_the_tab_key_stops_once_at_a_pad_and_enter_goes_on_to_the_next_bowl(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url, has_touch=False, is_mobile=False)
    stops = "ranges => ranges.filter(({tabIndex}) => tabIndex === 0).map((each) => each.ariaLabel)"
    ranges = page.locator("bowl-pad:visible .pad-range")
    assert ranges.evaluate_all(stops) == ["417: how strong", "417: how much you like it"]
    page.locator(".pads-tab[aria-current]").focus()
    page.keyboard.press("Tab")
    expect(page.get_by_role("slider", name="417: how strong")).to_be_focused()
    told = page.locator("bowl-pad:visible .pad-readout")
    expect(told).to_have_text("Arrow keys move this bowl, Enter goes on to the next one.")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    expect(page.get_by_role("slider", name="862: how strong")).to_be_focused()
    expect(told).not_to_contain_text("Arrow keys")
    page.keyboard.press("Shift+Enter")
    expect(page.get_by_role("slider", name="417: how strong")).to_be_focused()
    saved(page)
    assert [mark["bowl"] for mark in laptop.marks(kind="mark")] == ["417"]


def test_flights_have_pads_of_their_own(open_phone: OpenPhone) -> None:
    with serving(FakeLaptop(codes=(("417", "862"), ("305", "588", "146")))) as laptop:
        page = open_phone(laptop.url)
        expect(page.locator("bowl-pad:visible .pad-token")).to_have_count(2)
        seldom(page, "Flight 2 · 3 bowls")
        expect(page.locator("bowl-pad:visible .pad-token")).to_have_count(3)
        pad = Pad(page)
        pad.show()
        pad.place("146", 50, 50)
        saved(page)
        assert laptop.marks(kind="mark")[0]["bowl"] == "146"


def test_a_read_only_pad_shows_places_and_ellipses_and_lets_nothing_move(
    laptop: FakeLaptop, open_phone: OpenPhone
) -> None:
    page = open_phone(laptop.url)
    page.evaluate("""() => {
        const pad = document.createElement("bowl-pad");
        pad.setAttribute("readonly", "");
        const body = {key: "body", name: "Body", low: "thin", high: "thick"};
        pad.setAttribute("sensation", JSON.stringify(body));
        pad.setAttribute("tokens", JSON.stringify([{code: "417", intensity: 70, liking: 60}]));
        const ellipse = {code: "417", intensity: 70, liking: 60, rx: 12, ry: 6, angle: 20};
        pad.setAttribute("ellipses", JSON.stringify([ellipse]));
        document.querySelector("#seat").replaceChildren(pad);
    }""")
    pad = Pad(page)
    token = page.get_by_role("img", name="417: body rather strong, liked a little")
    expect(token).to_have_count(1)
    expect(page.locator("ellipse.pad-ellipse")).to_have_count(1)
    before = pad.dot("417")
    pad.finger.drag(pad.label("417"), pad.point(10, 10))
    assert pad.dot("417") == before
    assert page.locator("bowl-pad input").count() == 0
    assert page.locator(".pad-tray").is_hidden()


def test_eight_bowls_fit_a_narrow_phone(open_phone: OpenPhone) -> None:
    codes = ("417", "862", "305", "588", "146", "739", "251", "903")
    with serving(FakeLaptop(codes=(codes,))) as laptop:
        page = open_phone(laptop.url, viewport={"width": 360, "height": 640})
        pad = Pad(page)
        pad.show()
        for place, code in enumerate(codes):
            pad.place(code, 10 + 11 * place, 90 - 11 * place)
        state = pad.state()
        assert [round(state[code][0]) for code in codes] == [10 + 11 * n for n in range(8)]
        assert page.evaluate("document.documentElement.scrollWidth") == 360
