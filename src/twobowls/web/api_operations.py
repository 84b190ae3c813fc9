"""Everything the server answers, as a table: the source of its OpenAPI description.

A test holds every route to this table, and another one sends each operation thousands of odd
requests and holds the answers to it.
"""

from dataclasses import dataclass
from typing import Any, Literal

from twobowls.interchange.shelf_csv import FIELDS
from twobowls.store.record_messages import Batch
from twobowls.tasting.setup import ALL_ROUNDS
from twobowls.web.bench_view import BenchChange, ClockData
from twobowls.web.plan_form import NUMBERS, RANGES
from twobowls.web.seat_api import SavedView
from twobowls.web.seat_view import ChangeView, SeatView
from twobowls.web.wall_view import WallMarks

Who = Literal["anyone", "seat", "host"]
Method = Literal["get", "post"]


@dataclass(frozen=True, slots=True)
class Answer:
    """One way in which an operation goes well."""

    status: int
    text: str
    media: str = ""
    body: Any = None


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a form or of the address; ``name`` may come several times if ``many``."""

    name: str
    text: str
    many: bool = False
    required: bool = False
    file: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """One thing that can be asked for. ``refusals`` are those that do not follow from the rest."""

    method: Method = "get"
    path: str
    text: str
    who: Who
    answers: tuple[Answer, ...]
    query: tuple[Field, ...] = ()
    form: tuple[Field, ...] = ()
    body: Any = None
    refusals: tuple[int, ...] = ()


PAGE = Answer(200, "A page.", "text/html")
GO_ON = Answer(303, "Done; the browser goes on to the next page.")
DONE = Answer(204, "Done, for a program that asked for JSON.")
SVG = Answer(200, "A QR code.", "image/svg+xml")
CSV = Answer(200, "A spreadsheet.", "text/csv")
OBJECT = Answer(200, "All figures.", "application/json", dict[str, Any])


def _json(body: Any, text: str) -> Answer:
    return Answer(200, text, "application/json", body)


def _events(body: Any, more: str = "") -> Answer:
    text = (
        f"Server-sent events; the data of each `change` is a {body.__name__}. {more}A `beat` after "
        "each 15 s without one says that the line is alive."
    )
    return Answer(200, text, "text/event-stream", body)


COFFEE = tuple(Field(name, name.replace("_", " ").capitalize() + ".") for name in FIELDS)
COLUMNS = tuple(Field(f"column_{name}", f"The column with the {name}.") for name in FIELDS)
PLAN = (
    Field("name", "What the tasting is called."),
    Field("coffee", "Ids of coffees on the shelf, two at least.", many=True),
    Field("twice", "Ids of coffees that come in two bowls.", many=True),
    Field("lots", "How many more are drawn to come twice."),
    Field("seats", "How many people."),
    Field("most_per_flight", "The most bowls in a flight."),
    Field("round", "Keys of the rounds.", many=True),
    *[
        Field(f"target_{each.key}", f"Degrees Celsius of the round {each.key}.")
        for each in ALL_ROUNDS
        if each.target_c is not None
    ],
    *[
        Field(name, f"{label}; {RANGES[name].low:g} to {RANGES[name].high:g} {RANGES[name].unit}")
        for name, (label, _hint) in NUMBERS.items()
    ],
    Field("host_tastes", "Anything, when the host tastes too."),
    Field("names_in_files", "Anything, when files may carry names, of which guests are told."),
)
NAMES = Field("names", "yes for names beside the seat numbers; 409 unless guests were told.")
BOWL = Field("bowl", "The code of a bowl.")
TEXT = Field("text", "The list as text, separated by commas, semicolons or tabs.")

GUEST_OPERATIONS = (
    Operation(
        path="/join",
        text="The form to take a seat.",
        who="anyone",
        query=(
            Field("code", "The tasting's join code."),
            Field("again", "Names a form that was refused, to show it once more."),
        ),
        answers=(PAGE,),
    ),
    Operation(
        method="post",
        path="/join",
        text="Take the next free seat.",
        who="anyone",
        form=(
            Field("code", "The tasting's join code."),
            Field("nickname", "1 to 24 characters."),
            Field("ticket", "From the form: sent again, it leads to the seat that it got."),
            Field("seat_key", "The key of a seat, to go on with it instead."),
        ),
        answers=(GO_ON,),
        refusals=(404, 409, 429),
    ),
    Operation(
        method="post",
        path="/join/leave",
        text="Give up a seat on which nothing was recorded.",
        who="anyone",
        form=(Field("seat_key", "The key of the seat."),),
        answers=(GO_ON,),
        refusals=(404, 409),
    ),
    Operation(
        path="/host",
        text="Become the host, with the key that the terminal shows.",
        who="anyone",
        query=(
            Field("key", "The host's key."),
            Field("ticket", "What `serve --open` gives to the browser: good once."),
        ),
        answers=(PAGE, GO_ON),
        refusals=(403,),
    ),
    Operation(
        method="post",
        path="/host",
        text="Become the host, with the key typed in.",
        who="anyone",
        form=(Field("key", "The host's key."),),
        answers=(GO_ON,),
    ),
    Operation(
        method="post",
        path="/host/sign-out",
        text="End the host's session in this browser.",
        who="anyone",
        answers=(GO_ON,),
    ),
    Operation(
        path="/seat-worker.js",
        text="The script by which a trusted browser keeps the page of a seat.",
        who="anyone",
        answers=(Answer(200, "A script.", "text/javascript"),),
    ),
    Operation(
        path="/api/openapi.json",
        text="This description.",
        who="anyone",
        answers=(OBJECT,),
    ),
)
SEAT_OPERATIONS = (
    Operation(path="/seat/{key}", text="The page of a seat.", who="seat", answers=(PAGE,)),
    Operation(
        path="/seat/{key}/code.svg",
        text="Its address as a QR code, for another phone.",
        who="seat",
        answers=(SVG,),
    ),
    Operation(
        path="/seat/{key}/debrief",
        text="One's own marks beside the table's, once the tasting has closed.",
        who="seat",
        answers=(PAGE,),
        refusals=(403, 409),
    ),
    Operation(
        path="/api/seats/{key}",
        text="Everything that a seat needs.",
        who="seat",
        answers=(_json(SeatView, "The seat."),),
    ),
    Operation(
        method="post",
        path="/api/seats/{key}/records",
        text="Store records; answered when they are on disk. Sending them again does no harm.",
        who="seat",
        body=Batch,
        answers=(_json(SavedView, "What is on disk, and what was refused."),),
    ),
    Operation(
        path="/api/seats/{key}/stream",
        text="What changes for everybody at the table.",
        who="seat",
        answers=(
            _events(
                ChangeView,
                "A `records` event says that another device of the seat has sent records: how many "
                "batches came in, and the ids of the newest. ",
            ),
        ),
    ),
)
SHELF_OPERATIONS = (
    Operation(path="/shelf", text="The shelf.", who="host", answers=(PAGE,)),
    Operation(path="/shelf.csv", text="The shelf as a file.", who="host", answers=(CSV,)),
    Operation(path="/shelf/new", text="The form of a coffee.", who="host", answers=(PAGE,)),
    Operation(
        method="post",
        path="/shelf/new",
        text="Put a coffee on the shelf.",
        who="host",
        form=(*COFFEE, Field("again", "Anything, to go on with another coffee.")),
        answers=(GO_ON,),
    ),
    Operation(path="/shelf/import", text="The form of a list.", who="host", answers=(PAGE,)),
    Operation(
        method="post",
        path="/shelf/import",
        text="Look at a list of coffees.",
        who="host",
        form=(TEXT, Field("file", "The list as a file.", file=True)),
        answers=(PAGE,),
    ),
    Operation(
        method="post",
        path="/shelf/import/preview",
        text="Look at a list with other columns, or add what is right in it.",
        who="host",
        form=(
            TEXT,
            *COLUMNS,
            Field("same", "Anything, to add what the shelf has already."),
            Field("confirm", "Anything, to add the coffees now."),
        ),
        answers=(PAGE, GO_ON),
    ),
    Operation(path="/shelf/{id}", text="A coffee's form.", who="host", answers=(PAGE,)),
    Operation(
        method="post",
        path="/shelf/{id}",
        text="Change what is known of a coffee.",
        who="host",
        form=COFFEE,
        answers=(GO_ON,),
    ),
    Operation(
        method="post",
        path="/shelf/{id}/archive",
        text="Take a coffee off the shelf, or put it back.",
        who="host",
        form=(Field("archived", "0 to put it back."),),
        answers=(GO_ON,),
    ),
)


SURE = Field("sure", "Anything, where it is meant so though it looks like a slip.")
READ = Field("read_ms", "When it was read, if a question came between.")


def _act(action: str, text: str, *form: Field) -> Operation:
    return Operation(
        method="post",
        path=f"/tastings/{{id}}/{action}",
        text=text,
        who="host",
        form=form,
        answers=(GO_ON, DONE),
        refusals=(409,),
    )


TASTING_OPERATIONS = (
    Operation(path="/", text="The tastings.", who="host", answers=(PAGE, GO_ON)),
    Operation(
        path="/tastings/new",
        text="The form of a tasting.",
        who="host",
        query=(
            Field("like", "The id of a tasting to begin with."),
            Field("coffee", "Ids of coffees.", many=True),
        ),
        answers=(PAGE,),
        refusals=(404,),
    ),
    Operation(
        method="post",
        path="/tastings/new",
        text="Draw the plan of a tasting.",
        who="host",
        form=PLAN,
        answers=(GO_ON,),
    ),
    Operation(path="/tastings/{id}", text="Where it goes on.", who="host", answers=(GO_ON,)),
    Operation(path="/tastings/{id}/sheet", text="The plan.", who="host", answers=(PAGE,)),
    Operation(path="/tastings/{id}/bench", text="Running it.", who="host", answers=(PAGE,)),
    Operation(path="/tastings/{id}/projector", text="The wall.", who="host", answers=(PAGE,)),
    Operation(
        path="/tastings/{id}/projector.json",
        text="The table's marks for the wall, once the tasting has closed.",
        who="host",
        answers=(_json(WallMarks, "Places by sensation, round and bowl; nobody's name."),),
        refusals=(409,),
    ),
    Operation(path="/tastings/{id}/join.svg", text="To join.", who="host", answers=(SVG,)),
    Operation(
        path="/tastings/{id}/clock.json",
        text="What the clocks of a page need.",
        who="host",
        answers=(_json(ClockData, "Seconds after the pour, and the cooling curve."),),
    ),
    Operation(
        path="/tastings/{id}/stream",
        text="What changes on the bench.",
        who="host",
        answers=(_events(BenchChange),),
    ),
    Operation(
        path="/tastings/{id}/seats/{seat}",
        text="How a seat goes on on another phone.",
        who="host",
        answers=(PAGE,),
        refusals=(400,),
    ),
    Operation(
        path="/tastings/{id}/seats/{seat}/code.svg",
        text="The same as a QR code.",
        who="host",
        answers=(SVG,),
        refusals=(400,),
    ),
    _act("open", "Take marks from now on."),
    _act("pour", "Start the clock of a bowl.", BOWL, Field("ago", "Minutes and seconds: 2:30.")),
    _act("unpour", "Take the clock of a bowl back.", BOWL),
    _act("round", "Call a round.", Field("round", "Its key."), SURE),
    _act("probe", "Note a reading.", BOWL, Field("temperature", "Degrees Celsius."), READ, SURE),
    _act("close", "Take no more marks."),
    _act("close-door", "Let nobody new take a seat."),
    _act("open-door", "Let new guests take seats again."),
    _act("reopen", "Take marks again, when it was closed by mistake."),
    Operation(
        path="/tastings/{id}/reveal",
        text="Ask before the reveal.",
        who="host",
        answers=(PAGE, GO_ON),
    ),
    Operation(
        method="post",
        path="/tastings/{id}/reveal",
        text="Reveal the coffees; `bowl_CODE` for each bowl when the host tasted too.",
        who="host",
        form=(
            Field("bowl_000", "The id of the coffee in that bowl."),
            Field("as_found", "Anything, where the bowls were found otherwise than planned."),
        ),
        answers=(GO_ON,),
        refusals=(409,),
    ),
    Operation(
        path="/tastings/{id}/corrections",
        text="What can be put right.",
        who="host",
        query=(Field("told", "What was just put right."),),
        answers=(PAGE,),
    ),
    Operation(
        method="post",
        path="/tastings/{id}/corrections",
        text="Put one thing right.",
        who="host",
        form=(
            Field(
                "what",
                "coffee, set-aside, bring-back, unprobe, rename, rename-seat, remove-seat, "
                "merge-seat or restore-seat.",
                required=True,
            ),
            Field("bowl", "The code of a bowl."),
            Field("coffee", "The id of the coffee that stood in it."),
            Field("read_ms", "The instant of a reading."),
            Field("name", "The name of the tasting."),
            Field("seat", "The id of a seat."),
            Field("nickname", "Its new name."),
            Field("into", "The id of the seat as which it counts."),
        ),
        answers=(GO_ON,),
        refusals=(409,),
    ),
    Operation(
        path="/tastings/{id}/debrief",
        text="What it showed.",
        who="host",
        answers=(PAGE,),
        refusals=(409,),
    ),
    Operation(
        path="/tastings/{id}/debrief.html",
        text="The same in one file to keep.",
        who="host",
        answers=(PAGE,),
        refusals=(409,),
    ),
    Operation(
        path="/tastings/{id}/debrief.json",
        text="All figures.",
        who="host",
        answers=(OBJECT,),
        refusals=(409,),
    ),
    Operation(
        path="/tastings/{id}/marks.csv",
        text="Every mark.",
        who="host",
        query=(NAMES,),
        answers=(CSV,),
        refusals=(409,),
    ),
    Operation(
        path="/tastings/{id}/picks.csv",
        text="Every pick.",
        who="host",
        query=(NAMES,),
        answers=(CSV,),
        refusals=(409,),
    ),
)
OPERATIONS = (*GUEST_OPERATIONS, *SEAT_OPERATIONS, *SHELF_OPERATIONS, *TASTING_OPERATIONS)
