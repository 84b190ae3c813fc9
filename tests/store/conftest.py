from collections.abc import Iterator
from pathlib import Path

import pytest

from twobowls.store import Store, open_store


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "deep" / "store.sqlite3"


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    with open_store(path) as opened:
        yield opened
