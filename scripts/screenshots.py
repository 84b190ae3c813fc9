"""Make the README's pictures: a pad on a phone and the debrief of the sample tasting.

A tool of its own runs on a store of its own, so that nobody's tastings are touched.
"""

import re
import secrets
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page, sync_playwright

from scripts.chromium import ARGUMENTS, find_chromium

PICTURES = Path("docs/pictures")
POURED_AGO = "25:30"  # the bowls have cooled to the warm round
# (how strong, how much liked) of the bowls in the order of the plan, hot and then warm
PLACES = {
    "hot": ((68.0, 60.0), (38.0, 42.0), (57.0, 70.0)),
    "warm": ((76.0, 69.0), (33.0, 30.0), (63.0, 78.0)),
}


@contextmanager
def sample_tool(store: Path) -> Iterator[str]:
    """Run the tool with the sample on a free port; yield the host's address."""
    command = [str(Path(sys.executable).with_name("twobowls")), "serve", "--sample"]
    process = subprocess.Popen(
        [*command, "--store", str(store), "--port", "0"], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    try:
        lines = iter(process.stdout.readline, "")
        yield next(found[1] for line in lines if (found := re.search(r"(http\S+/host\?\S+)", line)))
    finally:
        process.terminate()
        process.wait(timeout=15)
        process.stdout.close()


def open_tasting(host: Page, base: str, name: str) -> tuple[str, str]:
    """Open the planned tasting of that name; return its address and its join code."""
    host.goto(base)
    host.get_by_role("link", name=name).first.click()
    found = re.search(r"/tastings/[0-9a-f]+", host.url)
    assert found, host.url
    bench = f"{base}{found[0]}"
    host.goto(f"{bench}/bench")
    code = host.locator(".big-code").inner_text().strip()
    host.get_by_role("button", name="Open the tasting").click()
    for bowl in host.locator("[data-bowl]").all():
        bowl.get_by_role("button", name="Pour now").click()
        bowl.locator("[data-correct] > summary").click()
        bowl.locator("[name=ago]").fill(POURED_AGO)
        bowl.get_by_role("button", name="Set", exact=True).click()
    return bench, code


def take_seat(phone: Page, base: str, code: str) -> str:
    """Sit down as Ilka; return the seat's key."""
    phone.goto(f"{base}/join?code={code}")
    phone.get_by_label("Your name at this table").fill("Ilka")
    phone.get_by_role("button", name="Sit down").click()
    phone.get_by_role("button", name="Skip").click()
    phone.get_by_role("button", name="I will take care").click()
    return phone.url.rstrip("/").split("/")[-1]


def mark(phone: Page, base: str, key: str, round_key: str) -> None:
    """Send one mark a bowl on the acidity pad, as the phone itself would."""
    state = phone.request.get(f"{base}/api/seats/{key}").json()
    records: list[dict[str, Any]] = [
        {
            "kind": "mark",
            "id": secrets.token_hex(16),
            "bowl": code,
            "sensation": "acidity",
            "round": round_key,
            "intensity": intensity,
            "liking": liking,
            "at_ms": state["now_ms"],
        }
        for code, (intensity, liking) in zip(sorted(state["bowls"]), PLACES[round_key], strict=True)
    ]
    phone.request.post(f"{base}/api/seats/{key}/records", data={"records": records})


def take_pad(browser: Browser, host: Page, base: str) -> None:
    """Picture a pad in its second round, with trails from the first."""
    bench, code = open_tasting(host, base, "Two for Sunday")
    phone = browser.new_page(
        viewport={"width": 360, "height": 740}, device_scale_factor=2, color_scheme="light"
    )
    key = take_seat(phone, base, code)
    for round_key in PLACES:
        host.goto(f"{bench}/bench")
        host.locator(f'button[data-round="{round_key}"]').click()
        host.wait_for_timeout(300)
        mark(phone, base, key, round_key)
    phone.reload()
    phone.locator('[data-pad="acidity"]').click()
    phone.wait_for_timeout(400)
    phone.screenshot(path=PICTURES / "pad.png")


def take_debrief(host: Page, base: str) -> None:
    """Picture the top of the sample's debrief."""
    host.goto(base)
    host.get_by_role("link", name="Three coffees at the harbour table").first.click()
    found = re.search(r"/tastings/[0-9a-f]+", host.url)
    assert found, host.url
    host.goto(f"{base}{found[0]}/debrief")
    host.wait_for_timeout(400)
    host.screenshot(path=PICTURES / "debrief.png")


def main() -> int:
    """Write both pictures."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    with (
        tempfile.TemporaryDirectory() as folder,
        sample_tool(Path(folder) / "sample.sqlite3") as address,
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(executable_path=find_chromium(), args=list(ARGUMENTS))
        host = browser.new_page(viewport={"width": 1100, "height": 1520}, color_scheme="light")
        host.goto(address)
        base = address.split("/host?")[0]
        take_debrief(host, base)
        take_pad(browser, host, base)
        browser.close()
    print(f"Pictures written to {PICTURES}.")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
