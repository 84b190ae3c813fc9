from pathlib import Path

import pytest

from twobowls.store.paths import data_folder, default_path

HOME = Path("/home/ana")


@pytest.mark.parametrize(
    ("platform", "environ", "folder"),
    [
        ("linux", {}, HOME / ".local/share/twobowls"),
        ("linux", {"XDG_DATA_HOME": "/data"}, Path("/data/twobowls")),
        ("darwin", {}, HOME / "Library/Application Support/twobowls"),
        ("win32", {}, HOME / "AppData/Local/twobowls"),
        ("win32", {"LOCALAPPDATA": "/local"}, Path("/local/twobowls")),
    ],
    ids=["linux", "xdg", "mac", "windows", "localappdata"],
)
def test_each_platform_has_its_data_folder(
    platform: str, environ: dict[str, str], folder: Path
) -> None:
    assert data_folder(platform, environ, HOME) == folder


def test_a_variable_names_another_store() -> None:
    assert default_path({"TWOBOWLS_STORE": "/elsewhere/a.sqlite3"}) == Path("/elsewhere/a.sqlite3")
    assert default_path({"TWOBOWLS_STORE": "", "XDG_DATA_HOME": "/d"}).name == "twobowls.sqlite3"
