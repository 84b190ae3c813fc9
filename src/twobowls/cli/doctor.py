"""Check the store, its backups and this computer, and say in plain words what to do."""

import argparse
import sqlite3
import sys
from collections.abc import Sequence
from pathlib import Path

from twobowls.cli.serve import DEFAULT_PORT, listening
from twobowls.errors import InputError, StoreError
from twobowls.store import STORE_VARIABLE, default_path
from twobowls.store.checkup import Finding, check_up
from twobowls.store.lock import is_in_use
from twobowls.store.paths import resolved
from twobowls.web.network import EVERYWHERE, address, lan_ip
from twobowls.web.settings import wall_clock_ms

OLDEST_SQLITE = (3, 37, 0)  # the first with STRICT tables
SIGNS = {"fine": "ok", "look": "look", "broken": "BROKEN"}
EXIT_CODES = {"fine": 0, "look": 1, "broken": 2}
VERDICTS = {
    0: "All is well.",
    1: "It will run, but look at the lines marked 'look'.",
    2: "It will not run as it is; the lines marked 'BROKEN' say what to do.",
}


def main(arguments: Sequence[str] | None = None) -> int:
    """Check up; return 0 when all is well, 1 when something wants a look, 2 when it is broken."""
    given = _parser().parse_args(arguments)
    try:
        path = resolved(given.store or default_path())
    except StoreError as error:
        print(f"twobowls: {error}", file=sys.stderr)
        return 2
    findings = [
        *check_up(path, wall_clock_ms()),
        check_sqlite(sqlite3.sqlite_version_info),
        check_port(given.port, path),
        check_network(given.port),
    ]
    for each in findings:
        print(line(each))
    code = max(EXIT_CODES[each.kind] for each in findings)
    print(VERDICTS[code])
    return code


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="twobowls doctor",
        description=__doc__,
        epilog="Exit code: 0 all is well, 1 something wants a look, 2 something is broken.",
    )
    parser.add_argument(
        "--store",
        type=Path,
        metavar="FILE",
        help=f"where the tastings are kept (default: {STORE_VARIABLE}, or your data folder)",
    )
    parser.add_argument("--port", type=int, default=DEFAULT_PORT, help="default: %(default)s")
    return parser


def line(finding: Finding) -> str:
    """Return a finding as it is printed.

    Examples
    --------
    >>> print(line(Finding("look", "disk", "0.4 GB are free in /data", "Free some space soon")))
    look    disk      0.4 GB are free in /data
                      -> Free some space soon.
    """
    text = f"{SIGNS[finding.kind]:<7} {finding.title:<9} {finding.text}"
    return f"{text}\n{' ' * 18}-> {finding.cure}." if finding.cure else text


def check_sqlite(version: tuple[int, ...]) -> Finding:
    """Say whether the SQLite that Python brings is new enough."""
    shown = ".".join(map(str, version[:3]))
    where = f"Python {sys.version.split()[0]}, SQLite {shown}"
    if version < OLDEST_SQLITE:
        wanted = ".".join(map(str, OLDEST_SQLITE))
        return Finding("broken", "versions", where, f"Use a Python with SQLite {wanted} or newer")
    return Finding("fine", "versions", where)


def check_port(port: int, path: Path) -> Finding:
    """Say whether the port is free, or taken by the tool itself."""
    try:
        listening("127.0.0.1", port).close()
    except InputError as error:
        if "in use" in error.problem and is_in_use(path):
            return Finding("fine", "port", f"{port} is taken, by the twobowls that runs already")
        return Finding("look", "port", error.problem, error.cure)
    return Finding("fine", "port", f"{port} is free")


def check_network(port: int) -> Finding:
    """Say how phones would reach this computer."""
    ip = lan_ip()
    if ip is None:
        return Finding(
            "look",
            "network",
            "this computer is in no network, so no phone can reach it",
            "Join the Wi-Fi that the phones are in, or open a hotspot on this computer",
        )
    return Finding(
        "fine",
        "network",
        f"with --lan, phones open {address(ip, port)} (in the same Wi-Fi; a firewall or a guest "
        f"network may keep them apart; listening on {EVERYWHERE})",
    )
