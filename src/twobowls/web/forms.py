"""What people typed, kept as they typed it, and the errors that belong beside it."""

import re

from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request

from twobowls.errors import InputError
from twobowls.tasting.typed_text import cleaned

CHARSETS = frozenset({"utf-8", "utf8", "us-ascii", "iso-8859-1"})
_CHARSET = re.compile(r'charset\s*\*?=\s*"?([^";]*)', re.IGNORECASE)


class Form:
    """The values of one form, and the first error of each field."""

    def __init__(self, data: FormData | None = None) -> None:
        self._data = data if data is not None else FormData()
        self.errors: dict[str, str] = {}

    def text(self, name: str, default: str = "") -> str:
        """Return a field as a person typed it, without outer spaces and what cannot be seen."""
        value = self._data.get(name)
        return cleaned(value).strip().replace("\r\n", "\n") if isinstance(value, str) else default

    def all(self, name: str) -> list[str]:
        """Return every value of a field that may be ticked more than once."""
        return [value for value in self._data.getlist(name) if isinstance(value, str)]

    def ticked(self, name: str) -> bool:
        """Say whether a tick box is ticked."""
        return name in self._data

    def file(self, name: str) -> UploadFile | None:
        """Return an uploaded file, if one was chosen."""
        value = self._data.get(name)
        return value if isinstance(value, UploadFile) and value.filename else None

    def number(self, name: str, low: float, high: float, unit: str = "") -> float:
        """Return a number within [low, high], written with a point or a comma; note an error."""
        typed = self.text(name)
        try:
            value = float(typed.replace(",", "."))
        except ValueError:
            value = float("nan")
        if not low <= value <= high:
            what = f"{typed!r} is not a number" if value != value else f"{typed} is out of range"
            self.refuse(name, f"{what}. Give {low:g} to {high:g}{' ' + unit if unit else ''}.")
            return low
        return value

    def whole(self, name: str, low: int, high: int) -> int:
        """Return a whole number within [low, high]; note an error."""
        typed = self.text(name)
        value = int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 10 else None
        if value is None or not low <= value <= high:
            what = "It is empty" if not typed else f"{typed!r} cannot be used"
            self.refuse(name, f"{what}. Give a whole number from {low} to {high}.")
            return low
        return value

    def refuse(self, name: str, sentence: str) -> None:
        """Note the first error of a field."""
        self.errors.setdefault(name, sentence)

    def refuse_error(self, error: InputError, name: str | None = None) -> None:
        """Note an error of the domain beside its field."""
        self.refuse(name or error.field, sentence(error))


async def read_form(request: Request, most_bytes: int = 100_000) -> Form:
    """Return a form without files; each of its fields holds at most so many bytes.

    Raises
    ------
    HTTPException
        400, for a form that cannot be read.
    """
    check_charset(request)
    async with request.form(max_part_size=most_bytes, max_files=0) as data:
        return Form(data)


def check_charset(request: Request) -> None:
    """Refuse a form in a charset that no browser sends; Python knows some that raise or expand.

    Raises
    ------
    HTTPException
        400, for a charset other than UTF-8 and its two elders.
    """
    named = _CHARSET.search(request.headers.get("content-type", ""))
    if named is not None and named[1].strip().lower() not in CHARSETS:
        raise HTTPException(400, "The form is in a charset that cannot be read. Send UTF-8.")


def sentence(error: InputError) -> str:
    """Return an error without its field's name, as it stands beside the field.

    Examples
    --------
    >>> sentence(InputError("name", "it is empty", "Give the coffee a name"))
    'It is empty. Give the coffee a name.'
    """
    return f"{error.problem[:1].upper()}{error.problem[1:]}. {error.cure}."
