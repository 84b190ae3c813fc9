from collections.abc import Callable

import numpy as np
import pytest

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.word_lift import _SHARES, word_lift

WHO = ["Ada", "Bo", "Cy", "Di"] * 3
WHAT = ["x"] * 4 + ["y"] * 4 + ["z"] * 4
LIKING = [70, 62, 75, 60, 40, 35, 52, 38, 60, 48, 66, 42]
FLORAL = np.array([[1], [0], [1], [1], [0], [0], [1], [0], [1], [0], [1], [0]])


@pytest.mark.reference
def test_the_lift_in_the_same_coffee_agrees_with_r() -> None:
    # R 4.2.2: lm(y ~ who + what + w), coefficient of w and confint(level = .9)
    same = word_lift(WHO, WHAT, LIKING, FLORAL, ["floral"])[0].same_coffee
    assert same is not None
    assert (same.estimate, same.low, same.high) == pytest.approx(
        (5.4, -1.57101900185, 12.3710190019), rel=1e-10
    )


@pytest.mark.reference
def test_the_lift_lies_between_rs_two_simpler_models() -> None:
    # R 4.2.2: lm(y ~ who + w) gives 22.5, lm(y ~ who + what + w) 5.4; lme4 1.1-31,
    # lmer(y ~ who + w + (1 | what)) 5.93. Ours averages over the coffees' variance.
    lift = word_lift(WHO, WHAT, LIKING, FLORAL, ["floral"])[0].lift
    assert lift is not None
    assert 5.4 < lift.estimate < 22.5
    assert 5.92923702855 in lift


def simulated(
    rng: np.random.Generator, lift: float, tasters: int = 8, coffees: int = 6
) -> tuple[list[str], list[str], FloatArray, FloatArray]:
    coffee = 8 * rng.normal(size=coffees)
    chance = 1 / (1 + np.exp(-rng.normal(size=coffees)))
    said = (rng.uniform(size=(tasters, coffees)) < chance).astype(float)
    level = 10 * rng.normal(size=(tasters, 1))
    y = 55 + level + coffee + lift * said + 8 * rng.normal(size=(tasters, coffees))
    who = [f"t{i}" for i in range(tasters) for _ in range(coffees)]
    what = [f"c{j}" for _ in range(tasters) for j in range(coffees)]
    return who, what, y.ravel(), said.reshape(-1, 1)


def test_the_lift_is_the_mixture_a_dense_computation_gives() -> None:
    who, what, y, w = simulated(np.random.default_rng(1), 6)
    tasters = np.array([[a == b for b in sorted(set(who))] for a in who], dtype=float)
    coffees = np.array([[a == b for b in sorted(set(what))] for a in what], dtype=float)
    design, logs, slopes = np.hstack([tasters, w]), [], []
    for share in _SHARES:
        v = np.eye(y.size) + share / (1 - share) * coffees @ coffees.T
        inner = design.T @ np.linalg.solve(v, design)
        beta = np.linalg.solve(inner, design.T @ np.linalg.solve(v, y))
        left = y - design @ beta
        total = left @ np.linalg.solve(v, left)
        df = y.size - design.shape[1]
        logs.append(
            -0.5 * (np.linalg.slogdet(v)[1] + np.linalg.slogdet(inner)[1] + df * np.log(total))
        )
        slopes.append(beta[-1])
    weights = np.exp(np.array(logs) - max(logs))
    lift = word_lift(who, what, y, w, ["floral"])[0].lift
    assert lift is not None
    assert lift.estimate == pytest.approx(weights @ slopes / weights.sum(), rel=1e-8)


@pytest.mark.parametrize("truth", [0.0, 8.0])
def test_intervals_cover_about_their_level(truth: float) -> None:
    rng, runs, held = np.random.default_rng(2), 300, 0
    for _ in range(runs):
        lift = word_lift(*simulated(rng, truth), ["floral"])[0].lift
        held += lift is not None and truth in lift
    assert held / runs == pytest.approx(0.90, abs=4 * (0.09 / runs) ** 0.5)


def test_a_word_that_sticks_to_one_coffee_gets_a_wide_interval() -> None:
    who, what, y, _ = simulated(np.random.default_rng(3), 0)
    sticks = np.array([[coffee == "c0"] for coffee in what], dtype=float)
    spread = np.random.default_rng(4).permuted(sticks, axis=0)
    one, other = word_lift(who, what, y, np.hstack([sticks, spread]), ["sticks", "spread"])
    assert one.same_coffee is None
    assert one.lift is not None
    assert other.lift is not None
    assert one.lift.high - one.lift.low > 1.5 * (other.lift.high - other.lift.low)


def test_a_word_never_or_always_said_has_no_lift() -> None:
    never, always = word_lift(WHO, WHAT, LIKING, np.tile([0, 1], (12, 1)), ["never", "always"])
    assert (never.lift, never.probability, never.same_coffee) == (None, None, None)
    assert (always.lift, always.probability, always.same_coffee) == (None, None, None)
    assert never.cautions == ("Said 0 times: nothing much follows.",)


def test_a_clear_lift_is_probable() -> None:
    result = word_lift(*simulated(np.random.default_rng(5), 25), ["floral"])[0]
    assert result.probability is not None
    assert result.probability > 0.99


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: word_lift(WHO, WHAT, LIKING, 2 * FLORAL, ["floral"]),
            "words: a word is neither said nor not said. Give 1 or 0 for each.",
        ),
        (
            lambda: word_lift(WHO[:3], WHAT, LIKING, FLORAL, ["floral"]),
            "tasters: 3 entries for 12 marks. Give one for every mark.",
        ),
        (
            lambda: word_lift(WHO, WHAT, LIKING, FLORAL, ["floral", "nutty"]),
            "words: the shape is 12 × 1. Give numbers of shape 12 × 2.",
        ),
        (
            lambda: word_lift(["a"], ["x"], [float("nan")], [[1]], ["floral"]),
            "liking: entry 1 is missing or not finite. Fill the gap or leave the row out.",
        ),
    ],
)
def test_bad_input_names_the_field_and_the_cure(call: Callable[[], object], text: str) -> None:
    with pytest.raises(InputError) as refused:
        call()
    assert str(refused.value) == text
