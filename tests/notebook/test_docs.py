"""The guide runs from its first block to its last, in one namespace, as a reader would run it."""

import re
from pathlib import Path

import pytest

import twobowls

GUIDE = Path(__file__).parents[2] / "docs" / "notebook.md"
BLOCK = re.compile(r"^```python\n(.*?)^```$", re.MULTILINE | re.DOTALL)
TEXT = GUIDE.read_text(encoding="utf-8")


def test_every_block_of_the_guide_runs(capsys: pytest.CaptureFixture[str]) -> None:
    names: dict[str, object] = {}
    blocks = BLOCK.findall(TEXT)
    assert len(blocks) >= 10
    for number, block in enumerate(blocks, 1):
        exec(compile(block, f"docs/notebook.md, block {number}", "exec"), names)
    printed = capsys.readouterr().out
    assert "Did you mean 'taster'?" in printed
    assert "'ana' and 'Ana' may be one taster in two spellings" in printed
    for name in ("found", "fit", "rated", "picked", "ranked", "said", "triangle", "series", "plan"):
        result = names[name]
        assert isinstance(result, twobowls.Result)
        assert result._repr_html_()


def test_the_guide_names_every_call_and_no_other() -> None:
    calls = set(twobowls.__all__) - {"InputError", "Result", "TwobowlsError"}
    table = TEXT[TEXT.index("| call |") : TEXT.index("## Marks")]
    firsts = [line.split("|")[1] for line in table.splitlines()[2:] if line.startswith("|")]
    assert set(re.findall(r"`(\w+)`", " ".join(firsts))) == calls
    for named in re.findall(r"twobowls\.(\w+)", TEXT):
        assert named in twobowls.__all__
