"""Other programs that fit the same models, each in a process of its own.

R's packages where Rscript is there; Python's from the ``bench`` extra, in the environment
``.venv-bench`` beside the project where that exists (``make peers``), else in our own. A peer
that is not installed, or fails, or takes too long, is told aloud and left out.
"""

import importlib.util
import json
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from benchmarks.progress import doing

ROOT = Path(__file__).parents[1]
PATIENCE_S = 600.0
R_SCRIPT = """
suppressMessages(library(PACKAGE))
d <- read.csv("FILE", colClasses = "character")
PREPARE
m <- NULL
t <- sapply(1:RUNS, function(i) system.time(m <<- FIT)[["elapsed"]])
cat("{\\"seconds\\": ", min(t), ", \\"score\\": ", format(SCORE, digits = 15), "}", sep = "")
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Timed:
    """The shortest of a few runs, and what the fit says of itself (a deviance)."""

    seconds: float
    score: float | None


def time_r(
    package: str,
    fit: str,
    score: str,
    columns: Mapping[str, Sequence[Any]],
    runs: int = 3,
    prepare: str = "d$y <- as.numeric(d$y)",
) -> Timed | None:
    """Time an R expression on a table ``d`` of texts, after ``prepare``.

    ``score`` is an expression of the fit ``m``. None, with a line on the screen, where it did not
    work.
    """
    program = shutil.which("Rscript")
    if program is None:
        return _left_out(f"R {package}", "Rscript is not installed")
    with tempfile.TemporaryDirectory() as folder:
        file = _table(Path(folder), columns)
        script = R_SCRIPT
        for name, text in {
            "PACKAGE": package,
            "PREPARE": prepare,
            "FILE": str(file),
            "FIT": fit,
            "RUNS": str(runs),
            "SCORE": score,
        }.items():
            script = script.replace(name, text)
        return _run(f"R {package}", [program, "-e", script])


def time_python(
    peer: str, formula: str, columns: Mapping[str, Sequence[Any]], runs: int = 3
) -> Timed | None:
    """Time one of `FITS` in a process of its own; None, told aloud, where it did not work."""
    with tempfile.TemporaryDirectory() as folder:
        file = _table(Path(folder), columns)
        start = "import sys; from benchmarks.peers import main; main(sys.argv[1:])"
        command = [_python(), "-c", start, peer, formula, str(file), str(runs)]
        return _run(peer, command)


def _python() -> str:
    folder = ROOT / ".venv-bench"
    found = [folder / "bin" / "python", folder / "Scripts" / "python.exe"]
    return str(next((each for each in found if each.exists()), sys.executable))


def _table(folder: Path, columns: Mapping[str, Sequence[Any]]) -> Path:
    file = folder / "table.csv"
    with file.open("w") as out:
        out.write(",".join(columns) + "\n")
        rows = zip(*columns.values(), strict=True)
        out.writelines(",".join(map(str, row)) + "\n" for row in rows)
    return file


def _run(peer: str, command: Sequence[str]) -> Timed | None:
    try:
        with doing(f"timing {peer}"):
            done = subprocess.run(
                command, capture_output=True, text=True, check=False, timeout=PATIENCE_S, cwd=ROOT
            )
    except subprocess.TimeoutExpired:
        return _left_out(peer, f"it took longer than {PATIENCE_S:.0f} s")
    try:
        return Timed(**json.loads(done.stdout.splitlines()[-1]))
    except (IndexError, ValueError, TypeError):
        said = (done.stderr.strip() or done.stdout.strip() or "nothing").splitlines()[-1]
        killed = f"ended by signal {-done.returncode}; " if done.returncode < 0 else ""
        return _left_out(peer, f"{killed}it said: {said}")


def _left_out(peer: str, why: str) -> Timed | None:
    """Say so, aloud; a table with a silent gap would look like a peer that was never meant."""
    print(f"  NOT MEASURED: {peer}: {why}", flush=True)
    return None


def _lme_python(formula: str, file: Path) -> tuple[Callable[[], Any], Callable[[Any], float]]:
    import lme_python
    import polars

    table = polars.read_csv(file)
    return lambda: lme_python.lmer(formula, table), lambda fit: float(fit.reml_criterion)


def _mixedlm(formula: str, file: Path) -> tuple[Callable[[], Any], Callable[[Any], float]]:
    import mixedlm
    import pandas as pd

    table = pd.read_csv(file)
    return lambda: mixedlm.lmer(formula, table), lambda fit: float(mixedlm.REMLcrit(fit))


def _statsmodels(formula: str, file: Path) -> tuple[Callable[[], Any], Callable[[Any], float]]:
    # it has no crossed terms; taster x coffee is a variance component within tasters
    import pandas as pd
    import statsmodels.formula.api as smf

    table = pd.read_csv(file)
    nested = {"cell": "0 + C(coffee)"} if "taster:coffee" in formula else None
    model = smf.mixedlm("y ~ coffee", table, groups="taster", vc_formula=nested, re_formula="1")
    return model.fit, lambda fit: -2 * float(fit.llf)


FITS: dict[str, Callable[[str, Path], tuple[Callable[[], Any], Callable[[Any], float]]]] = {
    "lme-python": _lme_python,
    "mixedlm": _mixedlm,
    "statsmodels": _statsmodels,
}


def time_here(peer: str, formula: str, file: Path, runs: int) -> Timed:
    """Time one of `FITS` in this process."""
    from benchmarks.timing import best

    fit, score = FITS[peer](formula, file)
    seconds, result = best(fit, runs)
    return Timed(seconds=seconds, score=score(result))


def main(arguments: Sequence[str]) -> None:
    """Time a peer and print what came out as JSON (in a process of its own)."""
    peer, formula, file, runs = arguments
    module = peer.replace("-", "_")
    if importlib.util.find_spec(module) is None:
        sys.exit("it is not installed; `make peers` installs it")
    timed = time_here(peer, formula, Path(file), int(runs))
    print(json.dumps({"seconds": timed.seconds, "score": timed.score}))
