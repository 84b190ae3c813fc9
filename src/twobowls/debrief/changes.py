"""When people changed their minds: within a round, and about their favourite between rounds."""

from collections.abc import Iterable
from dataclasses import dataclass

from twobowls.debrief.tables import Evening
from twobowls.tasting.records import Mark

VERDICT = "verdict"
# A token that is put down again this close (points on either line) has not moved.
SAME_PLACE = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundChange:
    """What one round changed.

    ``moved`` of ``marks`` tokens were moved again within the round after they were first
    placed. ``new_favourite`` of ``of`` seats had another favourite than in the round before;
    both are 0 in the first round.
    """

    round: str
    name: str
    marks: int
    moved: int
    new_favourite: int
    of: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """The changes round by round, and the round after which no favourite changed any more.

    ``settled`` is the name of that round; None where there are fewer than two rounds with a
    verdict, or favourites still changed in the last.
    """

    rounds: tuple[RoundChange, ...]
    settled: str | None


def changes(night: Evening) -> Changes:
    """Return how opinions moved from round to round."""
    history = [each for each in night.records if isinstance(each, Mark)]
    favourites = _favourites(night)
    made: list[RoundChange] = []
    before: dict[str, frozenset[str]] = {}
    for round_ in night.tasting.setup.rounds:
        own = [mark for mark in history if mark.round == round_.key]
        if not own:
            continue
        now = favourites.get(round_.key, {})
        both = [seat for seat in now if seat in before]
        made.append(
            RoundChange(
                round=round_.key,
                name=round_.name,
                marks=len({_cell(mark) for mark in own}),
                moved=_moved(own),
                new_favourite=sum(not (now[seat] & before[seat]) for seat in both),
                of=len(both),
            )
        )
        before = {**before, **now}
    return Changes(rounds=tuple(made), settled=_settled(made))


def _cell(mark: Mark) -> tuple[str, str, str]:
    return (mark.seat, mark.bowl, mark.sensation)


def _moved(marks: Iterable[Mark]) -> int:
    """Count the tokens that ended elsewhere than they were first fully placed."""
    first: dict[tuple[str, str, str], Mark] = {}
    last: dict[tuple[str, str, str], Mark] = {}
    for mark in sorted(marks, key=lambda each: each.at_ms):
        if mark.intensity is not None or mark.liking is not None:
            if _cell(mark) not in first or _partial(first[_cell(mark)]):
                first[_cell(mark)] = mark
            last[_cell(mark)] = mark
    return sum(_apart(first[cell], last[cell]) for cell in first)


def _partial(mark: Mark) -> bool:
    return mark.intensity is None or mark.liking is None


def _apart(one: Mark, two: Mark) -> bool:
    pairs = ((one.intensity, two.intensity), (one.liking, two.liking))
    return any(a is not None and b is not None and abs(a - b) > SAME_PLACE for a, b in pairs)


def _favourites(night: Evening) -> dict[str, dict[str, frozenset[str]]]:
    """Return the coffees that each seat liked best in each round; ties are all favourites."""
    verdicts: dict[tuple[str, str], dict[str, list[float]]] = {}
    for mark in night.marks():
        if mark.sensation == VERDICT and mark.liking is not None and mark.bowl in night.labels:
            coffees = verdicts.setdefault((mark.round, mark.seat), {})
            coffees.setdefault(night.labels[mark.bowl], []).append(mark.liking)
    found: dict[str, dict[str, frozenset[str]]] = {}
    for (round_, seat), coffees in verdicts.items():
        if len(coffees) > 1:
            means = {coffee: sum(each) / len(each) for coffee, each in coffees.items()}
            best = max(means.values())
            top = frozenset(coffee for coffee, mean in means.items() if mean == best)
            found.setdefault(round_, {})[seat] = top
    return found


def _settled(made: list[RoundChange]) -> str | None:
    """Return the first round after which nobody's favourite changed any more."""
    judged = [each for each in made if each.of]
    if not judged or judged[-1].new_favourite:
        return None
    first = made.index(judged[0]) - 1
    name = made[max(first, 0)].name
    for each in judged:
        if each.new_favourite:
            name = each.name
    return name
