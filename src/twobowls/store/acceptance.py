"""Which records a tasting takes: the bowls, rounds and sensations it has, while it is open.

Pure. A `Frame` is made once for each state of a tasting, so that looking at a record costs a
few set look-ups.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from twobowls.store.record_messages import (
    MarkMessage,
    Message,
    NoteMessage,
    PickMessage,
    Refusal,
    WordMessage,
)
from twobowls.tasting.asking import asked_in
from twobowls.tasting.lexicon import FAMILIES
from twobowls.tasting.tasting import Tasting
from twobowls.tasting.typed_text import cleaned

TERMS = frozenset(
    [(family.key, "") for family in FAMILIES]
    + [(family.key, term.key) for family in FAMILIES for term in family.terms]
)


@dataclass(frozen=True, slots=True)
class Frame:
    """What a tasting's records are held against."""

    bowls: frozenset[str]
    rounds: frozenset[str]
    judged: frozenset[tuple[str, str]]  # (round, sensation)
    state: str
    opened_ms: int
    closed_ms: int | None


def frame_of(tasting: Tasting) -> Frame:
    """Return what the records of this tasting are held against."""
    return Frame(
        bowls=frozenset(bowl.code for bowl in tasting.plan.bowls),
        rounds=frozenset(each.key for each in tasting.setup.rounds),
        judged=frozenset(
            (key, each.key) for key, pads in asked_in(tasting.setup).items() for each in pads
        ),
        state=tasting.state,
        opened_ms=tasting.created_ms if tasting.opened_ms is None else tasting.opened_ms,
        closed_ms=tasting.closed_ms,
    )


def sort_out(
    frame: Frame, messages: Sequence[Message], received_ms: int
) -> tuple[list[Message], list[Refusal]]:
    """Return the records that are taken, with their instants set right, and the refusals.

    No record can be older than the opening or younger than its arrival. What a phone made before
    the closing and could not send in time is still taken until the reveal.
    """
    taken: list[Message] = []
    refused: list[Refusal] = []
    is_open, opened_ms = frame.state == "open", frame.opened_ms
    for message in messages:
        if message.at_ms > received_ms:
            message.at_ms = received_ms
        elif message.at_ms < opened_ms:
            message.at_ms = opened_ms
        problem = "" if is_open else _too_late(frame, message.at_ms)
        problem = problem or _CHECKS[type(message)](frame, message)
        if problem:
            refused.append(Refusal(id=message.id, error=problem))
        else:
            if type(message) is NoteMessage:
                message.text = cleaned(message.text)
            taken.append(message)
    return taken, refused


def _too_late(frame: Frame, at_ms: int) -> str:
    if frame.state == "planned":
        return "The host has not opened this tasting yet."
    if frame.state == "revealed":
        return "This tasting has been revealed; no more marks are taken."
    if frame.closed_ms is not None and at_ms > frame.closed_ms:
        return "This tasting has closed; no more marks are taken."
    return ""


def _misplaced_mark(frame: Frame, mark: MarkMessage) -> str:
    if mark.bowl not in frame.bowls:
        return f"There is no bowl {mark.bowl} in this tasting."
    if (mark.round, mark.sensation) not in frame.judged:
        return f"{mark.sensation} is not judged in the round {mark.round} of this tasting."
    return ""


def _misplaced_pick(frame: Frame, pick: PickMessage) -> str:
    for code in (pick.bowl_a, pick.bowl_b):
        if code not in frame.bowls:
            return f"There is no bowl {code} in this tasting."
    if pick.bowl_a == pick.bowl_b:
        return "A pick is between two different bowls."
    if pick.answer not in (pick.bowl_a, pick.bowl_b, "same"):
        return "The answer of a pick is one of its two bowls, or 'same'."
    if (pick.round, pick.sensation) not in frame.judged:
        return f"{pick.sensation} is not judged in the round {pick.round} of this tasting."
    return ""


def _misplaced_word(frame: Frame, word: WordMessage) -> str:
    if (word.family, word.term) not in TERMS:
        return f"The word {word.family} {word.term}".rstrip() + " is not known."
    return _misplaced_note(frame, word)


def _misplaced_note(frame: Frame, message: WordMessage | NoteMessage) -> str:
    if message.bowl not in frame.bowls:
        return f"There is no bowl {message.bowl} in this tasting."
    if message.round not in frame.rounds:
        return f"This tasting has no round {message.round}."
    return ""


_CHECKS: dict[type[Message], Callable[[Frame, Any], str]] = {
    MarkMessage: _misplaced_mark,
    PickMessage: _misplaced_pick,
    WordMessage: _misplaced_word,
    NoteMessage: _misplaced_note,
}
