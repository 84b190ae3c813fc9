"""``twobowls.threshold``: from which strength on a taste is noticed."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from twobowls.counting import count_of
from twobowls.debrief.rating_table import Factor, Values
from twobowls.errors import InputError
from twobowls.notebook.asked import Asked, pivot
from twobowls.notebook.estimates import INTERVAL, interval_cells, interval_words
from twobowls.notebook.pictures import Curve, curve_picture
from twobowls.notebook.result import Picture, Result, Section
from twobowls.notebook.tables import Table, rows_table, show
from twobowls.statistics.threshold_curve import ThresholdCurve, threshold_curve
from twobowls.statistics.thresholds import GroupThreshold, best_estimate_threshold


@dataclass(frozen=True, slots=True, kw_only=True)
class Threshold:
    """Two answers to one question; ``group`` is None where the series have gaps.

    ``strengths`` are those tasted, ``right`` and ``trials`` the answers at each.
    """

    group: GroupThreshold | None
    curve: ThresholdCurve
    strengths: tuple[float, ...]
    right: tuple[int, ...]
    trials: tuple[int, ...]


def threshold(
    frame: object,
    *,
    strength: str | None = None,
    right: str | None = None,
    taster: str | None = None,
    trials: str | None = None,
    merge: Mapping[str, str] | None = None,
    guess: float = 1 / 3,
    prior: Literal["weak", "flat"] = "weak",
    level: float = 0.90,
) -> Result[Threshold]:
    """Find the strength that is noticed half the time, from forced choices of rising strength.

    Parameters
    ----------
    frame : data frame or dict of lists
        One row an answer; or one row a strength, with counts in ``right`` and ``trials``.
    strength : str, optional
        Column of strengths above 0, on one unit.
    right : str, optional
        Column of true/false or 1/0; of counts, with ``trials``.
    taster : str, optional
        Column that says who answered; found by its name where there is one.
    trials : str, optional
        Column of how many answered.
    merge : dict, optional
        Spellings to read as others: ``{"ana": "Ana"}``.
    guess : float
        Share right by guessing: 1/3 for three bowls.
    prior : {"weak", "flat"}
        Of the steepness of the curve; flat is maximum likelihood.
    level : float
        Coverage of the intervals.

    Returns
    -------
    Result
        Tables ``thresholds``, ``tasters``, ``strengths``, ``columns``, in the unit of the
        strengths.

    Raises
    ------
    InputError
        When a column is missing, a strength is not above 0, or an answer is neither right nor
        wrong.

    Notes
    -----
    A logistic curve above guessing, and, where every taster had every strength once, the
    best-estimate threshold of ASTM E679. Sources in `twobowls.statistics.threshold_curve` and
    ``thresholds``.

    Examples
    --------
    >>> found = threshold({
    ...     "taster": ["Ana"] * 4 + ["Ben"] * 4 + ["Ciro"] * 4,
    ...     "strength": [1, 2, 4, 8] * 3,
    ...     "right": [0, 1, 1, 1, 0, 0, 1, 1, 1, 0, 0, 1],
    ... })
    >>> [round(each, 2) for each in found.to_frame("tasters")["threshold"]]
    [1.41, 2.83, 5.66]
    """
    asked = Asked(frame, merge)
    x = asked.numbers("strength", strength)
    counts = asked.maybe_numbers("trials", trials)
    group = None
    if counts is not None:
        hits = asked.numbers("right", right)
        if taster is not None:
            raise InputError(
                "taster", "counts are of all tasters", "Leave it out, or give one row an answer"
            )
        asked.one_of_each()
        rows = asked.keep({"strength": x, "right": hits, "trials": counts}, {})
        who = None
    else:
        hits = asked.whether("right", right)
        who = asked.maybe_labels("taster", taster)
        asked.one_of_each()
        rows = asked.keep({"strength": x, "right": hits}, {"taster": who})
        counts = np.ones(len(x))
    if (x[rows] <= 0).any():
        row = int(np.flatnonzero(rows & ~(x > 0))[0])
        raise InputError(
            asked.used["strength"], f"{x[row]:g} is not above 0", "Leave out plain water", row
        )
    levels, at = np.unique(x[rows], return_inverse=True)
    if len(levels) < 2:
        raise InputError(asked.used["strength"], "there is one strength only", "Give two or more")
    right_of = np.bincount(at, hits[rows], len(levels))
    trials_of = np.bincount(at, counts[rows], len(levels))
    if who is not None:
        who = who.take(rows)
        asked.spellings("taster", who, at)
        group = _group(asked, who, levels, at, hits[rows], level)
    curve = threshold_curve(levels, right_of, trials_of, guess=guess, level=level, prior=prior)
    found = Threshold(
        group=group,
        curve=curve,
        strengths=tuple(levels.tolist()),
        right=tuple(int(each) for each in right_of),
        trials=tuple(int(each) for each in trials_of),
    )
    return _told(found, who, asked, level)


def _group(
    asked: Asked, who: Factor, levels: Values, at: np.ndarray, hits: Values, level: float
) -> GroupThreshold | None:
    """Return the best-estimate threshold if every taster had every strength once."""
    strength = Factor(tuple(f"{each:g}" for each in levels), at.astype(np.int32))
    cells = who.codes.astype(np.int64) * len(levels) + at
    if len(np.unique(cells)) != len(cells) or len(cells) != len(who.labels) * len(levels):
        asked.cautions.append(
            "Best-estimate thresholds are left out: not every taster had every strength once."
        )
        return None
    table = pivot(who, strength, hits, np.ones(len(hits), dtype=bool))
    return best_estimate_threshold(levels, table, level=level)


def _told(found: Threshold, who: Factor | None, asked: Asked, level: float) -> Result[Threshold]:
    rows: list[tuple[object, ...]] = [("logistic curve", *interval_cells(found.curve.threshold))]
    if found.group is not None:
        rows.append(("best estimates, geometric mean", *interval_cells(found.group.group)))
    both = rows_table("thresholds", "Thresholds", ("by", *INTERVAL), rows)
    tasters = _tasters(found, who)
    strengths = rows_table(
        "strengths",
        "Answers at each strength",
        ("strength", "right", "of", "expected_share"),
        list(
            zip(
                found.strengths,
                found.right,
                found.trials,
                found.curve.share_right(found.strengths).tolist(),
                strict=True,
            )
        ),
        {"expected_share": "share"},
    )
    section = Section(
        sentences=(_sentence(found),),
        notes=(
            f"{interval_words(level).capitalize()}; guessing is right "
            f"{found.curve.guess:.0%} of the time.",
        ),
        picture=_picture(found),
        tables=(both, tasters) if found.group else (both,),
        folded=(strengths, asked.columns_table()),
    )
    return Result(
        title=f"Threshold: {count_of(len(found.strengths), 'strength')}, "
        f"{count_of(sum(found.trials), 'answer')}",
        result=found,
        sections=(section,),
        tables=(both, tasters, strengths, asked.columns_table()),
        cautions=(
            *asked.cautions,
            *found.curve.cautions,
            *(found.group.cautions if found.group else ()),
        ),
        backend=asked.frame.backend,
    )


def _tasters(found: Threshold, who: Factor | None) -> Table:
    rows: list[tuple[str, float]] = []
    if found.group is not None and who is not None:
        rows = list(zip(who.labels, found.group.each, strict=True))
    caption = "Best-estimate threshold of each taster"
    return rows_table("tasters", caption, ("taster", "threshold"), rows)


def _sentence(found: Threshold) -> str:
    t = found.curve.threshold
    if not 0 < t.estimate < float("inf"):
        return "The answers put the threshold out of sight: taste weaker or stronger bowls."
    return f"Noticed half the time from {show(t.estimate)} on ({show(t.low)} to {show(t.high)})."


def _picture(found: Threshold) -> Picture | None:
    t = found.curve.threshold.estimate
    if not 0 < t < float("inf"):
        return None
    ends = (min(found.strengths[0], t), max(found.strengths[-1], t))
    x = np.geomspace(*ends, 80)
    dots = [
        (strength, right / of)
        for strength, right, of in zip(found.strengths, found.right, found.trials, strict=True)
    ]
    return curve_picture(
        Curve(
            x=x.tolist(),
            y=found.curve.share_right(x).tolist(),
            dots=dots,
            marks=(t,),
            floor=found.curve.guess,
        ),
        ("Strength", "Share right"),
        f"Share of right answers by strength, with the fitted curve. {_sentence(found)}",
        ticks=found.strengths,
        limits=(0.0, 1.0),
    )
