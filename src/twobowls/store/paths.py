"""Where the store lives when nobody says otherwise. Knows the platforms, not the store."""

import os
import sys
from collections.abc import Mapping
from pathlib import Path

from twobowls.errors import StoreError

STORE_VARIABLE = "TWOBOWLS_STORE"
FILE_NAME = "twobowls.sqlite3"


def data_folder(
    platform: str = sys.platform,
    environ: Mapping[str, str] | None = None,
    home: Path | None = None,
) -> Path:
    """Return the folder in which a desktop program of this platform keeps its data."""
    environ = os.environ if environ is None else environ
    home = Path.home() if home is None else home
    if platform == "win32":
        return Path(environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "twobowls"
    if platform == "darwin":
        return home / "Library" / "Application Support" / "twobowls"
    return Path(environ.get("XDG_DATA_HOME") or home / ".local" / "share") / "twobowls"


def default_path(environ: Mapping[str, str] | None = None) -> Path:
    """Return the store's path: ``TWOBOWLS_STORE``, or a file in the data folder."""
    environ = os.environ if environ is None else environ
    chosen = environ.get(STORE_VARIABLE)
    return Path(chosen).expanduser() if chosen else data_folder(environ=environ) / FILE_NAME


def resolved(path: Path) -> Path:
    """Return where a store really lies: its log, lock and backups lie beside the file itself.

    Raises
    ------
    StoreError
        Links lead round in a circle.
    """
    try:
        return path.resolve()
    except (OSError, RuntimeError) as error:
        raise StoreError(
            str(path), "links lead round in a circle there", "Name another file with --store"
        ) from error
