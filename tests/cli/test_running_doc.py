"""docs/running.md says only what is true: its commands exist, its numbers are those of the code."""

import re
import shlex
from pathlib import Path

import pytest

from twobowls.cli import COMMANDS, doctor, restore, serve
from twobowls.cli.serve import DEFAULT_PORT
from twobowls.interchange import shelf_csv
from twobowls.store import backup_files, backup_keeper, events, nicknames, paths, record_messages
from twobowls.tasting import setup_check
from twobowls.web import join_pages, limits, seat_api, server, shield
from twobowls.web.doors import host_sessions, protocol

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "docs" / "running.md").read_text()
FLOWING = " ".join(TEXT.split())
PARSERS = {"serve": serve._parser(), "doctor": doctor._parser(), "restore": restore._parser()}
BLOCKS = re.findall(r"```sh\n(.*?)```", TEXT, re.DOTALL)
COMMAND_LINES = [
    line.partition("#")[0].strip()
    for text in [*BLOCKS, *re.findall(r"`(twobowls [^`]+)`", TEXT)]
    for line in text.splitlines()
    if "..." not in line
]


@pytest.mark.parametrize("line", sorted(set(COMMAND_LINES)))
def test_every_command_is_one(line: str) -> None:
    program, command, *arguments = shlex.split(line)
    assert program == "twobowls"
    assert command in COMMANDS
    PARSERS[command].parse_args(arguments)


def test_every_option_of_serve_is_told() -> None:
    known = {name for action in PARSERS["serve"]._actions for name in action.option_strings}
    assert {each for each in known if each not in ("-h", "--help")} <= set(
        re.findall(r"--[a-z-]+", TEXT)
    )
    assert str(DEFAULT_PORT) in TEXT


@pytest.mark.parametrize(
    "sentence",
    [
        f"| {setup_check.MOST_COFFEES}, {setup_check.MOST_BOWLS}; {setup_check.MOST_PER_FLIGHT} |",
        f"| {setup_check.MOST_SEATS}; {events.MOST_SEATS} |",
        f"| 80, {nicknames.LONGEST_NICKNAME}, {record_messages.LONGEST_NOTE} |",
        f"| {record_messages.MOST_IN_A_BATCH}; {seat_api.MOST_BYTES // 1000} kB |",
        f"| {shelf_csv.MOST_ROWS}; {shelf_csv.MOST_BYTES // 1000} kB |",
        f"| {shield.MOST_BYTES // 1_000_000} MB |",
        f"signed in for {host_sessions.LASTS_S // 86_400} days",
        f"`{paths.data_folder('linux', {}, Path('~'))}/`",
        f"`{paths.data_folder('darwin', {}, Path('~'))}/`",
        f"at most {backup_files.MOST_BYTES // 10**9} GB together",
        f"| {limits.FREE_CODES}, and one more every {limits.CODE_EVERY_S:g} seconds; each further "
        f"try, right or wrong, waits {limits.HOLD_S:g} seconds |",
        f"| {limits.FREE_SEATS} at once, then one every {limits.SEAT_EVERY_S:g} seconds |",
        f"| {server.MOST_OF_ONE_ADDRESS}, and no more than half of all |",
        f"| {protocol.MOST_HEAD_BYTES // 1000} kB |",
        f"| {protocol.Patience().head_s:g} seconds; {protocol.Patience().body_s:g} seconds |",
    ],
)
def test_the_numbers_are_those_of_the_code(sentence: str) -> None:
    assert sentence in FLOWING


def test_spelled_numbers_are_those_of_the_code() -> None:
    assert (backup_files.NEWEST, backup_files.HOURS, backup_files.DAYS) == (6, 12, 14)
    assert "newest six are kept, the last of each of twelve hours and of fourteen days" in FLOWING
    assert backup_keeper.EVERY_S == 120
    assert "within two minutes of any change" in FLOWING
    assert join_pages.KEEP_SEAT["cache-control"] == "private, max-age=14400"
    assert "up to four hours" in FLOWING


@pytest.mark.parametrize("words", re.findall(r'"((?:The|the) (?:disk|file|laptop)[^"]+)"', FLOWING))
def test_what_the_tool_is_said_to_say_is_what_it_says(words: str) -> None:
    source = "".join(
        path.read_text()
        for folder, end in (("store", "*.py"), ("web/static/js/seat", "*.js"))
        for path in (ROOT / "src" / "twobowls" / folder).rglob(end)
    )
    assert words[1:] in source
