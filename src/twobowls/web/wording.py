"""Numbers and instants as people read them. Pure."""

from datetime import datetime

from twobowls.tasting.tasting import State

STATE_TEXTS: dict[State, str] = {
    "planned": "planned",
    "open": "under way",
    "closed": "closed, not revealed",
    "revealed": "revealed",
}
NO_DATE, NO_TIME = "no known date", "no known time"


def plain_number(value: float) -> str:
    """Return a number without idle digits.

    Examples
    --------
    >>> plain_number(5.20), plain_number(200.0), plain_number(0.125)
    ('5.2', '200', '0.12')
    """
    return f"{value:.2f}".rstrip("0").rstrip(".")


def day(at_ms: int) -> str:
    """Return the local date of an instant, such as ``25 November 2026``."""
    at = _local(at_ms)
    return NO_DATE if at is None else f"{at.day} {at:%B %Y}"


def clock_time(at_ms: int) -> str:
    """Return the local time of an instant, such as ``14:05``."""
    at = _local(at_ms)
    return NO_TIME if at is None else f"{at:%H:%M}"


def _local(at_ms: int) -> datetime | None:
    """Return an instant here, or None for one beyond any calendar: a file may hold anything."""
    try:
        return datetime.fromtimestamp(at_ms / 1000).astimezone()
    except (ValueError, OverflowError, OSError):
        return None


def listed(words: list[str]) -> str:
    """Return words as a sentence lists them.

    Examples
    --------
    >>> listed(["Hot", "Warm", "Cool"]), listed(["Hot"]), listed([])
    ('Hot, Warm and Cool', 'Hot', '')
    """
    return " and ".join(filter(None, [", ".join(words[:-1]), *words[-1:]]))
