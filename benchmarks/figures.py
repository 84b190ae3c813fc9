"""What a benchmark found: figures with their peers and goals, as lines on the screen and in a file.

``python -m benchmarks`` gathers the figures of all benchmarks in a file and makes one table.
"""

import json
import os
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Literal

FILE_VARIABLE = "TWOBOWLS_FIGURES"
Better = Literal["less", "more"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Peer:
    """The same work done by another program in the same run."""

    name: str
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One line of the table.

    ``goal`` is a limit in the same unit, met by less or by more as ``better`` says; ``goal_peer``
    names a peer whose figure is the goal. ``note`` says in a few words what else there is to know.
    """

    group: str
    work: str
    value: float
    unit: str
    better: Better = "less"
    goal: float | None = None
    goal_peer: str = ""
    peers: tuple[Peer, ...] = ()
    note: str = ""

    @property
    def limit(self) -> float | None:
        """What the figure is held against; None where there is nothing."""
        named = [peer.value for peer in self.peers if peer.name == self.goal_peer]
        return named[0] if named else self.goal

    @property
    def met(self) -> bool | None:
        """Whether the goal is met; None without one."""
        if self.limit is None:
            return None
        return self.value <= self.limit if self.better == "less" else self.value >= self.limit


def report(figures: Sequence[Figure]) -> None:
    """Print figures, and `keep` them."""
    group = ""
    for figure in figures:
        if figure.group != group:
            group = figure.group
            print(f"\n{group}")
        print(line(figure), flush=True)
    keep(figures)


def keep(figures: Sequence[Figure]) -> None:
    """Keep figures for the table when ``python -m benchmarks`` asks for it."""
    if FILE_VARIABLE in os.environ:
        with Path(os.environ[FILE_VARIABLE]).open("a") as file:
            file.writelines(json.dumps(asdict(figure)) + "\n" for figure in figures)


def read(file: Path) -> list[Figure]:
    """Return the figures that benchmarks have kept in a file."""
    rows = [json.loads(line) for line in file.read_text().splitlines()]
    return [
        Figure(**{**row, "peers": tuple(Peer(**each) for each in row["peers"])}) for row in rows
    ]


def line(figure: Figure) -> str:
    """Return a figure as a line for the terminal."""
    goal = "" if figure.limit is None else f"  goal {goal_text(figure)}: {verdict(figure)}"
    peers = "".join(f"\n      {peer_text(figure, peer)}" for peer in figure.peers)
    note = f"\n      {figure.note}" if figure.note else ""
    return f"  {figure.work:52} {number(figure.value):>9} {figure.unit}{goal}{peers}{note}"


def peer_text(figure: Figure, peer: Peer) -> str:
    """Return a peer's figure and its ratio to ours.

    Examples
    --------
    >>> ours = Figure(group="", work="fit", value=0.5, unit="s")
    >>> peer_text(ours, Peer(name="other", value=1.0))
    'other 1.00 s, 2.0 x ours'
    """
    ratio = peer.value / figure.value if figure.value else float("inf")
    return f"{peer.name} {number(peer.value)} {figure.unit}, {number(ratio, 2)} x ours"


def goal_text(figure: Figure) -> str:
    """Return the limit in words."""
    if figure.limit is None:
        return ""
    if figure.goal_peer and figure.limit != figure.goal:
        return f"no {'slower' if figure.better == 'less' else 'less'} than {figure.goal_peer}"
    sign = "<=" if figure.better == "less" else ">="
    return f"{sign} {number(figure.limit)} {figure.unit}".rstrip()


def verdict(figure: Figure) -> str:
    """Return whether the goal is met, as a word."""
    return {True: "met", False: "FALLS SHORT", None: ""}[figure.met]


def number(value: float, digits: int = 3) -> str:
    """Return a number with a few significant digits.

    Examples
    --------
    >>> [number(each) for each in (0.0123456, 4.5, 123.4, 12345.6, 0.0)]
    ['0.0123', '4.50', '123', '12,346', '0']
    """
    if value == 0:
        return "0"
    if abs(value) >= 100:
        return f"{value:,.0f}"
    text = f"{value:.{digits}g}"
    if "e" in text:
        return text
    whole = len(text.lstrip("-0.").replace(".", ""))
    if whole >= digits:
        return text
    return text + ("." if "." not in text else "") + "0" * (digits - whole)
