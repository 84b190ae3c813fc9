"""``twobowls.preference`` and ``a_not_a``: which of two coffees, and is this one of them."""

import numpy as np

from twobowls.errors import InputError
from twobowls.notebook.asked import Asked
from twobowls.notebook.estimates import interval_words
from twobowls.notebook.result import Result
from twobowls.notebook.tables import show
from twobowls.notebook.two_coffees import (
    counts_of,
    estimates_table,
    needed,
    one_answer_each,
    refuse_counts,
    two_coffees,
)
from twobowls.statistics.a_not_a import ANotATest, a_not_a_test
from twobowls.statistics.discrimination import PreferenceTest, preference_test


def preference(
    frame: object = None,
    *,
    answer: str | None = None,
    for_coffee: str | None = None,
    for_a: int | None = None,
    trials: int | None = None,
    alpha: float = 0.05,
    level: float = 0.90,
) -> Result[PreferenceTest]:
    """Test which of two coffees has more, or is liked better, neither side known beforehand.

    Parameters
    ----------
    frame : data frame or dict of lists, optional
        One row an answer.
    answer : str, optional
        Its column of the coffee chosen: two of them.
    for_coffee : str, optional
        The coffee whose share is told; the one chosen most when left out.
    for_a, trials : int, optional
        Answers for the first coffee, of all answers, instead of a frame.
    alpha : float
        Two-sided risk of finding a preference where there is none.
    level : float
        Coverage of the intervals.

    Returns
    -------
    Result
        Tables ``estimates`` and ``test``.

    Raises
    ------
    InputError
        When a count is out of range, more than two coffees were chosen, or both counts and a
        frame (or neither) are given.

    Notes
    -----
    ISO 5495, two-sided; see `twobowls.statistics.discrimination.preference_test`.

    Examples
    --------
    >>> round(preference(for_a=15, trials=20).result.p_value, 4)
    0.0414
    """
    name = "the first coffee"
    if frame is None:
        counted, asked = counts_of(None, None, for_a, trials, "for_a")
    else:
        refuse_counts(for_a=for_a, trials=trials)
        counted, name, asked = _chosen(frame, answer, for_coffee)
    found = preference_test(*counted, alpha=alpha, level=level)
    told = "There is a preference" if found.different else "No preference is shown"
    return two_coffees(
        title=f"Paired comparison: {found.for_a} of {found.trials} for {name}",
        found=found,
        sentences=(
            f"{told} (two-sided p = {show(found.p_value, 'p')}; "
            f"{needed(found.minimum_agreeing)} alike needed at {alpha:g}).",
            f"Chance that most people like these would choose {name}: "
            f"{100 * found.probability:.0f} %.",
        ),
        notes=(interval_words(level).capitalize() + ".",),
        estimates=estimates_table(("share", found.share), ("d-prime", found.d_prime)),
        bars=[(name.removeprefix("the "), found.share)],
        axis="Share of answers",
        neutral=0.5,
        asked=asked,
        test=(
            "for_a",
            "trials",
            "minimum_agreeing",
            "p_value",
            "alpha",
            "different",
            "probability",
        ),
        cautions=found.cautions,
    )


def a_not_a(
    a_called_a: int,
    a_bowls: int,
    other_called_a: int,
    other_bowls: int,
    *,
    alpha: float = 0.05,
    level: float = 0.90,
) -> Result[ANotATest]:
    """Test whether bowls of A are called A more often than bowls of another coffee.

    Parameters
    ----------
    a_called_a, a_bowls : int
        Bowls of A that were called A, of all bowls of A.
    other_called_a, other_bowls : int
        Bowls of the other coffee that were called A, of all of them.
    alpha : float
        Risk of finding a difference where there is none.
    level : float
        Coverage of the intervals.

    Returns
    -------
    Result
        Tables ``estimates`` and ``test``.

    Raises
    ------
    InputError
        When a count is out of range.

    Notes
    -----
    ISO 8588; see `twobowls.statistics.a_not_a.a_not_a_test`.

    Examples
    --------
    >>> round(a_not_a(14, 20, 6, 20).result.d_prime.estimate, 2)
    1.05
    """
    found = a_not_a_test(a_called_a, a_bowls, other_called_a, other_bowls, alpha=alpha, level=level)
    told = "The coffees can be told apart" if found.different else "No difference is shown"
    return two_coffees(
        title=f"A or not A: {a_called_a} of {a_bowls} against {other_called_a} of {other_bowls}",
        found=found,
        sentences=(f"{told} (p = {show(found.p_value, 'p')}).",),
        notes=(interval_words(level).capitalize() + ".",),
        estimates=estimates_table(
            ("A called A", found.hits),
            ("the other called A", found.false_alarms),
            ("d-prime", found.d_prime),
        ),
        bars=[("A called A", found.hits), ("the other called A", found.false_alarms)],
        axis="Share",
        neutral=None,
        asked=None,
        test=("p_value", "alpha", "different", "lean", "probability"),
        cautions=found.cautions,
    )


def _chosen(
    frame: object, answer: str | None, for_coffee: str | None
) -> tuple[tuple[int, int], str, Asked]:
    asked = Asked(frame)
    chosen = asked.labels("answer", answer)
    asked.one_of_each("sensation")
    asked.one_of_each("question")
    rows = asked.keep({"answer": chosen}, {})
    one_answer_each(asked, rows)
    chosen = chosen.take(rows)
    asked.spellings("answer", chosen)
    if len(chosen.labels) > 2:
        listed = ", ".join(chosen.labels[:6])
        raise InputError(
            asked.used["answer"],
            f"{len(chosen.labels)} different answers ({listed})",
            'Keep the rows of one pair, without "same"; twobowls.picks takes them all',
        )
    counts = np.bincount(chosen.codes, minlength=len(chosen.labels))
    name = chosen.labels[int(counts.argmax())] if for_coffee is None else str(for_coffee)
    number = 0
    if name in chosen.labels:
        number = int(counts[chosen.labels.index(name)])
    elif len(chosen.labels) == 2:
        raise InputError(
            "for_coffee", f"nobody chose {name!r}", f"Use one of: {', '.join(chosen.labels)}"
        )
    else:
        asked.cautions.append(f"Nobody chose {name!r}; all chose {chosen.labels[0]!r}.")
    return (number, int(counts.sum())), name, asked
