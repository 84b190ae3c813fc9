"""What the page for the wall shows. Guests see it, so it knows no coffee before the reveal.

Nothing here says who made a mark or when, and nothing is in the order of pouring.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import msgspec

from twobowls.debrief.pad_svg import TONES
from twobowls.tasting.asking import asked_in
from twobowls.tasting.codes import bowl_tones
from twobowls.tasting.records import Mark, Record, latest_marks
from twobowls.tasting.sensations import SENSATIONS
from twobowls.tasting.tasting import Tasting
from twobowls.web.progress import expected

SHOWN = ("closed", "revealed")
Place = tuple[int, int]  # intensity and liking


class WallBowl(msgspec.Struct, frozen=True):
    """One bowl; ``coffee`` is its coffee's name after the reveal, and empty before."""

    code: str
    coffee: str


class WallPad(msgspec.Struct, frozen=True):
    """One sensation, and what the table marked on it: places by round and bowl."""

    key: str
    name: str
    low: str
    high: str
    rounds: dict[str, dict[str, list[Place]]]


class WallMarks(msgspec.Struct, frozen=True):
    """All that the pads on the wall show."""

    state: str
    bowls: list[WallBowl]
    pads: list[WallPad]


def wall_marks(
    tasting: Tasting, records: Iterable[Record], coffees: Mapping[str, str]
) -> WallMarks:
    """Return the table's marks on their pads.

    Parameters
    ----------
    tasting : Tasting
        A tasting that has closed.
    records : iterable of Record
        Everything that its seats have recorded. A mark on one of the two scales alone has no
        place on a pad, and is left out.
    coffees : mapping
        Names of the coffees by id; read only after the reveal.
    """
    asked = asked_in(tasting.setup).values()
    marks = latest_marks(each for each in records if isinstance(each, Mark))
    return WallMarks(
        state=tasting.state,
        bowls=[WallBowl(code, _name(tasting, code, coffees)) for code in codes_of(tasting)],
        pads=[
            WallPad(
                each.key,
                each.name,
                each.low,
                each.high,
                _rounds(tasting, [mark for mark in marks if mark.sensation == each.key]),
            )
            for each in SENSATIONS
            if any(each in pads for pads in asked)
        ],
    )


def codes_of(tasting: Tasting) -> list[str]:
    """Return the bowls' codes, flight by flight and sorted within each."""
    return [bowl.code for bowl in sorted(tasting.plan.bowls, key=lambda b: (b.flight, b.code))]


def _name(tasting: Tasting, code: str, coffees: Mapping[str, str]) -> str:
    if tasting.state != "revealed":
        return ""
    coffee_id = next(bowl.coffee_id for bowl in tasting.plan.bowls if bowl.code == code)
    return coffees.get(coffee_id or "", "")


def _rounds(tasting: Tasting, marks: list[Mark]) -> dict[str, dict[str, list[Place]]]:
    """Sort places by their values: by nothing that tells whose they are."""
    found: dict[str, dict[str, list[Place]]] = {}
    for each in tasting.setup.rounds:
        places: dict[str, list[Place]] = {}
        for mark in marks:
            if mark.round == each.key and mark.intensity is not None and mark.liking is not None:
                place = (round(mark.intensity), round(mark.liking))
                places.setdefault(mark.bowl, []).append(place)
        if places:
            found[each.key] = {code: sorted(places[code]) for code in sorted(places)}
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class WallRound:
    """One round: its name, its temperature, and how many places one seat can mark in it."""

    key: str
    name: str
    places: int
    target_c: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WallPage:
    """The page as the server shows it; its script keeps it going.

    ``bowls`` are the codes with the number of their tone, from 1 to 8 as in the style sheet.
    """

    id: str
    name: str
    state: str
    join_code: str
    bowls: list[tuple[str, int]]
    rounds: list[WallRound]


def wall_page(tasting: Tasting) -> WallPage:
    """Return the page for the wall of the tasting as it stands."""
    places = expected(tasting)
    tones = bowl_tones(bowl.code for bowl in tasting.plan.bowls)
    return WallPage(
        id=tasting.id,
        name=tasting.setup.name,
        state=tasting.state,
        join_code=tasting.join_code,
        bowls=[(code, tones[code] % TONES + 1) for code in codes_of(tasting)],
        rounds=[
            WallRound(key=each.key, name=each.name, places=places[each.key], target_c=each.target_c)
            for each in tasting.setup.rounds
        ],
    )
