"""A finger on a phone's screen: real touch events through Chromium's protocol, and the pad."""

from typing import Any

from playwright.sync_api import Page

Point = tuple[float, float]
INSET_PX = 14
BESIDE = ((0, 0), (0, 9), (0, -9), (14, 0), (-14, 0), (14, 9), (-14, -9))
# The middle of a token's label, and the square: asked for at once, a whole tasting does so often.
WHERE = """(pad, code) => {
    const boxes = [`.pad-token[data-code="${code}"] .pad-label`, ".pad-square"].map(
        (part) => pad.querySelector(part).getBoundingClientRect());
    return boxes.map(({x, y, width, height}) => ({x, y, width, height}));
}"""


class Finger:
    """One finger. Points are CSS pixels of the visible page."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self._protocol = page.context.new_cdp_session(page)

    def _send(self, kind: str, *points: Point) -> None:
        touches = [{"x": x, "y": y} for x, y in points]
        self._protocol.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": touches})

    def down(self, at: Point) -> None:
        self._send("touchStart", at)

    def to(self, at: Point) -> None:
        self._send("touchMove", at)

    def up(self) -> None:
        self._send("touchEnd")

    def tap(self, at: Point) -> None:
        self.down(at)
        self.up()

    def drag(self, start: Point, end: Point, steps: int = 12, lift: bool = True) -> None:
        """Carry from one point to another; without ``lift`` the finger stays down."""
        self.down(start)
        for step in range(1, steps + 1):
            share = step / steps
            self.to(
                (start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share)
            )
            self.page.wait_for_timeout(16)
        if lift:
            self.up()


def _middle(box: dict[str, float]) -> Point:
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def _point(square: dict[str, float], intensity: float, liking: float) -> Point:
    span = square["width"] - 2 * INSET_PX
    x = square["x"] + INSET_PX + intensity / 100 * span
    return x, square["y"] + square["height"] - INSET_PX - liking / 100 * span


class Pad:
    """The pad on the screen, as a taster's hand meets it."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.finger = Finger(page)

    def box(self, selector: str) -> dict[str, float]:
        """Return where an element of the pad is, scrolled into sight."""
        found = self.page.locator(f"bowl-pad:visible {selector}").bounding_box()
        assert found is not None
        return {name: float(found[name]) for name in ("x", "y", "width", "height")}

    def show(self) -> None:
        """Wait until the whole pad is there: it needs no scrolling."""
        self.page.locator("bowl-pad:visible .pad-square").wait_for()

    def middle(self, selector: str) -> Point:
        return _middle(self.box(selector))

    def label(self, code: str) -> Point:
        return self.middle(f'.pad-token[data-code="{code}"] .pad-label')

    def dot(self, code: str) -> Point:
        return self.middle(f'.pad-token[data-code="{code}"] .pad-dot')

    def point(self, intensity: float, liking: float) -> Point:
        """Return where a place of the two scales is on the screen."""
        return _point(self.box(".pad-square"), intensity, liking)

    def place(self, code: str, intensity: float, liking: float) -> None:
        """Tap the token, then its place; where another bowl's label lies there, close beside it.

        A tap on a label means the bowl that it names.
        """
        before = self.state()[code]
        for across, up in BESIDE:
            label, square = self.page.locator("bowl-pad:visible").evaluate(WHERE, code)
            self.finger.tap(_middle(label))
            at = (min(max(each, 0.0), 100.0) for each in (intensity + across, liking + up))
            self.finger.tap(_point(square, *at))
            if self.state()[code] != before:
                return
        raise AssertionError(f"{code} could not be put near {intensity}, {liking}: {self.state()}")

    def state(self) -> dict[str, Any]:
        """Return what the element itself says of its tokens."""
        script = """pad => Object.fromEntries(
            pad.tokens.map(({code, intensity, liking}) => [code, [intensity, liking]]))"""
        found: dict[str, Any] = self.page.locator("bowl-pad:visible").evaluate(script)
        return found


def more(page: Page) -> None:
    """Open the sheet with rounds, flights, the walk and all that is seldom wanted."""
    page.locator(".seat-more").click()


def to_round(page: Page, key: str) -> None:
    """Look at a round by its chip."""
    more(page)
    page.locator(f'.chip[data-round="{key}"]').click()


def words_of(page: Page, code: str) -> None:
    """Open the words and the note of a bowl."""
    if not page.locator('[data-sheet="words"]').is_visible():
        page.get_by_role("button", name="Words and a note").click()
    page.locator(f'[data-words="{code}"]').click()


def close_sheet(page: Page) -> None:
    """Close the sheet that is open."""
    page.get_by_role("button", name="Close").click()


def seldom(page: Page, name: str) -> None:
    """Press one of the buttons that are seldom wanted, wherever the screen has it."""
    if page.locator(".seat-more").is_visible():
        more(page)
    page.get_by_role("button", name=name).click()
