"""Put the sample into an empty store: a shelf, one finished tasting, one that waits to be run."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

import numpy as np

from twobowls.demo.table import HABITS, PEOPLE, SHELF, STRENGTH, Person, mark_values
from twobowls.store import Store
from twobowls.tasting.asking import asked_in
from twobowls.tasting.cooling import cooling_model
from twobowls.tasting.planning import make_plan
from twobowls.tasting.records import Mark, Note, Pick, Record, Word
from twobowls.tasting.setup import Round, Setup
from twobowls.tasting.tasting import Seat, Tasting
from twobowls.tasting.timeline import bowl_clock

SEED = 20_261_125  # any number does; a fixed one gives every newcomer the same sample
DAY_MS = 86_400_000
ROUND_MS = 6 * 60_000
ROASTED_DAYS_AGO = (16, 14, 13, 15, 12)
NOTES = {
    ("Bram", "night-ferry"): "Could drink this all morning.",
    ("Ilka", "cinder-row"): "Too much smoke for me, and it stays.",
    ("Odile", "amberline"): "Opens up when it is nearly cold.",
    ("Teo", "cinder-row"): "This is what coffee tastes like.",
}
# How strongly one person's view of one coffee departs from their usual self (sd, 0-100 line).
LEANING_SD = 4.0


def load_sample(store: Store, now_ms: int) -> bool:
    """Fill an empty store with the sample; return whether it was empty.

    The finished tasting took place two days before ``now_ms``; the other is planned.
    """
    if store.coffees(include_archived=True) or store.tastings():
        return False
    today = datetime.fromtimestamp(now_ms / 1000, tz=UTC).date()
    for coffee, days in zip(SHELF, ROASTED_DAYS_AGO, strict=True):
        store.add_coffee(replace(coffee, roast_date=_days_before(today, days)))
    rng = np.random.default_rng(SEED)
    _run_tasting(store, now_ms - 2 * DAY_MS, rng)
    _plan_next(store, now_ms, rng)
    return True


def _days_before(today: date, days: int) -> str:
    return (today - timedelta(days=days)).isoformat()


def _plan_next(store: Store, now_ms: int, rng: np.random.Generator) -> None:
    setup = Setup(
        name="Two for Sunday: Amberline or Greywether?",
        coffee_ids=("amberline", "greywether"),
        seats=3,
        repeats=("greywether",),
    )
    store.add_tasting(setup, make_plan(setup, rng), now_ms)


def _run_tasting(store: Store, start_ms: int, rng: np.random.Generator) -> None:
    """Plan, open, pour, mark over three rounds, close and reveal, as a real table would."""
    setup = Setup(
        name="Three coffees at the harbour table",
        coffee_ids=tuple(STRENGTH),
        seats=len(PEOPLE),
        repeats=("night-ferry",),
    )
    tasting = store.add_tasting(setup, make_plan(setup, rng), start_ms)
    seats = [store.join(tasting.id, person.nickname, start_ms)[0] for person in PEOPLE]
    store.open(tasting.id, start_ms)
    for index, bowl in enumerate(tasting.plan.bowls):
        store.pour(tasting.id, bowl.code, start_ms + round(index * setup.pour_gap_s * 1000))
    table = _Table(tasting, rng)
    clock = bowl_clock(setup, cooling_model(setup.vessel, setup.water_c, setup.room_c))
    last_pour_s = (len(tasting.plan.bowls) - 1) * setup.pour_gap_s
    called_ms = start_ms
    for each in setup.rounds:
        called_ms = start_ms + round((last_pour_s + (clock.rounds[each.key] or 0.0)) * 1000)
        store.call_round(tasting.id, each.key, called_ms)
        for seat, person in zip(seats, PEOPLE, strict=True):
            records = list(table.records(seat, person, each, called_ms))
            store.add_records(seat.id, records, called_ms + ROUND_MS)
    store.close(tasting.id, called_ms + ROUND_MS)
    store.reveal(tasting.id, called_ms + ROUND_MS + 60_000)


@dataclass(frozen=True, slots=True)
class _Table:
    """The finished tasting's people at work."""

    tasting: Tasting
    rng: np.random.Generator

    def records(
        self, seat: Seat, person: Person, round_: Round, called_ms: int
    ) -> Iterator[Record]:
        """Yield what one person records in one round, in their own order of bowls."""
        coffees = {bowl.code: bowl.coffee_id or "" for bowl in self.tasting.plan.bowls}
        order = self.tasting.plan.orders[seat.number - 1].codes
        leaning = np.random.default_rng([SEED, seat.number])
        lean = {
            coffee: {name: leaning.normal(0.0, LEANING_SD) for name in STRENGTH[coffee]}
            for coffee in STRENGTH
        }
        verdicts: dict[str, float] = {}
        for index, code in enumerate(order):
            at_ms = called_ms + index * 55_000 + seat.number * 1_700
            coffee = coffees[code]
            names = [each.key for each in asked_in(self.tasting.setup)[round_.key]]
            drawn = mark_values(person, coffee, round_.key, names, lean[coffee], self.rng)
            yield from self._marks(seat, code, round_, drawn, at_ms)
            verdicts[code] = drawn["verdict"][1]
            if round_.key == "warm":
                yield from self._words(seat, code, coffee, round_, at_ms)
                yield from self._notes(seat, person, code, coffee, round_, at_ms)
        yield from self._picks(seat, verdicts, round_, called_ms + ROUND_MS - 60_000)

    def _id(self) -> str:
        return self.rng.bytes(16).hex()

    def _marks(
        self,
        seat: Seat,
        code: str,
        round_: Round,
        drawn: dict[str, tuple[float, float]],
        at_ms: int,
    ) -> Iterator[Mark]:
        for step, (name, (intensity, liking)) in enumerate(drawn.items()):
            mark = Mark(
                id=self._id(),
                seat=seat.id,
                bowl=code,
                sensation=name,
                round=round_.key,
                intensity=intensity,
                liking=liking,
                at_ms=at_ms + step * 4_000,
            )
            if self.rng.random() < 0.06:  # a first thought, put right a moment later
                first = float(np.clip(intensity + self.rng.normal(0, 15), 0, 100))
                yield replace(mark, id=self._id(), intensity=round(first, 1))
                mark = replace(mark, at_ms=mark.at_ms + 2_000)
            yield mark

    def _words(
        self, seat: Seat, code: str, coffee: str, round_: Round, at_ms: int
    ) -> Iterator[Word]:
        for habit in HABITS[coffee]:
            if self.rng.random() < habit.chance:
                yield Word(
                    id=self._id(),
                    seat=seat.id,
                    bowl=code,
                    family=habit.family,
                    term=habit.term,
                    feeling=habit.feeling,
                    round=round_.key,
                    at_ms=at_ms + 30_000,
                )

    def _notes(
        self, seat: Seat, person: Person, code: str, coffee: str, round_: Round, at_ms: int
    ) -> Iterator[Note]:
        text = NOTES.get((person.nickname, coffee))
        if text:
            yield Note(
                id=self._id(),
                seat=seat.id,
                bowl=code,
                text=text,
                round=round_.key,
                at_ms=at_ms + 40_000,
            )

    def _picks(
        self, seat: Seat, verdicts: dict[str, float], round_: Round, at_ms: int
    ) -> Iterator[Pick]:
        """Yield a pick for each two bowls whose verdicts came close, as the seat would ask."""
        codes = list(verdicts)
        for i, a in enumerate(codes):
            for b in codes[i + 1 :]:
                if abs(verdicts[a] - verdicts[b]) < 7:
                    felt = verdicts[a] - verdicts[b] + self.rng.normal(0.0, 6.0)
                    yield Pick(
                        id=self._id(),
                        seat=seat.id,
                        bowl_a=a,
                        bowl_b=b,
                        sensation="verdict",
                        round=round_.key,
                        question="better",
                        answer="same" if abs(felt) < 2 else a if felt > 0 else b,
                        at_ms=at_ms,
                    )
