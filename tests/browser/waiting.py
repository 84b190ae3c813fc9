"""Waiting for what is meant, never for a while: a busy machine takes as long as it takes."""

import time
from collections.abc import Callable

import pytest
from playwright.sync_api import Page

PATIENCE_S = 60  # nothing that comes takes so long; only what never comes does


def until(page: Page, true: Callable[[], object], what: str) -> None:
    """Wait until something has come true, while the page goes on."""
    give_up = time.monotonic() + PATIENCE_S
    while not true():
        if time.monotonic() > give_up:
            pytest.fail(f"never came true: {what}")
        page.wait_for_timeout(30)


def until_there(page: Page, script: str) -> None:
    """Wait until the page says that something is true; its policy lets no polling script in."""
    until(page, lambda: page.evaluate(script), script)


DRAWN = """async () => {
    for (let frames = 0; frames < 2; frames += 1) await new Promise(requestAnimationFrame);
}"""


def until_drawn(page: Page) -> None:
    """Wait until what was just changed, the size of the screen say, is on the screen."""
    page.evaluate(DRAWN)


# The records of the table as the phone has kept it for a reload out of reach.
KEPT = """() => new Promise((resolve, reject) => {
    const open = indexedDB.open("twobowls");
    open.onerror = () => reject(open.error);
    open.onsuccess = () => {
        const tables = open.result.transaction("tables").objectStore("tables").getAll();
        tables.onsuccess = () => {
            open.result.close();
            resolve(Math.max(0, ...tables.result.map(({ table }) => table.records.length)));
        };
    };
})"""


def until_kept(page: Page, records: int) -> None:
    """Wait until the table that the phone has kept holds so many records."""
    until(page, lambda: page.evaluate(KEPT) == records, f"{records} records kept on the phone")


def stop_clock(page: Page) -> None:
    """Let the page's timers, from now on, go by `page.clock.run_for` alone."""
    page.clock.install()
    page.clock.pause_at(page.evaluate("Date.now()") / 1000 + 1)  # in seconds
