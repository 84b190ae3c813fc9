"""What phones are sent of our scripts: the code, line by line as in the file, and no comments."""

import gzip
import re
from pathlib import Path

import httpx
import pytest

from twobowls.web.static_files import FOLDER, without_comments

SCRIPTS = sorted(FOLDER.rglob("*.js"))


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: str(path.relative_to(FOLDER)))
def test_a_script_keeps_every_line_of_code_at_its_place(path: Path) -> None:
    before = path.read_text(encoding="utf-8").split("\n")
    after = without_comments(path.read_bytes()).decode().split("\n")
    assert len(after) == len(before)
    inside = False
    for was, now in zip(before, after, strict=True):
        text = was.strip()
        starts = text.startswith("/*") and (text.endswith("*/") or "*/" not in text)
        comment = inside or text.startswith("//") or starts
        assert now.strip() == ("" if comment else text)
        inside = (inside or starts) and "*/" not in text
    assert not inside
    assert all(was.count("`") % 2 == 0 for was in before), "a text over several lines"


def test_what_looks_like_a_comment_within_a_line_stays() -> None:
    script = b'go("http://x"); /* here */\n  /* a */ go(); /* b */\nconst glob = "/*";\n'
    assert without_comments(script) == script


def test_phones_get_no_comments_and_others_the_file(guest: httpx.Client) -> None:
    plain = guest.get("/static/js/seat/main.js", headers={"accept-encoding": "identity"})
    assert plain.content == (FOLDER / "js/seat/main.js").read_bytes()
    with guest.stream("GET", "/static/js/seat/main.js") as packed:
        sent = gzip.decompress(b"".join(packed.iter_raw())).decode()
    assert re.search(r"^\s*//", sent, re.MULTILINE) is None
    assert "followRounds(session" in sent
