"""The picks as the debrief shows them: what they moved, and every pair."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from twobowls.counting import count_of
from twobowls.debrief.joined_picks import (
    JoinedPicks,
    WithPicks,
    join_sentence,
    move_sentence,
    moved_tally,
)
from twobowls.debrief.phrases import above, chance, signed, span, title
from twobowls.debrief.pick_counts import PickPair
from twobowls.web.debrief_tables import Row, Table


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """A statement that the picks moved, with the row of its figures."""

    text: str
    before: str
    after: str
    href: str
    figures: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PicksView:
    """The part of the page on picks; ``counts`` says how many picks each sensation has.

    ``rounds`` has the pairs that were picked in several rounds, None where there are none.
    """

    moves: tuple[Move, ...]
    tally: str
    counts: tuple[str, ...]
    pairs: Table
    rounds: Table | None


def picks_view(
    pairs: Sequence[PickPair], joined: Sequence[JoinedPicks], rounds: Mapping[str, str]
) -> PicksView | None:
    """Write out the picks; None where nobody picked. ``rounds`` are names by key, in order."""
    if not pairs:
        return None
    return PicksView(
        moves=tuple(_move(found, each) for found in joined for each in found.moves),
        tally=moved_tally(joined),
        counts=tuple(join_sentence(each) for each in joined),
        pairs=pairs_table(pairs),
        rounds=rounds_table(pairs, rounds),
    )


def _move(found: JoinedPicks, move: WithPicks) -> Move:
    turned = move.after < 0.5
    said = (
        move_sentence(found.sensation, found.scale, move)
        if turned
        else f"{above(found.sensation, found.scale, move.a, [move.b])}."
    )
    return Move(
        text=said,
        before=move.words[0],
        after=move.words[1],
        href=f"#{row_id(move)}",
        figures=f"{chance(move.before)} by the marks, {chance(move.after)} with the picks",
    )


def row_id(each: WithPicks) -> str:
    """Name the row of a contrast with the picks."""
    return f"{each.id}--picks"


def pairs_table(pairs: Sequence[PickPair]) -> Table:
    """Return the picks pair by pair."""
    rows = tuple(
        Row(
            cells=(
                f"{title(each.sensation)}: {_question(each)}",
                _pair(each),
                f"{each.for_a} to {each.for_b}",
                str(each.same),
                f"{100 * each.share:.0f} %",
                f"{100 * each.interval[0]:.0f} to {100 * each.interval[1]:.0f} %",
                each.evidence,
            )
        )
        for each in pairs
    )
    header = ("Question", "Pair", "Picks", "The same", "Share", "interval", "In a word")
    return Table(caption="Picks alone, pair by pair", header=header, rows=rows, texts=2)


def rounds_table(pairs: Sequence[PickPair], rounds: Mapping[str, str]) -> Table | None:
    """Return the picks round by round, of pairs picked in several; None where there are none.

    Counts only: a round has too few picks for shares with intervals of their own.
    """
    several = [each for each in pairs if len(each.rounds) > 1]
    if not several:
        return None
    used = {found.round for each in several for found in each.rounds}
    shown = [key for key in rounds if key in used]
    rows = tuple(
        Row(
            cells=(f"{title(each.sensation)}: {_question(each)}", _pair(each), *_cells(each, shown))
        )
        for each in several
    )
    header = ("Question", "Pair", *(rounds[key] for key in shown))
    return Table(caption="The same picks, round by round", header=header, rows=rows, texts=2)


def _cells(pair: PickPair, rounds: Sequence[str]) -> list[str]:
    """Write the picks of each round, as the pair is named; empty where nobody picked."""
    found = {each.round: each for each in pair.rounds}
    cells = []
    for key in rounds:
        each = found.get(key)
        parts = []
        if each and each.for_a + each.for_b:
            parts.append(f"{each.for_a} to {each.for_b}")
        if each and each.same:
            parts.append(f"same {each.same}")
        cells.append(", ".join(parts))
    return cells


def _pair(pair: PickPair) -> str:
    """Name a pair, the leading coffee first where one leads."""
    return f"{pair.a} {'and' if pair.for_a == pair.for_b else 'over'} {pair.b}"


def _question(pair: PickPair) -> str:
    return "which has more" if pair.question == "more" else "which is better"


def with_picks_table(found: JoinedPicks, places: int) -> Table:
    """Return every pair of one sensation with the picks, in the order of the marks' own table."""
    people = {each.id: each for each in found.people}
    rows = []
    for each in sorted(found.table, key=lambda one: -one.before):
        wide = people[each.id]
        same_way = (wide.a, wide.b) == (each.a, each.b)
        rows.append(
            Row(
                cells=(
                    f"{each.a} over {each.b}",
                    chance(each.before),
                    signed(each.difference, places),
                    span(each.interval, places),
                    chance(each.after),
                    f"{each.words[1]}, other way round" if each.turned else each.words[1],
                    chance(wide.after if same_way else 1 - wide.after),
                ),
                id=row_id(each),
            )
        )
    header = (
        "Pair",
        "Marks alone: chance",
        "With the picks",
        "interval",
        "chance",
        "in a word",
        "People like these: chance",
    )
    return Table(caption=f"With {count_of(found.picks, 'pick')}", header=header, rows=tuple(rows))
