from collections.abc import Callable

import numpy as np
import pytest

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.confusion import USUAL_SHARE, _evidence, confusion

SOUR = [[20, 40, 60, 80], [25, 45, 55, 75], [22, 38, 66, 80], [80, 50, 35, 20]]
BITTER = [[80, 55, 35, 20], [75, 60, 40, 25], [82, 58, 30, 22], [15, 45, 60, 85]]


def table(
    rng: np.random.Generator, tasters: int, coffees: int, share: float, likeness: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return sour and bitter marks, and who mixed up which (sour marks, bitter marks)."""
    acid = 14 * rng.normal(size=coffees)
    other = 14 * rng.normal(size=coffees)
    bitter = likeness * acid + (1 - likeness**2) ** 0.5 * other
    mixed = rng.uniform(size=(2, tasters, 1)) < share
    stretch, noise = (
        np.exp(0.3 * rng.normal(size=(2, tasters, 1))),
        8 * rng.normal(size=(2, tasters, coffees)),
    )
    level = 45 + 10 * rng.normal(size=(2, tasters, 1))
    meant = np.stack([np.where(mixed[0], bitter, acid), np.where(mixed[1], acid, bitter)])
    marks = level + stretch * meant + noise
    return marks[0], marks[1], mixed[:, :, 0].astype(float)


def reported(
    seed: int, tables: int, tasters: int, coffees: int, share: float, likeness: float = -0.3
) -> tuple[FloatArray, FloatArray]:
    rng, told, real = np.random.default_rng(seed), [], []
    for _ in range(tables):
        sour, bitter, mixed = table(rng, tasters, coffees, share, likeness)
        for taster in confusion(sour, bitter, prior=share).tasters:
            assert taster.acidity_follows_bitterness is not None
            assert taster.bitterness_follows_acidity is not None
            told += [taster.acidity_follows_bitterness, taster.bitterness_follows_acidity]
            real += [mixed[0, taster.taster], mixed[1, taster.taster]]
    return np.array(told), np.array(real)


@pytest.mark.parametrize(
    ("tasters", "coffees", "share", "likeness"),
    [(8, 6, 0.2, -0.3), (12, 8, 0.1, -0.3), (4, 4, 0.2, -0.3), (8, 5, 0.2, 0.4)],
)
def test_probabilities_are_calibrated(
    tasters: int, coffees: int, share: float, likeness: float
) -> None:
    told, real = reported(1, 80, tasters, coffees, share, likeness)
    assert told.mean() == pytest.approx(real.mean(), abs=0.04)
    # within a tenth in the middle, where probabilities lean a little to the prior; at the ends,
    # where something is said, within three hundredths
    for low, high, room in [(0, 0.05, 0.03), (0.05, 0.3, 0.1), (0.3, 0.9, 0.15), (0.9, 1.01, 0.05)]:
        inside = (told >= low) & (told < high)
        if inside.sum() >= 20:
            error = 3 * (0.25 / inside.sum()) ** 0.5 if 0.05 <= low < 0.9 else 0.02
            assert real[inside].mean() == pytest.approx(told[inside].mean(), abs=room + error)


def test_probabilities_beat_the_prior() -> None:
    told, real = reported(2, 60, 8, 6, 0.2)
    assert ((told - real) ** 2).mean() < 0.3 * ((0.2 - real) ** 2).mean()


def test_nearly_nobody_is_blamed_when_nobody_mixes_them_up() -> None:
    rng, told = np.random.default_rng(3), []
    for _ in range(40):
        sour, bitter, _ = table(rng, 8, 6, 0.0, -0.3)
        told += [t.bitterness_follows_acidity for t in confusion(sour, bitter).tasters]
    assert np.mean(np.array(told, dtype=float) > 0.95) <= 0.01


@pytest.mark.reference
def test_the_evidence_is_the_integral_scipy_takes() -> None:
    from scipy.integrate import dblquad
    from scipy.stats import norm

    marks, others = np.array([20.0, 35, 60, 75]), np.array([25.0, 40, 55, 72])
    blur, noise = 9.0, 40.0

    def integrand(u: float, v: float) -> float:
        x, y = others - others.mean(), marks - marks.mean()
        kept = 1 - blur / x.var(ddof=1)
        stretch, own = np.exp(0.4 * u), noise * np.exp(2 * 0.35 * v)
        variance = own + stretch**2 * kept * blur
        left = ((y - kept * stretch * x) ** 2).sum()
        density = variance**-1.5 * np.exp(-left / (2 * variance))
        return float(density * norm.pdf(u) * norm.pdf(v))

    theirs = dblquad(integrand, -8, 8, -8, 8, epsabs=1e-14)[0]
    assert np.exp(_evidence(marks, others, blur, noise)) == pytest.approx(theirs, rel=1e-4)


def test_one_clear_swap_is_found_and_the_others_are_left_alone() -> None:
    result = confusion(SOUR, BITTER)
    chances = [t.bitterness_follows_acidity for t in result.tasters]
    assert result.prior == USUAL_SHARE
    assert chances[3] is not None
    assert chances[3] > 0.9
    assert all(chance is not None and chance < 0.1 for chance in chances[:3])


def test_words_that_mean_the_same_leave_the_prior() -> None:
    rng = np.random.default_rng(5)
    coffee = 15 * rng.normal(size=6)
    sour, bitter = (45 + coffee + 5 * rng.normal(size=(8, 6)) for _ in range(2))
    result = confusion(sour, bitter)
    assert result.likeness > 0.9
    assert "cannot be told apart" in result.cautions[0]
    chances = [t.bitterness_follows_acidity for t in result.tasters]
    assert np.array(chances, dtype=float).max() < 0.7


def test_an_even_split_blames_nobody() -> None:
    sour, bitter = [SOUR[0], SOUR[1], BITTER[0], BITTER[1]], [BITTER[0], BITTER[1], *SOUR[:2]]
    result = confusion(sour, bitter)
    assert "cannot be told apart" in result.cautions[-1]
    chances = np.array([t.bitterness_follows_acidity for t in result.tasters], dtype=float)
    assert chances.max() < 0.8


def test_a_constant_level_or_a_stretch_changes_little() -> None:
    plain = confusion(SOUR, BITTER).tasters[3].bitterness_follows_acidity
    moved = confusion(np.array(SOUR) * 0.9 + 5, np.array(BITTER) * 0.9 + 5)
    assert moved.tasters[3].bitterness_follows_acidity == pytest.approx(plain, abs=0.02)


def test_gaps_are_fine_and_too_few_coffees_say_nothing() -> None:
    sour, bitter = np.array(SOUR, dtype=float), np.array(BITTER, dtype=float)
    sour[0, 1] = np.nan
    bitter[1, 2:] = np.nan
    result = confusion(sour, bitter)
    assert result.tasters[0].coffees == 3
    assert result.tasters[1].bitterness_follows_acidity is None
    assert result.tasters[3].bitterness_follows_acidity is not None
    assert result.tasters[3].bitterness_follows_acidity > 0.8


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: confusion(SOUR, BITTER[:3]),
            "bitterness: the two tables do not match. Give the same tasters and coffees.",
        ),
        (
            lambda: confusion(SOUR[:2], BITTER[:2]),
            "acidity: 2 tasters are too few. Give three tasters or more.",
        ),
        (
            lambda: confusion(SOUR, BITTER, prior=0),
            "prior: 0 is out of range. Give a number between 0 and 1.",
        ),
        (
            lambda: confusion(np.full((3, 3), np.inf), np.ones((3, 3))),
            "acidity: a mark is infinite. Give marks on the scale, or NaN.",
        ),
    ],
)
def test_bad_input_names_the_field_and_the_cure(call: Callable[[], object], text: str) -> None:
    with pytest.raises(InputError) as refused:
        call()
    assert str(refused.value) == text
