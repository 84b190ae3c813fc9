"""Run every benchmark, or the named ones: ``python -m benchmarks [name ...]``."""

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent


def names() -> list[str]:
    """List the benchmarks: the modules beside this one, and the folders that can be run."""
    modules = [
        each.stem
        for each in HERE.glob("*.py")
        if "__main__" in each.read_text() and each.stem[0] != "_"
    ]
    folders = [each.parent.name for each in HERE.glob("*/__main__.py")]
    return sorted(modules + folders)


def main(wanted: list[str]) -> int:
    """Run each benchmark in a process of its own, so that none warms another up."""
    known = names()
    unknown = [name for name in wanted if name not in known]
    if unknown:
        print(f"benchmarks: {', '.join(unknown)} not known. Choose from {', '.join(known)}.")
        return 2
    worst = 0
    for name in wanted or known:
        print(f"== {name}", flush=True)
        worst = max(worst, subprocess.call([sys.executable, "-m", f"benchmarks.{name}"]))
    return worst


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
