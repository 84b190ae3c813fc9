from pathlib import Path

import pytest
from benchmarks.figures import FILE_VARIABLE, Figure, Peer, line, read, report
from benchmarks.readme import BEGIN, END, write_table


def figure(**given: object) -> Figure:
    fields = {"group": "Fits", "work": "flat fit", "value": 0.05, "unit": "s", **given}
    return Figure(**fields)  # type: ignore[arg-type]


def test_a_goal_is_held_against_a_number_or_a_peer() -> None:
    peer = Peer(name="lme4", value=0.3)
    assert figure(goal=0.1).met is True
    assert figure(goal=0.01).met is False
    assert figure(value=9.0, better="more", goal=10.0).met is False
    assert figure(peers=(peer,), goal_peer="lme4").met is True
    assert figure(value=0.4, peers=(peer,), goal_peer="lme4").met is False
    assert figure().met is None
    assert figure(goal_peer="lme4").met is None  # the peer is not installed here


def test_a_line_tells_the_verdict_and_the_ratio() -> None:
    text = line(figure(value=0.6, peers=(Peer(name="lme4", value=0.3),), goal_peer="lme4"))
    assert "goal no slower than lme4: FALLS SHORT" in text
    assert "lme4 0.300 s, 0.50 x ours" in text


def test_figures_are_kept_for_the_table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = tmp_path / "kept.jsonl"
    monkeypatch.setenv(FILE_VARIABLE, str(kept))
    figures = [figure(peers=(Peer(name="lme4", value=0.3),)), figure(work="weak fit")]
    report(figures[:1])
    report(figures[1:])
    assert read(kept) == figures


def test_the_table_replaces_its_own_groups_only(tmp_path: Path) -> None:
    readme = tmp_path / "README.md"
    readme.write_text(f"# Head\n\n{BEGIN}\n\n{END}\n\nTail.\n")
    write_table(readme, [figure(), figure(group="Load", work="marks")])
    write_table(readme, [figure(value=0.02, goal=0.01)])
    text = readme.read_text()
    assert text.startswith("# Head\n")
    assert text.endswith(f"{END}\n\nTail.\n")
    assert text.count("### Fits") == text.count("### Load") == 1
    assert "| flat fit | 0.0200 s | <= 0.0100 s: **falls short** |  |" in text
    assert "| marks | 0.0500 s |  |  |" in text
    assert "0 of 1 goals are met. What falls short:" in text
    assert "- Fits: flat fit: 0.0200 s (goal <= 0.0100 s)\n" in text
    write_table(readme, [figure(value=0.002, goal=0.01)])
    assert "1 of 1 goals are met.\n\n### Fits" in readme.read_text()


def test_a_readme_without_a_place_for_the_table_is_refused(tmp_path: Path) -> None:
    readme = tmp_path / "README.md"
    readme.write_text("# Head\n")
    with pytest.raises(ValueError, match=r"are missing\. Put them back\."):
        write_table(readme, [figure()])
