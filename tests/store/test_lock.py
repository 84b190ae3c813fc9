import os
import subprocess
import sys
from pathlib import Path

import pytest

from twobowls.errors import StoreError
from twobowls.store.lock import InUseError, StoreLock, is_in_use

HOLD = """
import sys
from pathlib import Path
from twobowls.store.lock import StoreLock
with StoreLock(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""


def test_two_at_a_time_are_refused_and_the_other_is_named(path: Path) -> None:
    with StoreLock(path):
        assert is_in_use(path)
        with pytest.raises(InUseError) as refused, StoreLock(path):
            pass
    assert str(refused.value) == (
        f"{path}: another twobowls is using it (process {os.getpid()}). Stop that one with "
        "Ctrl+C, or name another file with --store."
    )
    assert not is_in_use(path)
    with StoreLock(path):
        pass


def test_a_store_that_was_never_served_is_free(path: Path) -> None:
    assert not is_in_use(path)
    assert not path.parent.exists()


def test_a_killed_process_lets_go(path: Path) -> None:
    command = [sys.executable, "-c", HOLD, str(path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        process.stdout.readline()
        assert is_in_use(path)
        process.kill()
        process.wait()
        with StoreLock(path):
            pass


def test_a_folder_that_cannot_be_used(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("not a folder")
    with (
        pytest.raises(StoreError, match="its folder may not be written to"),
        StoreLock(tmp_path / "file" / "a.sqlite3"),
    ):
        pass
