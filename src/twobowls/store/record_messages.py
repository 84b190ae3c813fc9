"""Records as they travel and as they are stored: the same JSON in both places.

The seat is not in them: it is who sent them, not what they say. Nor is what follows from the
bowl's clock (time since pour, temperature): that is worked out when records are read, so that a
corrected clock corrects every mark.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Annotated, Any, Literal

import msgspec

from twobowls.errors import InputError
from twobowls.tasting.records import Feeling, Mark, Note, Pick, Question, Record, Word

MOST_IN_A_BATCH = 500
LONGEST_NOTE = 2000

# That an id is hexadecimal is looked at for a whole batch at once; see `decode_batch`.
RecordId = Annotated[
    str,
    msgspec.Meta(min_length=32, max_length=32, extra_json_schema={"pattern": "^[0-9a-fA-F]{32}$"}),
]
Code = Annotated[str, msgspec.Meta(min_length=1, max_length=8)]
Key = Annotated[str, msgspec.Meta(min_length=1, max_length=40)]
Value = Annotated[float, msgspec.Meta(ge=0, le=100)]
Instant = Annotated[int, msgspec.Meta(ge=0, le=2**53)]


class MarkMessage(msgspec.Struct, tag_field="kind", tag="mark", gc=False):
    """See `twobowls.tasting.records.Mark`."""

    id: RecordId
    bowl: Code
    sensation: Key
    round: Key
    at_ms: Instant
    intensity: Value | None = None
    liking: Value | None = None
    kept: bool = False


class PickMessage(msgspec.Struct, tag_field="kind", tag="pick", gc=False):
    """See `twobowls.tasting.records.Pick`."""

    id: RecordId
    bowl_a: Code
    bowl_b: Code
    sensation: Key
    round: Key
    question: Literal["more", "better"]
    answer: Code
    at_ms: Instant


class WordMessage(msgspec.Struct, tag_field="kind", tag="word", gc=False):
    """See `twobowls.tasting.records.Word`."""

    id: RecordId
    bowl: Code
    family: Key
    feeling: Literal["liked", "disliked", "neutral", "removed"]
    round: Key
    at_ms: Instant
    term: Annotated[str, msgspec.Meta(max_length=40)] = ""


class NoteMessage(msgspec.Struct, tag_field="kind", tag="note", gc=False):
    """See `twobowls.tasting.records.Note`."""

    id: RecordId
    bowl: Code
    text: Annotated[str, msgspec.Meta(max_length=LONGEST_NOTE)]
    round: Key
    at_ms: Instant


Message = MarkMessage | PickMessage | WordMessage | NoteMessage


class Batch(msgspec.Struct):
    """What a seat sends at once."""

    records: Annotated[list[Message], msgspec.Meta(max_length=MOST_IN_A_BATCH)]


class _LooseBatch(msgspec.Struct):
    """A batch of which some records may be spoilt; each is then looked at by itself."""

    records: Annotated[list[msgspec.Raw], msgspec.Meta(max_length=MOST_IN_A_BATCH)]


class _Named(msgspec.Struct):
    id: RecordId


class Refusal(msgspec.Struct, frozen=True):
    """A record that was not taken, and why, in a sentence."""

    id: str
    error: str


_batch = msgspec.json.Decoder(Batch)
_loose = msgspec.json.Decoder(_LooseBatch)
_named = msgspec.json.Decoder(_Named)
_message: msgspec.json.Decoder[Message] = msgspec.json.Decoder(Message)
_messages: msgspec.json.Decoder[list[Message]] = msgspec.json.Decoder(list[Message])
_encoder = msgspec.json.Encoder()
encode: Callable[[Any], bytes] = _encoder.encode


def decode_batch(body: bytes) -> tuple[list[Message], list[Refusal]]:
    """Return the records of a posted body, and a refusal for each one that is spoilt.

    One spoilt record does not keep the others from being saved.

    Raises
    ------
    InputError
        The body is not a batch, or holds a record that cannot even be named.
    """
    try:
        messages = _batch.decode(body).records
        bytes.fromhex("".join([each.id for each in messages]))  # all at once: this is the hot path
    except msgspec.ValidationError:
        return _decode_one_by_one(body)
    except msgspec.DecodeError as error:
        whole = _whole_characters(body)
        if whole != body:
            return decode_batch(whole)
        raise InputError("body", f"it is not JSON ({error})", "Send a JSON object") from error
    except (ValueError, RecursionError):  # also text that is no UTF-8, and nesting without end
        return _decode_one_by_one(body)
    return messages, []


# A pair of surrogates, half of one, or anything else that a backslash begins.
_ESCAPES = re.compile(
    rb"\\(?:u[dD][89abAB]..\\u[dD][c-fC-F]..|(?P<half>u[dD][89a-fA-F]..)|.)", re.DOTALL
)


def _whole_characters(body: bytes) -> bytes:
    """Put a sign in the place of half characters: what a field's end cut off an emoji.

    A note that ends in half of one must not keep a phone's marks from being saved.
    """
    return _ESCAPES.sub(lambda each: rb"\ufffd" if each["half"] else each[0], body)


_TOO_DEEP = "lists or objects in it are nested too deeply"
_NO_TEXT = "a text in it is not UTF-8"


def _decode_one_by_one(body: bytes) -> tuple[list[Message], list[Refusal]]:
    messages: list[Message] = []
    refusals: list[Refusal] = []
    try:
        raw_records = _loose.decode(body).records
    except RecursionError as error:
        raise InputError("records", _TOO_DEEP, "Send records as they are described") from error
    except UnicodeDecodeError as error:
        raise InputError("records", _NO_TEXT, "Send UTF-8") from error
    except msgspec.ValidationError as error:
        raise InputError(
            "records",
            str(error),
            f'Send {{"records": [...]}} with at most {MOST_IN_A_BATCH} records',
        ) from error
    for place, raw in enumerate(raw_records):
        record_id = _id_of(raw, place)
        try:
            messages.append(_message.decode(raw))
        except UnicodeDecodeError:
            refusals.append(Refusal(id=record_id, error=f"The record cannot be used: {_NO_TEXT}."))
        except msgspec.ValidationError as error:
            refusals.append(Refusal(id=record_id, error=_plainly(error)))
    return messages, refusals


def _id_of(raw: msgspec.Raw, place: int) -> str:
    """Return a record's id; without one nobody could say what became of it."""
    try:
        found = _named.decode(raw).id
        bytes.fromhex(found)
    except ValueError as error:  # msgspec's errors are ValueErrors too
        raise InputError(
            f"records[{place}].id", "it is not 32 hex digits", "Give each record an id of its own"
        ) from error
    return found


def _plainly(error: msgspec.ValidationError) -> str:
    """Return msgspec's message without its path language: ``at `$.x` `` becomes ``in x``."""
    text, _, path = str(error).partition(" - at `$.")
    return f"{text}, in {path.rstrip('`')}." if path else f"{text}."


def decode_log(batches: Iterable[tuple[str, bytes]]) -> Iterator[tuple[str, Message]]:
    """Yield (seat, record) of a log of stored batches: the first record of each (seat, id)."""
    seen: set[tuple[str, str]] = set()
    for seat, body in batches:
        for message in _messages.decode(body):
            key = (seat, message.id)
            if key not in seen:
                seen.add(key)
                yield seat, message


def to_record(message: Message, seat: str) -> Record:
    """Return the domain's record."""
    match message:
        case MarkMessage():
            return Mark(
                id=message.id,
                seat=seat,
                bowl=message.bowl,
                sensation=message.sensation,
                round=message.round,
                intensity=message.intensity,
                liking=message.liking,
                at_ms=message.at_ms,
                kept=message.kept,
            )
        case PickMessage():
            question: Question = message.question
            return Pick(
                id=message.id,
                seat=seat,
                bowl_a=message.bowl_a,
                bowl_b=message.bowl_b,
                sensation=message.sensation,
                round=message.round,
                question=question,
                answer=message.answer,
                at_ms=message.at_ms,
            )
        case WordMessage():
            feeling: Feeling = message.feeling
            return Word(
                id=message.id,
                seat=seat,
                bowl=message.bowl,
                family=message.family,
                term=message.term,
                feeling=feeling,
                round=message.round,
                at_ms=message.at_ms,
            )
        case NoteMessage():
            return Note(
                id=message.id,
                seat=seat,
                bowl=message.bowl,
                text=message.text,
                round=message.round,
                at_ms=message.at_ms,
            )


def from_records(records: Sequence[Record]) -> tuple[list[Message], list[Refusal]]:
    """Return the messages that a phone would have sent for these records.

    Raises
    ------
    InputError
        See `decode_batch`.
    """
    messages: list[Message] = []
    refusals: list[Refusal] = []
    for start in range(0, len(records), MOST_IN_A_BATCH):
        some = [_loosely(record) for record in records[start : start + MOST_IN_A_BATCH]]
        good, spoilt = decode_batch(encode({"records": some}))
        messages += good
        refusals += spoilt
    return messages, refusals


def _loosely(record: Record) -> dict[str, object]:
    kind = type(record).__name__.lower()
    fields = msgspec.to_builtins(record)
    return {"kind": kind, **fields}
