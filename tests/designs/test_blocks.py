import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from twobowls.designs.blocks import efficiency, incomplete_blocks
from twobowls.errors import InputError

# Balanced incomplete block designs: treatments t, block size k, replications r, blocks b, and
# the efficiency factor E = t lambda / (r k) as tabled by Cochran and Cox, Experimental Designs,
# 2nd ed. 1957, three digits (the parameter sets from memory, the identities checked).
TABLED = [
    (4, 2, 3, 6, 0.667),
    (4, 3, 3, 4, 0.889),
    (5, 2, 4, 10, 0.625),
    (5, 3, 6, 10, 0.833),
    (5, 4, 4, 5, 0.938),
    (6, 2, 5, 15, 0.600),
    (6, 3, 5, 10, 0.800),
    (6, 4, 10, 15, 0.900),
    (7, 3, 3, 7, 0.778),
    (7, 4, 4, 7, 0.875),
    (8, 4, 7, 14, 0.857),
    (9, 3, 4, 12, 0.750),
    (10, 4, 6, 15, 0.833),
    (11, 5, 5, 11, 0.880),
    (13, 4, 4, 13, 0.812),
]


@pytest.mark.reference
@pytest.mark.parametrize(("t", "k", "r", "b", "tabled"), TABLED)
def test_the_search_finds_the_balanced_designs(
    t: int, k: int, r: int, b: int, tabled: float
) -> None:
    found = incomplete_blocks([r] * t, [k] * b)
    assert found.a == pytest.approx(tabled, abs=0.0006)
    assert found.d == pytest.approx(found.a, abs=1e-6)
    assert {len(block) for block in found.blocks} == {k}
    counts = np.bincount(np.concatenate([np.array(block) for block in found.blocks]), minlength=t)
    assert (counts == r).all()


@pytest.mark.reference
def test_the_search_comes_close_to_the_affine_plane_of_sixteen() -> None:
    """(16, 4, 5, 20) has 0.800 in the same table; the search need not meet the one plane."""
    found = incomplete_blocks([5] * 16, [4] * 20, starts=3)
    assert 0.79 < found.a < 0.8006


@pytest.mark.reference
def test_the_seven_point_plane_has_its_tabled_efficiency() -> None:
    plane = [(0, 1, 3), (1, 2, 4), (2, 3, 5), (3, 4, 6), (4, 5, 0), (5, 6, 1), (6, 0, 2)]
    assert efficiency(plane, 7) == pytest.approx((7 / 9, 7 / 9))


def test_complete_blocks_are_fully_efficient() -> None:
    assert efficiency([[0, 1, 2], [2, 1, 0]], 3) == pytest.approx((1.0, 1.0))


def test_blocks_with_nothing_in_common_compare_nothing() -> None:
    assert efficiency([[0, 1], [2, 3]], 4) == (0.0, 0.0)


def test_efficiency_is_the_variance_of_a_simulated_comparison() -> None:
    """From the definition: the mean variance of all differences, from the normal equations."""
    blocks = [[0, 1, 2], [0, 3, 4], [1, 3, 5], [2, 4, 5]]
    rows = [(t, b) for b, block in enumerate(blocks) for t in block]
    X = np.zeros((len(rows), 10))
    for row, (t, b) in enumerate(rows):
        X[row, t] = X[row, 6 + b] = 1
    V = np.linalg.pinv(X.T @ X)[:6, :6]
    pairs = [V[i, i] + V[j, j] - 2 * V[i, j] for i in range(6) for j in range(i)]
    assert efficiency(blocks, 6)[0] == pytest.approx((2 / 2) / np.mean(pairs))


@given(st.data())
@settings(max_examples=25, deadline=None)
def test_every_treatment_gets_its_places(data: st.DataObject) -> None:
    blocks = data.draw(st.integers(2, 4))
    replications = data.draw(st.lists(st.integers(1, blocks), min_size=3, max_size=10))
    total = sum(replications)
    sizes = [total // blocks + (i < total % blocks) for i in range(blocks)]
    found = incomplete_blocks(replications, sizes, starts=2) if min(sizes) else None
    if found is None:
        return
    assert [len(block) for block in found.blocks] == sizes
    counts = np.bincount([t for block in found.blocks for t in block], minlength=len(replications))
    assert counts.tolist() == replications
    assert all(len(set(block)) == len(block) for block in found.blocks)


def test_an_anchor_links_the_flights() -> None:
    found = incomplete_blocks([3] + [1] * 9, [4, 4, 4])
    assert all(0 in block for block in found.blocks)
    assert found.a > 0


@pytest.mark.parametrize(
    ("replications", "sizes", "message"),
    [
        ([1, 1], [3], "blocks: the replications add up to 2, the sizes to 3. Make the block sizes"),
        ([], [1], "blocks: a treatment or a block is empty. Give each at least one place."),
        ([2, 0], [2], "blocks: a treatment or a block is empty. Give each at least one place."),
    ],
)
def test_places_must_add_up(replications: list[int], sizes: list[int], message: str) -> None:
    with pytest.raises(InputError) as refused:
        incomplete_blocks(replications, sizes)
    assert str(refused.value).startswith(message)


def test_a_treatment_without_a_block_is_named() -> None:
    with pytest.raises(InputError, match=r"treatment 2 is in none of them"):
        efficiency([[0, 1]], 3)
    with pytest.raises(InputError, match=r"5 is not one of the 3 treatments\. Number them"):
        efficiency([[0, 5]], 3)
