"""What a bench asks before it does what is probably a slip. Pure."""

from twobowls.counting import count_of
from twobowls.tasting.tasting import Tasting
from twobowls.web.clockwork import clockwork_of
from twobowls.web.wording import plain_number

# Our own choices: a bowl cools by about a degree in the first's time, and the model of a vessel
# that nobody has measured is seldom out by more than the second.
EARLY_S = 180.0
FAR_C = 10.0


def question_of_round(tasting: Tasting, key: str, now_ms: int) -> str:
    """Return what to ask before a round that the warmest cups are far from; empty if nothing."""
    ready_s = clockwork_of(tasting).bowl.rounds.get(key)
    poured = [at for code, at in tasting.poured.items() if code not in tasting.set_aside]
    if ready_s is None or not poured:
        return ""
    early_s = ready_s - (now_ms - min(poured)) / 1000
    if early_s < EARLY_S:
        return ""
    name = next(each.name for each in tasting.setup.rounds if each.key == key)
    minutes = count_of(round(early_s / 60), "minute")
    return (
        f"The bowls are still too warm for the round “{name}”: the first will be ready in about "
        f"{minutes}. Call it all the same?"
    )


def question_of_reading(tasting: Tasting, bowl: str, temperature_c: float, at_ms: int) -> str:
    """Return what to ask about a reading far from what is expected; empty if nothing."""
    poured_ms = tasting.poured.get(bowl)
    if poured_ms is None or at_ms <= poured_ms or not 0 < temperature_c <= 100:
        return ""
    expected_c = float(clockwork_of(tasting).cooling.temperature((at_ms - poured_ms) / 1000))
    if abs(temperature_c - expected_c) < FAR_C:
        return ""
    return (
        f"You typed {plain_number(temperature_c)} °C, and bowl {bowl} should have about "
        f"{round(expected_c)} °C by now. Is the reading right?"
    )
