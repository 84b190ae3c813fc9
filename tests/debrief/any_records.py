"""Any records that a seat may send, drawn by hypothesis and taken as the server takes them."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from hypothesis import strategies as st
from tests.debrief.nights import COFFEES, NOON, tasting

from twobowls.debrief.tables import Evening, evening
from twobowls.store.acceptance import frame_of, sort_out
from twobowls.store.record_messages import decode_batch, encode, to_record
from twobowls.tasting.records import Record
from twobowls.tasting.setup import Round
from twobowls.tasting.tasting import Tasting

SOME_SENSATIONS = ("acidity", "bitterness", "body", "verdict")
FAMILIES = ("cocoa", "fruity")
Sent = dict[str, Any]

values = st.one_of(
    st.none(),
    st.sampled_from([0.0, 50.0, 100.0]),
    st.integers(0, 100).map(float),
    st.floats(0, 100, allow_nan=False),
)


@st.composite
def evenings(draw: st.DrawFn) -> Evening:
    """Draw an evening: few seats and coffees, and records with gaps anywhere."""
    of = draw(tables())
    sent = [*draw(gappy_marks(of)), *draw(st.lists(one_record(of), max_size=25))]
    return evening(of, taken(of, sent), COFFEES)


@st.composite
def tables(draw: st.DrawFn) -> Tasting:
    """Draw a tasting that has closed or been revealed."""
    coffees = ("brisa", "oro", "umbra")[: draw(st.integers(2, 3))]
    repeats = tuple(draw(st.lists(st.sampled_from(coffees), max_size=2)))
    seats = draw(st.integers(1, 5))
    of = tasting(seats=seats, coffees=coffees, repeats=repeats)
    return replace(of, state=draw(st.sampled_from(["revealed", "closed"])))


@st.composite
def gappy_marks(draw: st.DrawFn, of: Tasting) -> list[Sent]:
    """Draw the marks of a whole table, each sensation with gaps of its own."""
    sensations = draw(st.lists(st.sampled_from(SOME_SENSATIONS), unique=True, max_size=3))
    rounds = draw(st.lists(st.sampled_from(of.setup.rounds), unique=True, max_size=2))
    return [mark for each in sensations for mark in draw(_marks(of, each, rounds))]


@st.composite
def _marks(draw: st.DrawFn, of: Tasting, sensation: str, rounds: Sequence[Round]) -> list[Sent]:
    """Draw one sensation: some cells or scales left out, or all but one cell."""
    chance = draw(st.randoms(use_true_random=False))
    gaps = draw(st.sampled_from([0.0, 0.0, 0.1, 0.5, 0.9]))
    most = draw(st.sampled_from([1000, 1000, 1000, 2, 1]))
    width = draw(st.sampled_from([0.0, 1.0, 100.0]))
    scales = draw(st.sampled_from(["both", "both", "intensity", "liking", "any"]))
    cells = [(r.key, seat.id, b.code) for r in rounds for seat in of.seats for b in of.plan.bowls]
    made = []
    for round_, seat, bowl in [cell for cell in cells if chance.random() >= gaps][:most]:
        kept = chance.choice(["both", "intensity", "liking"]) if scales == "any" else scales
        places = [round(50 + width * (chance.random() - 0.5), 2) for _ in range(2)]
        mark: Sent = {"kind": "mark", "seat": seat, "bowl": bowl, "round": round_}
        mark |= {"sensation": sensation, "kept": chance.random() < 0.1}
        mark |= {"intensity": places[0] if kept != "liking" else None}
        made.append(mark | {"liking": places[1] if kept != "intensity" else None})
    return made


def one_record(of: Tasting) -> st.SearchStrategy[Sent]:
    """Draw any one record: a mark, a kept mark, a pick, a word or a note."""
    codes = st.sampled_from([bowl.code for bowl in of.plan.bowls])
    shared = {
        "seat": st.sampled_from([seat.id for seat in of.seats]),
        "round": st.sampled_from([each.key for each in of.setup.rounds]),
    }
    sensation = st.sampled_from(SOME_SENSATIONS)
    mark = st.fixed_dictionaries(
        {
            **shared,
            "kind": st.just("mark"),
            "bowl": codes,
            "sensation": sensation,
            "intensity": values,
            "liking": values,
            "kept": st.booleans(),
        }
    )
    word = st.fixed_dictionaries(
        {
            **shared,
            "kind": st.just("word"),
            "bowl": codes,
            "family": st.sampled_from(FAMILIES),
            "feeling": st.sampled_from(["liked", "disliked", "neutral", "removed"]),
        }
    )
    note = st.fixed_dictionaries(
        {**shared, "kind": st.just("note"), "bowl": codes, "text": st.text(max_size=20)}
    )
    if len(of.plan.bowls) < 2:
        return st.one_of(mark, word, note)
    pick = st.fixed_dictionaries(
        {
            **shared,
            "kind": st.just("pick"),
            "pair": st.lists(codes, min_size=2, max_size=2, unique=True),
            "sensation": sensation,
            "question": st.sampled_from(["more", "better"]),
            "which": st.integers(0, 2),
        }
    ).map(_pick)
    return st.one_of(mark, pick, word, note)


def _pick(drawn: Sent) -> Sent:
    a, b = drawn.pop("pair")
    return {**drawn, "bowl_a": a, "bowl_b": b, "answer": (a, b, "same")[drawn.pop("which")]}


def taken(of: Tasting, sent: Sequence[Sent]) -> list[Record]:
    """Return the records as the server takes them: through JSON, its checks, and into the log."""
    frame = frame_of(replace(of, state="open"))
    records: list[Record] = []
    for number, each in enumerate(sent):
        fields = {key: value for key, value in each.items() if key not in ("seat", "which")}
        body = encode({"records": [{**fields, "id": f"{number:032x}", "at_ms": NOON + number}]})
        messages, spoilt = decode_batch(body)
        accepted, refused = sort_out(frame, messages, NOON + 10_000)
        assert not spoilt + refused
        records += [to_record(message, each["seat"]) for message in accepted]
    return records
