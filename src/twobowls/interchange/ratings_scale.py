"""The two ends of a scale, guessed from the marks when nobody states them."""

import math

import numpy as np

from twobowls.debrief.rating_table import Values

# Common scales of category and line ratings, the narrowest first; ISO 4121 has both kinds.
_CATEGORIES = ((1.0, 5.0), (1.0, 7.0), (1.0, 9.0))
_LINES = ((0.0, 1.0), (0.0, 10.0), (0.0, 15.0), (0.0, 100.0), (0.0, 150.0))


def guess_limits(values: Values) -> tuple[float, float]:
    """Return the narrowest usual scale that holds the marks, or their own rounded range.

    Parameters
    ----------
    values : array, shape (n,)
        Marks in any unit; NaN is ignored.

    Returns
    -------
    (float, float)
        1-5, 1-7 or 1-9 when all marks are whole and none is 0; 0-1, 0-10, 0-15, 0-100 or
        0-150 otherwise; beyond those the marks' range, widened to round numbers.

    Examples
    --------
    >>> guess_limits(np.array([2.0, 7.0, 8.0]))
    (1.0, 9.0)
    >>> guess_limits(np.array([0.0, 14.9]))
    (0.0, 15.0)
    >>> guess_limits(np.array([-40.0, 31.0]))
    (-40.0, 40.0)
    """
    marks = values[~np.isnan(values)]
    if not len(marks):
        return (0.0, 100.0)
    low, high = float(marks.min()), float(marks.max())
    whole = bool((marks == np.round(marks)).all())
    for bottom, top in (*_CATEGORIES, *_LINES) if whole and low >= 1 else _LINES:
        if bottom <= low and high <= top:
            return (bottom, top)
    step = 10.0 ** math.floor(math.log10(max(abs(low), abs(high)))) if high or low else 1.0
    top = math.ceil(high / step) * step
    if low >= 0:
        return (0.0, top)
    reach = max(top, math.ceil(-low / step) * step)
    return (-reach, reach)
