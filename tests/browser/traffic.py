"""What a page costs its network."""

from typing import Any

from playwright.sync_api import Page
from tests.browser.waiting import until


def over_the_wire(page: Page) -> list[float]:
    """Load the seat's page anew, with nothing kept; return the bytes of every answer to it."""
    asked: dict[str, str] = {}
    answered: dict[str, float] = {}

    def ask(event: dict[str, Any]) -> None:
        asked[event["requestId"]] = event.get("type", "")

    def answer(event: dict[str, Any]) -> None:
        answered[event["requestId"]] = event["encodedDataLength"]

    protocol = page.context.new_cdp_session(page)
    protocol.send("Network.enable")
    protocol.send("Network.setCacheDisabled", {"cacheDisabled": True})
    protocol.on("Network.requestWillBeSent", ask)
    protocol.on("Network.loadingFinished", answer)
    page.reload()
    page.wait_for_selector("#seat[data-screen=tasting]")
    until(
        page,
        lambda: {each for each, kind in asked.items() if kind != "EventSource"} <= set(answered),
        "everything but the live stream has been answered",
    )
    return list(answered.values())
