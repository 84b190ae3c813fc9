"""The shelf: what is known of a coffee before anybody tastes it."""

from dataclasses import dataclass
from datetime import date

from twobowls.errors import InputError
from twobowls.tasting.typed_text import unseen_problem

SHORT_FIELDS = ("name", "roaster", "origin", "process", "roast_level")
LONG_FIELDS = ("seller_words", "notes")


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


LONGEST_NAME = 120
LONGEST_TEXT = 4000
HIGHEST_PRICE = 1_000_000.0


def coffee_problems(coffee: Coffee) -> tuple[InputError, ...]:
    """Return what keeps a coffee from standing on the shelf, one error a field.

    Parameters
    ----------
    coffee : Coffee
        What is to be put there.

    Returns
    -------
    tuple of InputError
        Empty when nothing is wrong.

    Examples
    --------
    >>> [str(each) for each in coffee_problems(Coffee(id="a", name=" "))]
    ['name: it is empty. Give the coffee a name.']
    """
    problems = [
        _date_problem(coffee.roast_date),
        _price_problem(coffee.price_per_100g),
        *(_length_problem(field, getattr(coffee, field), LONGEST_NAME) for field in SHORT_FIELDS),
        *(_length_problem(field, getattr(coffee, field), LONGEST_TEXT) for field in LONG_FIELDS),
        *(unseen_problem(field, getattr(coffee, field)) for field in SHORT_FIELDS + LONG_FIELDS),
    ]
    if not coffee.name.strip():
        problems.insert(0, InputError("name", "it is empty", "Give the coffee a name"))
    return tuple(problem for problem in problems if problem is not None)


def check_coffee(coffee: Coffee) -> None:
    """Raise the first of `coffee_problems`, if there is one.

    Parameters
    ----------
    coffee : Coffee
        What is to be put on the shelf.

    Raises
    ------
    InputError
        A field cannot be used.

    Examples
    --------
    >>> check_coffee(Coffee(id="a", name="Amber Gate"))
    """
    for problem in coffee_problems(coffee):
        raise problem


def _length_problem(field: str, text: str, longest: int) -> InputError | None:
    if len(text) <= longest:
        return None
    return InputError(field, f"it has {len(text)} characters", f"Use at most {longest}")


def _date_problem(text: str) -> InputError | None:
    if not text:
        return None
    try:
        date.fromisoformat(text)
    except ValueError:
        return InputError(
            "roast_date", f"{text!r} is not a date", "Write year-month-day, such as 2026-03-14"
        )
    return None


def _price_problem(price: float | None) -> InputError | None:
    if price is None or 0 <= price <= HIGHEST_PRICE:
        return None
    return InputError(
        "price_per_100g", f"{price:g} is not a price", "Give a number from 0 up, or leave it empty"
    )
