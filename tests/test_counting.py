"""Sentences with counts: one mark is a mark, and no message says "1 marks"."""

import ast
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from twobowls.counting import count_of, counts_are, entries_for, minutes
from twobowls.errors import InputError
from twobowls.statistics.agreement import rv_coefficient
from twobowls.statistics.confusion import confusion
from twobowls.statistics.picks_table import count_picks
from twobowls.statistics.word_lift import word_lift

SOURCE = Path(__file__).parents[1] / "src" / "twobowls"
NOUNS = (
    "answers batches bowls bytes categories cells characters coffees columns cups days digits "
    "entries files flights hours items labels levels lines marks minutes months names pairs people "
    "persons phones picks places points probes ratings readings records repeats rounds rows seats "
    "seconds sensations sheets statements steps strengths tasters tastings times trials values "
    "weeks words years"
)
PLURAL = re.compile(rf"^\s+(?:(?!of |for )\w+ )?({'|'.join(NOUNS.split())})\b")
# Numbers that are never one where they stand: refused as too many, asked for before, written
# with a decimal, or in the other branch of a condition.
NEVER_ONE = {
    "debrief/analysis.py": {"{len(coffee.labels)} coffees"},
    "debrief/findings.py": {"{rows} marks", "{coffees} coffees"},
    "debrief/marking_words.py": {"{abs(found.estimate)} points"},
    "debrief/model_checks.py": {"{marks} marks"},
    "interchange/parquet_files.py": {"{file.metadata.num_rows} rows"},
    "interchange/ratings_file.py": {"{count} cells"},
    "interchange/delimited.py": {"{len(cells)} columns"},
    "interchange/shelf_csv.py": {"{len(sheet.columns)} columns"},
    "interchange/workbooks.py": {"{len(cells)} columns"},
    "notebook/categories.py": {
        "{tasters} tasters",
        "{len(rated.labels)} different values",
        "{kinds} categories",
    },
    "notebook/picks.py": {"{len(table.tasters)} tasters"},
    "notebook/preference.py": {"{len(chosen.labels)} different answers"},
    "notebook/stretch.py": {"{number(each.stretch.mean, 1)} times"},
    "notebook/taster_skill.py": {"{everybody} tasters"},
    "notebook/two_coffees.py": {"{people} tasters", "{len(here)} answers"},
    "statistics/discrimination_power.py": {"{last} answers"},
    "statistics/map_regions.py": {"{tasters} tasters"},
    "statistics/ordinal.py": {"{needed} categories"},
    "statistics/picks.py": {"{rows} different pairs", "{len(model.table.tasters)} tasters"},
    "statistics/ratings_checks.py": {"{spread[name]} times"},
    "statistics/ratings_stretch.py": {"{coffees} coffees"},
    "statistics/ratings_weak.py": {"{tasters} tasters", "{careless} tasters"},
    "statistics/word_lift.py": {"{count} times"},
    "store/backups.py": {"{need} bytes"},
    "store/nicknames.py": {"{len(nickname)} characters"},
    "tasting/coffees.py": {"{len(text)} characters"},
    "tasting/planning.py": {
        "{sum(map(len, flights))} bowls",
        "{len(flights)} flights",
        "{len(anchors)} coffees",
    },
    "tasting/setup_check.py": {
        "{len(name)} characters",
        "{len(coffees)} coffees",
        "{largest} bowls",
    },
    "web/plan_view.py": {"{spread} seats"},
}


def counted_nouns(tree: ast.AST) -> Iterator[tuple[str, ast.JoinedStr]]:
    """Yield every number in a text that is followed by a noun for several."""
    for text in ast.walk(tree):
        if not isinstance(text, ast.JoinedStr):
            continue
        for value, after in zip(text.values, text.values[1:], strict=False):
            if not (isinstance(value, ast.FormattedValue) and isinstance(after, ast.Constant)):
                continue
            found = PLURAL.match(str(after.value))
            constant = ast.unparse(value.value).lstrip("_").isupper()
            if found and not constant:
                yield f"{{{ast.unparse(value.value)}}}{found[0]}", text


def test_the_words_are_right_for_none_one_and_several() -> None:
    assert [count_of(n, "mark") for n in (0, 1, 2, 1200)] == [
        "no marks",
        "1 mark",
        "2 marks",
        "1,200 marks",
    ]
    assert [counts_are(n, "entry", "entries") for n in (0, 1, 2)] == [
        "0 entries are",
        "1 entry is",
        "2 entries are",
    ]
    assert entries_for(3, 1, "mark") == "3 entries for 1 mark"


def test_the_search_finds_what_it_is_for() -> None:
    tree = ast.parse('f"{len(sour)} tasters are too few"; f"with {MOST} rows"; f"{n} odd marks"')
    assert [said for said, _ in counted_nouns(tree)] == ["{len(sour)} tasters", "{n} odd marks"]


def test_no_message_counts_without_minding_one() -> None:
    """Every count in a sentence goes through `count_of`, or is known to be never one."""
    loose = []
    for file in sorted(SOURCE.rglob("*.py")):
        known = NEVER_ONE.get(file.relative_to(SOURCE).as_posix(), set())
        for said, text in counted_nouns(ast.parse(file.read_text(encoding="utf-8"))):
            if said not in known:
                loose.append(f"{file.relative_to(SOURCE)}:{text.lineno}: {said}")
    assert not loose, "\n".join(loose)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: confusion([[1, 2]], [[2, 1]]), "acidity: 1 taster is too few. Give three"),
        (
            lambda: rv_coefficient([[1]], [[1]], np.random.default_rng(1)),
            "x: 1 row is too few. Give four coffees",
        ),
        (
            lambda: count_picks(["Oro"], ["Brisa", "Oro"], ["Oro"]),
            "b: 2 entries for 1 answer. Give one entry for every pick",
        ),
        (
            lambda: word_lift(["Ana"], ["Oro", "Oro"], [60, 50], [[1], [0]], ["nutty"]),
            "tasters: 1 entry for 2 marks. Give one for every mark",
        ),
    ],
)
def test_messages_that_said_one_tasters(call: Callable[[], object], text: str) -> None:
    with pytest.raises(InputError) as refused:
        call()
    assert str(refused.value).startswith(text)


def test_no_exception_is_kept_that_nothing_needs() -> None:
    for name, known in NEVER_ONE.items():
        tree = ast.parse((SOURCE / name).read_text(encoding="utf-8"))
        assert known <= {said for said, _ in counted_nouns(tree)}, name


def test_a_span_just_below_a_minute_is_that_minute() -> None:
    assert minutes(479.9999999) == "8:00"
    assert minutes(59.4) == "0:59"
