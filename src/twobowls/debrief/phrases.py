"""How a claim is put into plain words, sensation by sensation, and how numbers are written."""

import math
from collections.abc import Sequence

from twobowls.debrief.rating_table import Scale

# What it means to be higher in intensity, and what is liked: (more, the thing itself).
_PHRASES = {
    "aroma": ("a stronger aroma than", "aroma"),
    "acidity": ("more acidity than", "acidity"),
    "bitterness": ("more bitterness than", "bitterness"),
    "sweetness": ("more sweetness than", "sweetness"),
    "body": ("more body than", "body"),
    "aftertaste": ("a stronger, longer aftertaste than", "aftertaste"),
    "verdict": ("a stronger overall presence than", ""),
}

_STEPS = (80, 95, 99)


def above(sensation: str, scale: Scale, a: str, others: Sequence[str]) -> str:
    """Say that one coffee is above others.

    Examples
    --------
    >>> above("acidity", "intensity", "Brisa", ["Oro", "Niebla"])
    'Brisa has more acidity than Oro and Niebla'
    >>> above("verdict", "liking", "Oro", ["Brisa"])
    'Oro is liked better than Brisa'
    >>> above("painty", "intensity", "1", ["2"])
    '1 is marked higher for painty than 2'
    """
    rest = joined(others)
    known = _PHRASES.get(sensation)
    if scale == "intensity":
        if known:
            return f"{a} has {known[0]} {rest}"
        return f"{a} is marked higher for {sensation} than {rest}"
    if sensation == "verdict":
        return f"{a} is liked better than {rest}"
    if known:
        return f"The {known[1]} of {a} is liked better than that of {rest}"
    return f"{a} is liked better than {rest} ({sensation})"


def standing(sensation: str, coffee: str, liked: bool) -> str:
    """Say on which side of neutral a coffee stands.

    Examples
    --------
    >>> standing("bitterness", "Oro", liked=False)
    'The bitterness of Oro is disliked'
    """
    word = "liked" if liked else "disliked"
    known = _PHRASES.get(sensation)
    if known and known[1]:
        return f"The {known[1]} of {coffee} is {word}"
    return f"{coffee} is {word}" + ("" if sensation == "verdict" else f" ({sensation})")


def level_name(sensation: str, scale: Scale) -> str:
    """Name a sensation on a scale, for headings.

    Examples
    --------
    >>> level_name("verdict", "liking"), level_name("body", "intensity")
    ('Verdict: how much it is liked', 'Body: how strong')
    """
    what = "how strong" if scale == "intensity" else "how much it is liked"
    return f"{title(sensation)}: {what}"


def title(sensation: str) -> str:
    """Write a sensation with a capital, when it is one of ours; a file's names stay as they are.

    Examples
    --------
    >>> title("aroma"), title("pH")
    ('Aroma', 'pH')
    """
    return sensation.capitalize() if sensation in _PHRASES else sensation


def joined(names: Sequence[str], last: str = "and") -> str:
    """Write a list as people say it.

    Examples
    --------
    >>> joined(["a", "b", "c"]), joined(["a"])
    ('a, b and c', 'a')
    """
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {last} {names[-1]}"


def number(value: float, places: int) -> str:
    """Write a value with some decimals and a proper minus.

    Examples
    --------
    >>> number(61.84, 0), number(-3.456, 2), number(-0.2, 0)
    ('62', '−3.46', '0')
    """
    text = f"{value:.{places}f}"
    return text.removeprefix("-") if float(text) == 0 else text.replace("-", "\N{MINUS SIGN}")


def points(size: float) -> str:
    """Write a distance on a line from 0 to 100, above zero, in whole points.

    Examples
    --------
    >>> points(0.3), points(1.2), points(8.7)
    ('under 1 point', '1 point', '9 points')
    """
    whole = round(size)
    return f"{whole} point{'' if whole == 1 else 's'}" if whole else "under 1 point"


def signed(value: float, places: int) -> str:
    """Write a difference with its sign.

    Examples
    --------
    >>> signed(4.2, 0), signed(-4.2, 0), signed(0.1, 0)
    ('+4', '−4', '0')
    """
    text = number(value, places)
    return f"+{text}" if float(text.replace("\N{MINUS SIGN}", "-")) > 0 else text


def span(interval: tuple[float, float], places: int) -> str:
    """Write an interval.

    Examples
    --------
    >>> span((-3.2, 11.8), 0)
    '−3 to 12'
    """
    return f"{number(interval[0], places)} to {number(interval[1], places)}"


def chance(probability: float) -> str:
    """Write a probability in per cent, never rounded up past a step of the evidence words.

    Examples
    --------
    >>> chance(0.9996), chance(0.953), chance(0.2), chance(0.9949), chance(0.9499)
    ('over 99.9 %', '95 %', '20 %', '99.4 %', '94.9 %')
    """
    per_cent = 100 * probability
    if per_cent > 99.9:
        return "over 99.9 %"
    if per_cent < 0.1:
        return "under 0.1 %"
    close = round(per_cent) in _STEPS and per_cent < round(per_cent)
    if close or per_cent >= 99 or per_cent <= 1:
        return f"{math.floor(per_cent * 10 + 1e-9) / 10:.1f} %"
    return f"{per_cent:.0f} %"


def decimals(limits: tuple[float, float], narrowest: float) -> int:
    """Return how many decimals figures deserve: by their scale, more where intervals are narrow.

    Parameters
    ----------
    limits : (float, float)
        Ends of the scale.
    narrowest : float
        Width of the narrowest interval to be written; 0 where there is none.

    Examples
    --------
    >>> decimals((0, 100), 8.0), decimals((1, 9), 0.9), decimals((0, 100), 0.4)
    (0, 2, 1)
    """
    width = limits[1] - limits[0]
    places = 0 if width >= 50 else 2 if width >= 4 else 3
    while 0 < narrowest * 10**places < 3 and places < 6:
        places += 1
    return places
