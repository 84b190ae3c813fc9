"""One name, two spellings: finds likely pairs, offers the merge, and does it when told to."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

import numpy as np

from twobowls.debrief.rating_table import Factor
from twobowls.errors import InputError
from twobowls.interchange.ratings_columns import plain

_MOST_COMPARED = 300  # pairwise comparison of more labels than this takes too long
_SHORTEST = 5  # shorter names that differ by a letter are as likely two names
_ALIKE = 0.85


@dataclass(frozen=True, slots=True)
class Merge:
    """Read ``old`` as ``new``, in one role or (role empty) wherever it occurs."""

    old: str
    new: str
    role: str = ""


def parse_merge(text: str) -> Merge:
    """Read ``old=new`` or ``role:old=new``.

    Examples
    --------
    >>> parse_merge("ana=Ana")
    Merge(old='ana', new='Ana', role='')
    >>> parse_merge("coffee:night ferry=Night Ferry").role
    'coffee'
    """
    old, equals, new = text.partition("=")
    role, colon, rest = old.partition(":")
    if colon and role.strip() in ("taster", "coffee", "sensation", "round"):
        old = rest
    else:
        role = ""
    if not equals or not old.strip() or not new.strip():
        raise InputError("merge", f"{text!r} does not say what is what", 'Write it as "ana=Ana"')
    return Merge(old.strip(), new.strip(), role.strip())


def apply_merges(factors: dict[str, Factor], merges: Iterable[Merge]) -> dict[str, Factor]:
    """Return the factors with the merges done.

    Raises
    ------
    InputError
        When a label to be merged occurs in none of them.
    """
    merged = dict(factors)
    for merge in merges:
        places = [
            name
            for name, factor in merged.items()
            if merge.role in ("", name) and merge.old in factor.labels
        ]
        if not places:
            raise InputError(
                "merge",
                f"no label is {merge.old!r}",
                "Copy the spelling exactly, capitals and accents included",
            )
        for name in places:
            merged[name] = _renamed(merged[name], merge.old, merge.new)
    return merged


def likely_merges(factor: Factor, cells: np.ndarray | None = None) -> list[tuple[str, str]]:
    """Return pairs of labels that may be one name in two spellings: (rarer, commoner).

    Parameters
    ----------
    factor : Factor
        The labels.
    cells : int array, shape (n,), optional
        What each row marks (coffee, sensation and round in one number). Two labels that mark
        the same cells are two people, so similar names among them are not offered; names that
        differ in capitals, accents or spaces only are offered all the same.

    Examples
    --------
    >>> likely_merges(Factor.of(["Ana", "ana", "Ana", "Brisa", "Judge 1", "Judge 2"]))
    [('ana', 'Ana')]
    """
    counts = Counter(factor.codes[factor.codes >= 0].tolist())
    used = [factor.labels[code] for code in sorted(counts)]
    rows = {factor.labels[code]: count for code, count in counts.items()}
    pairs: list[tuple[str, str]] = []
    groups: dict[str, list[str]] = {}
    for label in used:
        groups.setdefault(plain(label).replace("_", "") or label, []).append(label)
    for same in groups.values():
        keep = max(same, key=lambda label: rows[label])
        pairs += [(each, keep) for each in same if each != keep]
    if len(groups) <= _MOST_COMPARED:
        pairs += _near(groups, rows, factor, cells)
    return pairs


def _near(
    groups: dict[str, list[str]], rows: dict[str, int], factor: Factor, cells: np.ndarray | None
) -> list[tuple[str, str]]:
    names = sorted(groups)
    pairs = []
    for number, first in enumerate(names):
        for second in names[number + 1 :]:
            if not _alike(first, second):
                continue
            one, two = groups[first][0], groups[second][0]
            if cells is not None and _overlap(factor, cells, one, two):
                continue
            pairs.append((one, two) if rows[one] <= rows[two] else (two, one))
    return pairs


def _alike(one: str, two: str) -> bool:
    """Tell whether two plain names differ by a slip of the pen; numbers never do."""
    if min(len(one), len(two)) < _SHORTEST or _digits(one) != _digits(two):
        return False
    matcher = SequenceMatcher(None, one, two, autojunk=False)
    return matcher.real_quick_ratio() >= _ALIKE and matcher.ratio() >= _ALIKE


def _digits(text: str) -> str:
    return "".join(each for each in text if each.isdigit())


def _overlap(factor: Factor, cells: np.ndarray, one: str, two: str) -> bool:
    mine = cells[factor.codes == factor.labels.index(one)]
    theirs = cells[factor.codes == factor.labels.index(two)]
    return bool(np.isin(mine, theirs).any())


def _renamed(factor: Factor, old: str, new: str) -> Factor:
    labels: list[str] = [new if each == old else each for each in factor.labels]
    unique: Sequence[str] = list(dict.fromkeys(labels))
    renumber = np.array([unique.index(each) for each in labels] + [-1], dtype=np.int32)
    return Factor(tuple(unique), renumber[factor.codes])
