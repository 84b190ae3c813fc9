"""What the options are called in messages: a command line and a call write them differently."""

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """How messages speak of options.

    ``thing`` is what the marks came in, ``option`` writes an option that takes a value,
    ``given`` one with its value, ``flag`` one that takes none, ``merge`` the joining of two
    spellings.
    """

    thing: str
    option: Callable[[str], str]
    given: Callable[[str, str], str]
    flag: Callable[[str], str]
    merge: Callable[[str, str], str]


COMMAND = Wording(
    thing="file",
    option=lambda name: f"--{name}",
    given=lambda name, value: f"--{name} {value!r}",
    flag=lambda name: f"--{name}",
    merge=lambda old, new: f'--merge "{old}={new}"',
)
CALL = Wording(
    thing="frame",
    option=lambda name: f"{name.replace('-', '_')}=",
    given=lambda name, value: f"{name.replace('-', '_')}={value!r}",
    flag=lambda name: f"{name.replace('-', '_')}=True",
    merge=lambda old, new: f"merge={{{old!r}: {new!r}}}",
)
