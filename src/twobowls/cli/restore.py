"""Go back to a backup of the tastings; the present file is moved aside, never deleted."""

import argparse
import sys
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from twobowls.counting import count_of
from twobowls.errors import StoreError, TwobowlsError
from twobowls.store import STORE_VARIABLE, default_path
from twobowls.store.backup_files import Backup, backup_folder, list_backups
from twobowls.store.backups import Contents, verify_backup
from twobowls.store.paths import resolved
from twobowls.store.restoring import Restored, choose, is_sound, restore


def main(arguments: Sequence[str] | None = None) -> int:
    """Restore or list; return 0, or 2 when it could not be done."""
    given = _parser().parse_args(arguments)
    try:
        path = resolved(given.store or default_path())
        if given.list:
            return show(path)
        return go_back(path, given.backup, given.yes)
    except TwobowlsError as error:
        print(f"twobowls: {error}", file=sys.stderr)
        return 2


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="twobowls restore", description=__doc__)
    parser.add_argument(
        "backup",
        nargs="?",
        metavar="BACKUP",
        help="a number of the list, or the path of a file (default: the newest sound one)",
    )
    parser.add_argument(
        "--store",
        type=Path,
        metavar="FILE",
        help=f"where the tastings are kept (default: {STORE_VARIABLE}, or your data folder)",
    )
    parser.add_argument("--list", action="store_true", help="only list the backups, and check them")
    parser.add_argument(
        "--yes", action="store_true", help="go back even though the present store is sound"
    )
    return parser


def show(path: Path) -> int:
    """List the backups of a store, each one checked."""
    backups = list_backups(backup_folder(path))
    print(f"Backups in {backup_folder(path)}:" if backups else f"{path} has no backups yet.")
    for each in backups:
        print(f"  {each.number:>6}  {each.made_at:%Y-%m-%d %H:%M} UTC  {_state(each)}")
    return 0


def _state(backup: Backup) -> str:
    try:
        return described(verify_backup(backup))
    except StoreError:
        return "damaged, not to be used"


def go_back(path: Path, name: str | None, sure: bool) -> int:
    """Restore the store, unless it is sound and nobody said that it is meant."""
    source, contents = choose(path, name)
    if is_sound(path) and not sure:
        print(
            f"twobowls: {path} is sound; nothing was done. To go back to {source.name} "
            f"({described(contents)}) all the same, add --yes: the present store is then kept "
            "beside it under another name.",
            file=sys.stderr,
        )
        return 2
    tell(path, restore(path, source, round(datetime.now().timestamp() * 1000)))
    return 0


def tell(path: Path, done: Restored) -> None:
    """Say what was done."""
    print(f"{path} is back, from {done.source.name}: {described(done.contents)}.")
    if done.salvaged:
        rows, were = count_of(done.salvaged, "row"), "was" if done.salvaged == 1 else "were"
        print(f"{rows} newer than that {were} read from the damaged store and added.")
    if done.aside:
        print(f"The file that was there is kept as {done.aside}")
    if not done.kept_key:
        print("The next start draws a new key for the host and prints the address that carries it.")


def described(contents: Contents) -> str:
    """Return what a store holds, in words.

    Examples
    --------
    >>> described(Contents(1, (1, 3, 1, 9, 2, 40)))
    '3 coffees, 1 tasting, 2 seats, 40 batches of records'
    """
    parts = (("coffees", "coffee"), ("tastings", "tasting"), ("seats", "seat"))
    texts = [count_of(contents.of(table), one) for table, one in parts]
    batches = count_of(contents.of("batches"), "batch", "batches")
    return ", ".join([*texts, f"{batches} of records"])
