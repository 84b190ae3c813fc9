import subprocess
import sys

import pytest

SCRIPT = """
import resource
from twobowls.web.doors.open_files import raise_limit, room_for_connections
resource.setrlimit(resource.RLIMIT_NOFILE, (256, 1000))
print(room_for_connections())
raise_limit()
print(resource.getrlimit(resource.RLIMIT_NOFILE)[0], room_for_connections())
"""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows counts no open files")
def test_as_many_files_as_the_system_allows_are_asked_for() -> None:
    told = subprocess.run([sys.executable, "-c", SCRIPT], capture_output=True, text=True)
    assert told.stdout.split() == ["128", "1000", "800"], told.stderr
