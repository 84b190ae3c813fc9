"""The shelf: what is known of a coffee before anybody tastes it."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Coffee:
    """One item on the host's shelf.

    Every text may be empty except ``name``. ``roast_date`` is an ISO 8601 date or empty,
    ``price_per_100g`` is in the host's own currency.
    """

    id: str
    name: str
    roaster: str = ""
    origin: str = ""
    process: str = ""
    roast_level: str = ""
    roast_date: str = ""
    price_per_100g: float | None = None
    seller_words: str = ""
    notes: str = ""
    archived: bool = False
