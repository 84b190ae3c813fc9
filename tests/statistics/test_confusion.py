from collections.abc import Callable

import numpy as np
import pytest

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.confusion import USUAL_SHARE, confusion
from twobowls.statistics.confusion_sampler import Sampler

SOUR = [[20, 40, 60, 80], [25, 45, 55, 75], [22, 38, 66, 80], [80, 50, 35, 20]]
BITTER = [[80, 55, 35, 20], [75, 60, 40, 25], [82, 58, 30, 22], [15, 45, 60, 85]]


def table(
    rng: np.random.Generator,
    tasters: int,
    coffees: int,
    share: float,
    likeness: float,
    apart: float = 0.35,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return sour and bitter marks, and who mixed up which (sour marks, bitter marks)."""
    acid = 14 * rng.normal(size=coffees)
    other = 14 * rng.normal(size=coffees)
    bitter = likeness * acid + (1 - likeness**2) ** 0.5 * other
    mixed = rng.uniform(size=(2, tasters, 1)) < share
    stretch = np.exp(0.4 * rng.normal(size=(2, tasters, 1)))
    spread = 8 * np.exp(apart * rng.normal(size=(2, tasters, 1)))
    level = 45 + 10 * rng.normal(size=(2, tasters, 1))
    meant = np.stack([np.where(mixed[0], bitter, acid), np.where(mixed[1], acid, bitter)])
    marks = level + stretch * meant + spread * rng.normal(size=(2, tasters, coffees))
    return marks[0], marks[1], mixed[:, :, 0].astype(float)


def reported(
    seed: int,
    tables: int,
    tasters: int,
    coffees: int,
    share: float,
    likeness: float = -0.3,
    apart: float = 0.35,
) -> tuple[FloatArray, FloatArray]:
    """Return what was told and what was so, shape (tables, rows)."""
    rng, told, real = np.random.default_rng(seed), [], []
    for _ in range(tables):
        sour, bitter, mixed = table(rng, tasters, coffees, share, likeness, apart)
        found = confusion(sour, bitter, prior=share).tasters
        told.append(
            [t.acidity_follows_bitterness for t in found]
            + [t.bitterness_follows_acidity for t in found]
        )
        real.append(mixed.ravel())
    return np.array(told, dtype=float), np.array(real)


@pytest.mark.parametrize(
    ("tasters", "coffees", "likeness", "apart", "tables"),
    [(8, 6, -0.3, 0.35, 20), (4, 4, -0.3, 0.35, 40), (8, 5, 0.4, 0.35, 15), (4, 4, -0.3, 0.0, 30)],
)
def test_probabilities_are_calibrated(
    tasters: int, coffees: int, likeness: float, apart: float, tables: int
) -> None:
    told, real = reported(1, tables, tasters, coffees, 0.2, likeness, apart)
    for low, high in [(0, 0.05), (0.05, 0.3), (0.3, 0.7), (0.7, 0.95), (0.95, 1.01)]:
        inside = (told >= low) & (told < high)
        if inside.sum() >= 10:
            # tasters of one table err together: errors are those of whole tables
            off = np.where(inside, real - told, 0).sum(axis=1)
            error = max(float(np.sqrt((off**2).sum())), 1.0) / inside.sum()
            assert real[inside].mean() == pytest.approx(told[inside].mean(), abs=3.5 * error)


def test_probabilities_beat_the_prior_by_far() -> None:
    told, real = reported(2, 15, 8, 6, 0.2)
    assert ((told - real) ** 2).mean() < 0.35 * ((0.2 - real) ** 2).mean()


def test_nearly_nobody_is_blamed_when_nobody_mixes_them_up() -> None:
    rng, told = np.random.default_rng(3), []
    for _ in range(12):
        sour, bitter, _ = table(rng, 8, 6, 0.0, -0.3)
        told += [t.bitterness_follows_acidity for t in confusion(sour, bitter).tasters]
    assert np.mean(np.array(told, dtype=float) > 0.95) <= 0.01


@pytest.mark.reference
def test_the_chance_of_a_row_is_the_integral_scipy_takes() -> None:
    from scipy.integrate import simpson
    from scipy.stats import norm

    sour = np.array([[20.0, 35, 60, 75], [40, 52, 45, 56], [58, 60, 41, 36]])
    sampler = Sampler(sour, np.array(BITTER[:3], dtype=float), 0.2, np.random.default_rng(1))
    profiles = np.array([[-15.0, -6, 7, 14], [-3.0, 8, -9, 4]])
    sampler.profiles[:], sampler.variance[:] = profiles, 40.0
    weights = np.exp(sampler.log_chances()[0][..., 0, :3].astype(float)).sum(axis=(1, 2))
    ours = weights[1] / weights.sum(axis=0)
    fine = np.linspace(-6, 6, 401)
    u, v = np.meshgrid(fine, fine, indexing="ij")
    stretch, variance = np.exp(0.4 * u), 40.0 * np.exp(2 * 0.35 * v)

    def integral(row: FloatArray, profile: FloatArray) -> float:
        x, y = profile - profile.mean(), row - row.mean()
        left = y @ y - 2 * stretch * (x @ y) + stretch**2 * (x @ x)
        density = variance**-1.5 * np.exp(-left / (2 * variance)) * norm.pdf(u) * norm.pdf(v)
        return float(simpson(simpson(density, x=fine), x=fine))

    first, second = np.array([[integral(row, p) for row in sour] for p in profiles])
    theirs = 0.2 * second / (0.2 * second + 0.8 * first)
    assert 0.05 < theirs[1] < 0.95  # one row is in doubt, the others are clear
    assert ours == pytest.approx(theirs, abs=0.01)


def test_profiles_are_drawn_from_the_dense_normal() -> None:
    sour, bitter = np.array(SOUR, dtype=float), np.array(BITTER, dtype=float)
    sour[0, 2] = np.nan
    sampler = Sampler(sour, bitter, 0.2, np.random.default_rng(3))
    sampler.follows[:] = [0, 0, 0, 1, 1, 1, 1, 0]
    sampler.stretch[:] = [1.0, 0.8, 1.2, 1.0, 0.9, 1.1, 1.0, 1.3]
    sampler.noise[:] = [1.0, 0.5, 2.0, 1.0, 1.0, 0.7, 1.4, 1.0]
    sampler.variance[:], sampler.spread[:] = 60.0, [400.0, 900.0]
    draws = []
    for _ in range(200):
        sampler._draw_profiles()
        draws.append(sampler.profiles)
    drawn = np.concatenate(draws)
    marks = np.vstack([sour, bitter])
    for word in (0, 1):
        inverse, total = np.eye(4) / (400.0, 900.0)[word], np.zeros(4)
        for row in np.flatnonzero(sampler.follows[0] == word):
            seen = ~np.isnan(marks[row])
            free = np.diag(seen) - np.outer(seen, seen) / seen.sum()  # the level taken out
            pull = sampler.stretch[0, row] / (sampler.noise[0, row] * 60.0)
            inverse = inverse + pull * sampler.stretch[0, row] * free
            total = total + pull * free @ np.nan_to_num(marks[row])
        mean, covariance = np.linalg.solve(inverse, total), np.linalg.inv(inverse)
        error = np.sqrt(np.diag(covariance) / len(drawn))
        assert (np.abs(drawn[:, word].mean(axis=0) - mean) < 4.5 * error).all()
        assert np.cov(drawn[:, word].T) == pytest.approx(covariance, abs=0.08 * covariance.max())


def test_the_same_tables_get_the_same_answer_and_another_generator_nearly() -> None:
    sour, bitter, _ = table(np.random.default_rng(8), 8, 5, 0.2, 0.2)
    one, same = confusion(sour, bitter), confusion(sour, bitter)
    other = confusion(sour, bitter, rng=np.random.default_rng(9))
    assert one == same
    told = [[t.bitterness_follows_acidity for t in found.tasters] for found in (one, other)]
    assert np.abs(np.diff(np.array(told, dtype=float), axis=0)).max() < 0.1


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
    assert "who does cannot be told" in result.cautions[-1]
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
