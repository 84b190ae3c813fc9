"""Where a call takes its chance from: nothing, a number, or a generator."""

import numpy as np

from twobowls.errors import InputError

Rng = np.random.Generator | int | None


def generator(rng: Rng) -> np.random.Generator:
    """Return a generator; without any, always the same one.

    Examples
    --------
    >>> bool(generator(7).random() == generator(7).random())
    True
    """
    if isinstance(rng, np.random.Generator):
        return rng
    if rng is None:
        return np.random.default_rng(0)
    if isinstance(rng, bool) or not isinstance(rng, int | np.integer) or rng < 0:
        raise InputError(
            "rng", f"{rng!r} is no source of chance", "Give a whole number, or a Generator of numpy"
        )
    return np.random.default_rng(rng)
