import numpy as np
import pytest

from twobowls.designs.williams import carry_over_counts, position_counts, williams_square
from twobowls.errors import InputError

# Williams squares as printed in public texts, bowls counted from 1; the first half for odd t.
PRINTED = {
    3: "123 231 312 321 132 213",
    4: "1243 2314 3421 4132",
    5: "12534 23145 34251 45312 51423",
    6: "126354 231465 342516 453621 564132 615243",
}


@pytest.mark.reference
@pytest.mark.parametrize("bowls", PRINTED)
def test_the_squares_are_those_in_print(bowls: int) -> None:
    printed = {tuple(int(bowl) for bowl in row) for row in PRINTED[bowls].split()}
    if bowls == 5:
        printed |= {row[::-1] for row in printed}
    assert {tuple(row) for row in (williams_square(bowls) + 1).tolist()} == printed


@pytest.mark.parametrize("bowls", range(2, 17))
def test_places_and_neighbours_balance_exactly(bowls: int) -> None:
    square = williams_square(bowls)
    times = 1 if bowls % 2 == 0 else 2
    assert square.shape == (times * bowls, bowls)
    assert (position_counts(square, bowls) == times).all()
    assert (carry_over_counts(square, bowls) == times * (1 - np.eye(bowls))).all()


def test_one_bowl_is_one_order() -> None:
    assert williams_square(1).tolist() == [[0]]


def test_no_bowl_is_refused() -> None:
    with pytest.raises(InputError, match=r"bowls: 0 is too few\. Give at least one bowl\."):
        williams_square(0)
