"""Run benchmarks: ``python -m benchmarks [--write] [name ... [option ...]]``.

Without names all run but those that take many minutes, which run by their name only. With
``--write`` the figures go into the table of benchmarks/README.md.
"""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

from benchmarks.figures import FILE_VARIABLE, read
from benchmarks.readme import README, write_table

HERE = Path(__file__).parent
MINUTES = frozenset({"calibration", "ordinal_coverage"})


def names() -> list[str]:
    """List the benchmarks: the modules beside this one, and the folders that can be run."""
    modules = [
        each.stem
        for each in HERE.glob("*.py")
        if "__main__" in each.read_text() and each.stem[0] != "_"
    ]
    folders = [each.parent.name for each in HERE.glob("*/__main__.py")]
    return sorted(modules + folders)


def main(arguments: list[str]) -> int:
    """Run each benchmark in a process of its own, so that none warms another up."""
    writes = "--write" in arguments
    given = [each for each in arguments if each != "--write"]
    first_option = next((n for n, each in enumerate(given) if each[0] == "-"), len(given))
    wanted, options = given[:first_option], given[first_option:]
    known = names()
    unknown = [name for name in wanted if name not in known]
    if unknown or (options and len(wanted) != 1):
        print(f"Name benchmarks to run: {', '.join(known)}; one only where options follow.")
        return 2
    chosen = wanted or [name for name in known if name not in MINUTES]
    if not writes:
        return run(chosen, options)
    with tempfile.TemporaryDirectory() as folder:
        kept = Path(folder) / "figures.jsonl"
        kept.touch()
        os.environ[FILE_VARIABLE] = str(kept)
        worst = run(chosen, options)
        write_table(README, read(kept))
    print(f"The figures are in {README}.")
    return worst


def run(chosen: list[str], options: list[str]) -> int:
    """Run them one after the other; return the worst exit code."""
    worst = 0
    for name in chosen:
        print(f"== {name}", flush=True)
        command = [sys.executable, "-m", f"benchmarks.{name}", *options]
        worst = max(worst, subprocess.call(command))
    return worst


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
