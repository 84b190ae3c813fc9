"""Make sure that there is a Chromium for the browser tests, or say what to install.

Playwright's own browser builds are not used: Debian's Chromium is, and any Chromium or
Chrome that TWOBOWLS_CHROMIUM names.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

CANDIDATES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
# The popups under the address bar are pages of their own, which every window loads though nobody
# sees them: two thirds of what a window costs (measured with Chromium 156, ten windows: 14.3 s of
# processor time with them, 4.9 s without).
UNSEEN = ("WebUIOmniboxPopup", "WebUIOmniboxAimPopup")
# What Playwright switches off itself; of two such lists Chromium heeds the last alone.
SWITCHED_OFF = (
    "AvoidUnnecessaryBeforeUnloadCheckSync",
    "DestroyProfileOnBrowserClose",
    "HttpsUpgrades",
    "HttpsFirstBalancedModeAutoEnable",
    "LensOverlay",
    "MediaRouter",
    "PaintHolding",
    "ThirdPartyStoragePartitioning",
    "AvoidCorsURLLoaderRestartOnRedirect",
    "OptimizationHints",
    "NetworkTimeServiceQuerying",
    "AimEnabled",
    "PreconnectToSearch",
)
ARGUMENTS = ("--no-sandbox", "--disable-features=" + ",".join((*SWITCHED_OFF, *UNSEEN)))


def find_chromium() -> str | None:
    """Return the path of a Chromium, or None."""
    named = os.environ.get("TWOBOWLS_CHROMIUM")
    if named and Path(named).exists():
        return named
    return next((path for name in CANDIDATES if (path := shutil.which(name))), None)


def install_with_apt() -> None:
    """Install Debian's Chromium; needs root."""
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for words in (
        ("update", "-qq"),
        ("install", "-y", "-qq", "--no-install-recommends", "chromium"),
    ):
        subprocess.run(["apt-get", *words], check=True, env=environment, stdout=subprocess.DEVNULL)


def main() -> int:
    """Find or install a Chromium; the exit code says whether there is one."""
    if find_chromium() is None and shutil.which("apt-get") and os.geteuid() == 0:
        print("Installing Debian's Chromium for the browser tests ...")
        install_with_apt()
    if find_chromium() is None:
        print(
            "The browser tests need Chromium, and none was found.\n"
            "Install it (on Debian or Ubuntu: sudo apt-get install chromium), or name one:\n"
            "  TWOBOWLS_CHROMIUM=/path/to/chromium make test",
            file=sys.stderr,
        )
        return 1
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
