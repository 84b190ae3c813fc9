"""``twobowls.discrimination`` and ``similarity``: can tasters tell two coffees apart.

Both take counts, or a frame with one row an answer.
"""

from twobowls.notebook.estimates import interval_words
from twobowls.notebook.result import Result
from twobowls.notebook.tables import rows_table, show
from twobowls.notebook.two_coffees import counts_of, estimates_table, needed, two_coffees
from twobowls.statistics.discrimination import (
    DifferenceTest,
    SimilarityTest,
    difference_test,
    similarity_test,
)
from twobowls.statistics.psychometric import method as method_of


def discrimination(
    method: str,
    frame: object = None,
    *,
    right: str | None = None,
    correct: int | None = None,
    trials: int | None = None,
    alpha: float = 0.05,
    level: float = 0.90,
) -> Result[DifferenceTest]:
    """Test whether tasters tell two coffees apart, and say how well.

    Parameters
    ----------
    method : {"triangle", "duo-trio", "2-afc", "3-afc", "tetrad"}
        How the bowls were offered.
    frame : data frame or dict of lists, optional
        One row an answer; each taster once, or one taster only.
    right : str, optional
        Its column of true/false or 1/0.
    correct, trials : int, optional
        Right answers, of all answers, instead of a frame.
    alpha : float
        Risk of finding a difference where there is none.
    level : float
        Coverage of the intervals.

    Returns
    -------
    Result
        Tables ``estimates`` (shares and d-prime) and ``test``.

    Raises
    ------
    InputError
        When the method is not known, a count is out of range, or both counts and a frame
        (or neither) are given.

    Notes
    -----
    ISO 4120, ISO 10399, ISO 5495; see `twobowls.statistics.discrimination.difference_test`.

    Examples
    --------
    >>> found = discrimination("triangle", correct=12, trials=20)
    >>> found.result.minimum_correct, round(found.result.p_value, 4)
    (11, 0.013)
    """
    counted, asked = counts_of(frame, right, correct, trials, "correct")
    found = difference_test(method, *counted, alpha=alpha, level=level)
    estimates = estimates_table(
        ("right answers", found.proportion),
        ("discriminators", found.discriminators),
        ("d-prime", found.d_prime),
        ("d-prime, by likelihood", found.d_prime_likelihood),
    )
    told = "The coffees can be told apart" if found.different else "No difference is shown"
    return two_coffees(
        title=f"{_capital(method)}: {found.correct} of {found.trials} right",
        found=found,
        sentences=(
            f"{told} (p = {show(found.p_value, 'p')}; "
            f"{needed(found.minimum_correct)} right needed at {alpha:g}).",
            f"Chance that they can be told apart at all: {100 * found.probability:.0f} %.",
        ),
        notes=(
            f"{interval_words(level).capitalize()}; guessing is right "
            f"{method_of(method).guess:.0%} of the time.",
        ),
        estimates=estimates,
        bars=[("right answers", found.proportion), ("discriminators", found.discriminators)],
        axis="Share",
        neutral=None,
        asked=asked,
        test=(
            "correct",
            "trials",
            "minimum_correct",
            "p_value",
            "alpha",
            "different",
            "probability",
        ),
        cautions=found.cautions,
    )


def similarity(
    method: str,
    frame: object = None,
    *,
    right: str | None = None,
    correct: int | None = None,
    trials: int | None = None,
    limit: float = 0.30,
    beta: float = 0.05,
) -> Result[SimilarityTest]:
    """Test whether two coffees are so similar that few could tell them apart.

    Parameters
    ----------
    method : {"triangle", "duo-trio", "2-afc", "3-afc", "tetrad"}
        How the bowls were offered.
    frame : data frame or dict of lists, optional
        One row an answer, one answer a taster.
    right : str, optional
        Its column of true/false or 1/0.
    correct, trials : int, optional
        Right answers, of all answers, instead of a frame.
    limit : float
        The share of discriminators one is not willing to miss.
    beta : float
        Risk of calling the coffees similar when that share can tell them apart.

    Returns
    -------
    Result
        Tables ``estimates`` and ``test``.

    Raises
    ------
    InputError
        As for `discrimination`.

    Notes
    -----
    ISO 4120 and ISO 10399; see `twobowls.statistics.discrimination.similarity_test`.

    Examples
    --------
    >>> similarity("triangle", correct=22, trials=60).result.similar
    True
    """
    counted, asked = counts_of(frame, right, correct, trials, "correct")
    found = similarity_test(method, *counted, limit=limit, beta=beta)
    told = "Similar" if found.similar else "Similarity is not shown"
    return two_coffees(
        title=f"Similarity, {method_of(method).name}: {found.correct} of {found.trials} right",
        found=found,
        sentences=(
            f"{told}: at most {100 * found.largest_share:.0f} % may be able to tell the coffees "
            f"apart, at a risk of {beta:g} ({needed(found.maximum_correct)} right allowed "
            f"to rule out {100 * limit:g} %).",
        ),
        notes=(),
        estimates=rows_table(
            "estimates",
            "Discriminators",
            ("of", "upper_limit", "level"),
            [("discriminators", found.largest_share, 1 - beta)],
        ),
        bars=[],
        axis="",
        neutral=None,
        asked=asked,
        test=("correct", "trials", "maximum_correct", "p_value", "limit", "beta", "similar"),
        cautions=found.cautions,
    )


def _capital(method: str) -> str:
    name = method_of(method).name
    return name[:1].upper() + name[1:]
