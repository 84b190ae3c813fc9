"""The command line: thin commands, each a module with ``main(arguments) -> exit code``.

A command's module is imported only when it is called, so that the list of commands, and the
small commands, answer at once.
"""

import importlib
import sys
from collections.abc import Sequence

from twobowls import __version__

COMMANDS = {
    "serve": "run the tool for a tasting and open it in the browser",
    "restore": "go back to a backup of the tastings",
    "doctor": "check the store and this computer, and say what to do",
    "openapi": "print what the server answers, as an OpenAPI description",
    "analyse": "say what a file of ratings shows, and how sure that is",
}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command and return the exit code: 0 when it went well, 2 when the input was wrong."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    if not given or given[0] in ("-h", "--help", "help"):
        print(_usage())
        return 0
    if given[0] == "--version":
        print(f"twobowls {__version__}")
        return 0
    if given[0] not in COMMANDS:
        print(f"twobowls: there is no command {given[0]!r}.\n\n{_usage()}", file=sys.stderr)
        return 2
    module = importlib.import_module(f"twobowls.cli.{given[0]}")
    code: int = module.main(given[1:])
    return code


def _usage() -> str:
    width = max(map(len, COMMANDS))
    lines = [f"  {name.ljust(width)}  {what}" for name, what in COMMANDS.items()]
    return "\n".join(
        [
            "Usage: twobowls COMMAND ...",
            "",
            "Commands:",
            *lines,
            "",
            "`twobowls COMMAND --help` tells the options of a command.",
        ]
    )
