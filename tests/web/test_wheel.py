"""The tool as people install it: built as a wheel, without the checkout, every page is there."""

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

ROOT = Path(__file__).parents[2]
STATIC = ROOT / "src" / "twobowls" / "web" / "static"
START = "import sys; from twobowls.cli import main; sys.exit(main(sys.argv[1:]))"
HOST_PAGES = ("/", "/shelf", "/shelf/new", "/shelf/import", "/tastings/new", "/join")
TASTING_PAGES = ("sheet", "bench", "projector", "corrections", "debrief", "debrief.html")


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the wheel with what pyproject.toml asks for, and install it where nothing else is."""
    folder = tmp_path_factory.mktemp("wheel")
    pip = (sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check")
    subprocess.run((*pip, "wheel", "--no-deps", "-w", str(folder), str(ROOT)), check=True)
    (wheel,) = folder.glob("twobowls-*.whl")
    target = folder / "installed"
    subprocess.run((*pip, "install", "--no-deps", "--target", str(target), str(wheel)), check=True)
    return target


@pytest.fixture(scope="module")
def host(installed: Path) -> Iterator[httpx.Client]:
    """Serve the sample tasting from there, and open the host's address."""
    store = installed.with_name("store.sqlite3")
    process = subprocess.Popen(
        (sys.executable, "-c", START, "serve", "--sample", "--port", "0", "--store", str(store)),
        cwd=installed.parent,
        env={**os.environ, "PYTHONPATH": str(installed)},
        stdout=subprocess.PIPE,
        text=True,
        encoding="utf-8",
    )
    assert process.stdout is not None
    try:
        told = ""
        while (found := re.search(r"(http://\S+?)(/host\?key=\S+)", told)) is None:
            line = process.stdout.readline()
            assert line, f"the tool did not start: {told}"
            told += line
        with httpx.Client(base_url=found[1], follow_redirects=True, timeout=60) as client:
            assert client.get(found[2]).status_code == 200
            yield client
    finally:
        process.terminate()
        process.wait(timeout=60)
        process.stdout.close()


def test_what_runs_is_the_wheel(installed: Path) -> None:
    where = subprocess.run(
        (sys.executable, "-c", "import twobowls; print(twobowls.__file__)"),
        cwd=installed.parent,
        env={**os.environ, "PYTHONPATH": str(installed)},
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert Path(where.strip()).is_relative_to(installed)


def test_every_page_of_the_host_is_served(host: httpx.Client) -> None:
    home = host.get("/").text
    found = re.search(r"/tastings/([\w-]+)/debrief", home)  # the sample that was tasted
    assert found is not None
    pages = [*HOST_PAGES, *(f"/tastings/{found[1]}/{page}" for page in TASTING_PAGES)]
    answers = {page: host.get(page) for page in pages}
    assert {page: answer.status_code for page, answer in answers.items()} == dict.fromkeys(
        pages, 200
    )
    linked = {
        path
        for answer in answers.values()
        for path in re.findall(r'(?:src|href)="(/static/[^"]+)"', answer.text)
    }
    assert any(path.split("?")[0].endswith(".js") for path in linked)
    assert any(path.split("?")[0].endswith(".css") for path in linked)
    assert {path: host.get(path).status_code for path in linked} == dict.fromkeys(linked, 200)


def test_every_static_file_is_in_the_wheel(installed: Path) -> None:
    there = installed / "twobowls" / "web" / "static"
    files = [each.relative_to(STATIC) for each in STATIC.rglob("*") if each.is_file()]
    assert len(files) > 20
    for each in files:
        assert (there / each).read_bytes() == (STATIC / each).read_bytes()
