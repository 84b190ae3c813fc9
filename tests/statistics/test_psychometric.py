from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from twobowls.errors import InputError
from twobowls.statistics.psychometric import (
    METHODS,
    d_prime,
    discriminators,
    method,
    proportion_correct,
    signed_d_prime,
    slope,
)

# scipy 1.17.1 integrate.quad of the integrals, each confirmed by 1e7 simulated trials (PCG64,
# seed 12345): share right at d' = 0.5, 1, 1.5, 2, 3.
AT = (0.5, 1, 1.5, 2, 3)
BY_QUADRATURE = {
    "triangle": (0.3558346496286, 0.4180466747146, 0.5064560972592, 0.6048069327722, 0.7814275986),
    "duo-trio": (0.5223470006251, 0.5824754442289, 0.6634621893935, 0.7468202455461, 0.876456704),
    "2-afc": (0.6381631950841, 0.7602499389065, 0.8555778168268, 0.9213503964749, 0.9830525732),
    "3-afc": (0.4825928708949, 0.6337020457781, 0.7658119575907, 0.8657671756348, 0.968795478),
    "tetrad": (0.3777187032431, 0.4938084274862, 0.6409365630557, 0.7776671166399, 0.9429716189),
}
# Ennis 1993, J Sens Stud 8:353-370, tables (from memory), three decimals.
ENNIS_1993 = {"triangle": (0.418, 0.605), "3-afc": (0.634, 0.866), "2-afc": (0.760, 0.921)}
every_method = pytest.mark.parametrize("key", list(METHODS))


@pytest.mark.reference
@every_method
def test_share_right_agrees_with_scipy_quadrature(key: str) -> None:
    ours = proportion_correct(key, AT)
    np.testing.assert_allclose(ours, BY_QUADRATURE[key], atol=5e-11)  # ten to thirteen digits


@pytest.mark.reference
@pytest.mark.parametrize("key", list(ENNIS_1993))
def test_share_right_agrees_with_the_tables_of_ennis_1993(key: str) -> None:
    assert proportion_correct(key, [1, 2]) == pytest.approx(ENNIS_1993[key], abs=5e-4)


@pytest.mark.reference
@pytest.mark.parametrize(
    ("key", "share", "theirs"),
    [
        # R 4.2.2, psyphy 0.2.3: dprime.mAFC(p, m) and dprime.oddity(p), which stops at 1e-4
        ("2-afc", 0.75, 0.953872601071332),
        ("3-afc", 0.6, 0.885149083161445),
        ("3-afc", 0.8, 1.65241427018581),
        ("triangle", 0.5, 1.46626279559181),
        ("triangle", 0.8, 3.12859441753885),
    ],
)
def test_d_prime_agrees_with_r_psyphy(key: str, share: float, theirs: float) -> None:
    assert d_prime(key, share) == pytest.approx(theirs, abs=2e-4)


@pytest.mark.reference
def test_the_tetrad_curve_is_what_simulated_tasters_do() -> None:
    rng = np.random.default_rng(3)
    n, d = 200_000, 1.5
    weak, strong = rng.normal(size=(n, 2)), rng.normal(d, size=(n, 2))
    # Grouping by similarity is right when the two of a kind are the two lowest or the two highest.
    right = (weak.max(1) < strong.min(1)) | (strong.max(1) < weak.min(1))
    expected = float(proportion_correct("tetrad", d))
    assert right.mean() == pytest.approx(expected, abs=4 * (expected * (1 - expected) / n) ** 0.5)


@every_method
def test_equal_coffees_are_guessed(key: str) -> None:
    assert proportion_correct(key, 0) == pytest.approx(method(key).guess, abs=1e-14)


@every_method
def test_far_apart_coffees_are_always_told_apart(key: str) -> None:
    assert proportion_correct(key, [30, 1e6]) == pytest.approx(1)


@every_method
def test_slope_is_the_derivative_of_the_curve(key: str) -> None:
    d, h = np.array([0.3, 1.0, 2.5, 4.0]), 1e-5
    numeric = (proportion_correct(key, d + h) - proportion_correct(key, d - h)) / (2 * h)
    np.testing.assert_allclose(slope(key, d), numeric, atol=1e-9)


@every_method
@given(d=st.floats(0.05, 6))
def test_the_inverse_undoes_the_curve(key: str, d: float) -> None:
    assert d_prime(key, proportion_correct(key, d)) == pytest.approx(d, rel=1e-6)


@every_method
def test_shares_at_or_below_guessing_give_zero_and_all_right_gives_infinity(key: str) -> None:
    assert d_prime(key, [0.0, method(key).guess, 1.0]).tolist() == [0.0, 0.0, np.inf]


def test_signed_d_prime_is_symmetric() -> None:
    np.testing.assert_allclose(
        signed_d_prime([0.2, 0.8, 0, 1]), [-1.19023, 1.19023, -np.inf, np.inf], atol=1e-5
    )


def test_discriminators_undo_the_guessing() -> None:
    assert discriminators("duo-trio", [0.3, 0.5, 0.75, 1]).tolist() == [0, 0, 0.5, 1]


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: proportion_correct("quartet", 1),
            "method: 'quartet' is not known. "
            "Choose one of triangle, duo-trio, 2-afc, 3-afc, tetrad.",
        ),
        (
            lambda: d_prime("triangle", 1.2),
            "proportion: 1.2 is out of range. Give shares from 0 to 1.",
        ),
        (
            lambda: proportion_correct("triangle", [1, float("nan")]),
            "d_prime: entry 2 is missing or not finite. Fill the gap or leave the row out.",
        ),
    ],
)
def test_bad_input_names_the_field_and_the_cure(call: Callable[[], object], text: str) -> None:
    with pytest.raises(InputError) as refused:
        call()
    assert str(refused.value) == text


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("3-AFC", "3-afc"),
        ("3 AFC", "3-afc"),
        ("2AFC", "2-afc"),
        (" Triangle ", "triangle"),
        ("Duo Trio", "duo-trio"),
        ("duo\u2013trio", "duo-trio"),
        ("TETRAD", "tetrad"),
    ],
)
def test_spellings_of_a_method_are_one(name: str, key: str) -> None:
    assert method(name) is METHODS[key]
    assert proportion_correct(name, 1.0) == proportion_correct(key, 1.0)
    assert d_prime(name, 0.7) == d_prime(key, 0.7)


@pytest.mark.parametrize("name", ["triangles", "4-afc", "", "-", 3, None])
def test_other_names_are_refused(name: str) -> None:
    with pytest.raises(InputError, match=r"method: .* is not known\. Choose one of triangle"):
        method(name)
