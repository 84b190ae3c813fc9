"""``twobowls analyse FILE``: what a file of ratings shows, as text, JSON or one HTML page."""

import json
import sys
from argparse import ArgumentParser, Namespace, RawDescriptionHelpFormatter, _ArgumentGroup
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from twobowls.errors import InputError

if TYPE_CHECKING:
    from twobowls.debrief.analysis import Analysis, Model
    from twobowls.debrief.findings import Findings
    from twobowls.debrief.rating_table import Scale
    from twobowls.interchange.ratings_columns import Role
    from twobowls.interchange.ratings_file import Choices, RatingsFile

ROLES: tuple[tuple["Role", str], ...] = (
    ("taster", "who made the mark"),
    ("coffee", "what was tasted"),
    ("sensation", "what was judged; without it the marks are one sensation"),
    ("intensity", "marks of how strong"),
    ("liking", "marks of how much it was liked"),
    ("round", "when in the tasting"),
    ("bowl", "which vessel"),
    ("position", "at which place in the serving order"),
    ("repeat", "tells marks made again apart"),
    ("flight", "which group of bowls"),
    ("counts", "1 where the mark counts, 0 where it was changed later"),
    ("kept", "1 where the taster kept a former round's mark, 0 where it was made anew"),
)
_MOST_ERRORS = 20
_EPILOG = """\
Columns that you do not name are guessed from their names and shown; the column `none` leaves
one out. A wide file has one column a sensation: name them with --sensations.

To compare with another package: --prior flat --random taster,taster:coffee fits by REML, with
the coffee and the columns that you named (round, position, flight) as fixed terms.
"""


def main(arguments: Sequence[str]) -> int:
    """Run the command; see ``twobowls analyse --help``."""
    options = _parser().parse_args(arguments)
    try:
        return _run(options)
    except InputError as error:
        print(f"twobowls analyse: {error}", file=sys.stderr)
        _print_rows(error)
        return 2


def _parser() -> ArgumentParser:
    parser = ArgumentParser(
        prog="twobowls analyse",
        description="Say what a file of ratings shows, and how sure that is.",
        epilog=_EPILOG,
        formatter_class=RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument(
        "file", metavar="FILE", help="CSV, TSV, XLSX or Parquet; - reads standard input"
    )
    _add_columns(parser.add_argument_group("columns"))
    _add_marks(parser.add_argument_group("marks"))
    _add_model(parser.add_argument_group("model"))
    out = parser.add_argument_group("output")
    out.add_argument("--json", metavar="OUT", help="write all figures; - is standard output")
    out.add_argument("--html", metavar="OUT", help="write one self-contained page; - as above")
    return parser


def _add_columns(group: _ArgumentGroup) -> None:
    for role, what in ROLES:
        group.add_argument(f"--{role}", metavar="COL", help=what)
    group.add_argument("--sensations", metavar="COL,COL", help="the sensations of a wide file")
    group.add_argument(
        "--wide-scale",
        choices=("intensity", "liking"),
        default="intensity",
        help="what the marks of a wide file are (default: intensity)",
    )
    group.add_argument(
        "--sheet", metavar="NAME", default="", help="which sheet of a workbook (default: the first)"
    )
    group.add_argument(
        "--one-taster", action="store_true", help="one person made all marks; no column says who"
    )


def _add_marks(group: _ArgumentGroup) -> None:
    group.add_argument("--scale", metavar="LO,HI", help="ends of the scale (default: guessed)")
    group.add_argument("--liking-scale", metavar="LO,HI", help="ends of the liking scale alone")
    group.add_argument(
        "--merge", metavar="OLD=NEW", action="append", default=[], help="read a name as another"
    )
    group.add_argument(
        "--drop-copies", action="store_true", help="count rows that are alike in all columns once"
    )
    group.add_argument(
        "--skip-errors", action="store_true", help="leave out rows that cannot be read"
    )


def _add_model(group: _ArgumentGroup) -> None:
    group.add_argument(
        "--prior", choices=("weak", "flat"), default="weak", help="flat is REML (default: weak)"
    )
    group.add_argument("--random", metavar="TERMS", help="such as taster,taster:coffee")
    group.add_argument("--fixed", metavar="TERMS", help="such as coffee,round")
    group.add_argument(
        "--level", metavar="P", default="0.9", help="share that intervals hold (default: 0.9)"
    )


def _run(options: Namespace) -> int:
    from twobowls.debrief.analysis import analyse
    from twobowls.debrief.findings import find
    from twobowls.interchange.ratings_file import read_ratings, without_loose_guesses

    if options.json == "-" and options.html == "-":
        raise InputError("html", "standard output can hold one of --json and --html", "Name a file")
    choices, model = _choices(options), _model(options)
    file = read_ratings(_source(options.file), choices)
    if model.random is not None or model.fixed is not None:
        terms = (*(model.random or ()), *(model.fixed or ()))
        wanted = frozenset(part for term in terms for part in term.split(":"))
        file = without_loose_guesses(file, wanted)
    analysis = analyse(file.table, model)
    if not analysis.fits:
        raise InputError("model", _all_skipped(analysis), "Change the model or the file as it says")
    findings = find(analysis)
    if options.json:
        _write_json(options.json, file, analysis, findings)
    if options.html:
        _write_html(options, file, analysis, findings)
    if "-" not in (options.json, options.html):
        print(_text(file, analysis, findings), end="")
    return 0


def _choices(options: Namespace) -> "Choices":
    from twobowls.interchange.ratings_file import Choices
    from twobowls.interchange.ratings_labels import parse_merge

    columns: dict[Role, str] = {
        role: name for role, _ in ROLES if (name := getattr(options, role)) is not None
    }
    limits: dict[Scale, tuple[float, float]] = {}
    if options.scale:
        limits["intensity"] = limits["liking"] = _ends(options.scale, "scale")
    if options.liking_scale:
        limits["liking"] = _ends(options.liking_scale, "liking-scale")
    return Choices(
        columns=columns,
        sensations=_names(options.sensations, "sensations") or (),
        wide_scale=options.wide_scale,
        one_taster=options.one_taster,
        limits=limits,
        merges=tuple(parse_merge(each) for each in options.merge),
        drop_copies=options.drop_copies,
        skip_errors=options.skip_errors,
        sheet=options.sheet,
    )


def _model(options: Namespace) -> "Model":
    from twobowls.debrief.analysis import Model

    try:
        level = float(options.level)
    except ValueError:
        level = float("nan")
    if not 0 < level < 1:
        raise InputError("level", f"{options.level!r} is not a share", "Give one such as 0.9")
    random = _names(options.random, "random")
    if random and "coffee" in random and options.prior == "flat":
        raise InputError("random", "the coffee is what is compared", "Leave it out")
    return Model(
        prior=options.prior, random=random, fixed=_names(options.fixed, "fixed"), level=level
    )


def _names(text: str | None, field: str) -> tuple[str, ...] | None:
    """Read a list of names; None when the option was not given."""
    if text is None:
        return None
    names = tuple(each.strip() for each in text.split(","))
    if not all(names):
        raise InputError(field, f"{text!r} has an empty name", "Separate names by single commas")
    return names


def _ends(text: str, field: str) -> tuple[float, float]:
    try:
        low, high = (float(each) for each in text.split(","))
    except ValueError:
        low, high = 0.0, 0.0
    if not (low < high and abs(low) < 1e9 and abs(high) < 1e9):
        raise InputError(field, f"{text!r} is not a scale", "Write its ends as 0,100")
    return (low, high)


def _source(name: str) -> Path | bytes:
    return sys.stdin.buffer.read() if name == "-" else Path(name)


def _all_skipped(analysis: "Analysis") -> str:
    reasons = dict.fromkeys(each.reason.rstrip(".") for each in analysis.skipped)
    return f"nothing could be fitted ({'; '.join(reasons)})"


def _text(file: "RatingsFile", analysis: "Analysis", findings: "Findings") -> str:
    from twobowls.debrief.model_checks import check_sentences, model_checks
    from twobowls.debrief.plain_text import debrief_text
    from twobowls.debrief.repeatability import repeatability
    from twobowls.interchange.ratings_summary import summary_text

    repeats = repeatability(file.table, analysis.model.level)
    checks = check_sentences(model_checks(file.table, analysis))
    told = debrief_text(analysis, findings, file.cautions, repeats, checks=checks)
    return summary_text(file) + told


def _write_json(out: str, file: "RatingsFile", analysis: "Analysis", findings: "Findings") -> None:
    from twobowls.debrief.model_checks import model_checks
    from twobowls.debrief.repeatability import repeatability
    from twobowls.interchange.analysis_json import file_dict

    repeats = repeatability(file.table, analysis.model.level)
    checks = model_checks(file.table, analysis)
    whole = file_dict(file, analysis, findings, repeats, checks)
    _write("json", out, json.dumps(whole, ensure_ascii=False, indent=1, allow_nan=False) + "\n")


def _write_html(
    options: Namespace, file: "RatingsFile", analysis: "Analysis", findings: "Findings"
) -> None:
    from twobowls.web.debrief_file import file_page

    name = "standard input" if options.file == "-" else Path(options.file).name
    _write("html", options.html, file_page(name, file, analysis, findings))


def _write(field: str, out: str, text: str) -> None:
    if out == "-":
        sys.stdout.write(text)
        return
    try:
        Path(out).write_text(text, encoding="utf-8")
    except OSError as error:
        raise InputError(
            field, f"{out} cannot be written ({error.strerror})", "Name a file in a folder of yours"
        ) from None


def _print_rows(error: InputError) -> None:
    """Print the first errors of rows below the summary."""
    rows: tuple[InputError, ...] = getattr(error, "errors", ())
    for each in rows[:_MOST_ERRORS]:
        print(f"  {each}", file=sys.stderr)
    more = getattr(error, "count", 0) - min(len(rows), _MOST_ERRORS)
    if more > 0:
        print(f"  and {more} more", file=sys.stderr)
