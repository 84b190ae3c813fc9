"""Sour or bitter: whose bitterness follows the table's acidity, and the reverse.

Two tables of the same tasters and coffees, one a sensation, on one scale. To be told kindly and
privately: mixing up the two words is common and says nothing about the tongue.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from twobowls.counting import count_of, counts_are
from twobowls.errors import InputError
from twobowls.statistics.arrays import FloatArray
from twobowls.statistics.confusion_sampler import Sampler
from twobowls.statistics.inputs import between

# Meiselman & Dzendolet 1967 (seen in a secondary page): 17 of 80 people mixed up the two.
USUAL_SHARE = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Confusion:
    """The chance that a taster's two words are mixed up.

    ``bitterness_follows_acidity`` is the posterior probability that the bitterness marks follow
    the table's acidity rather than its bitterness; ``acidity_follows_bitterness`` the reverse.
    None where the taster shares fewer than three coffees with the others.
    """

    taster: int
    coffees: int
    bitterness_follows_acidity: float | None
    acidity_follows_bitterness: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Confusions:
    """All tasters; ``likeness`` correlates the table's acidity and bitterness (-1 to 1).

    Near 1 the two can hardly be told apart by anybody's marks, and every probability stays near
    the ``prior``.
    """

    tasters: tuple[Confusion, ...]
    likeness: float
    prior: float
    cautions: tuple[str, ...] = ()


def confusion(
    acidity: ArrayLike,
    bitterness: ArrayLike,
    *,
    prior: float = USUAL_SHARE,
    rng: np.random.Generator | None = None,
) -> Confusions:
    """Return the chance, for each taster, that acidity and bitterness are mixed up.

    Parameters
    ----------
    acidity, bitterness : array_like, shape (tasters, coffees)
        Mean intensity marks of each taster and coffee on one scale (see ``coffee_table``), NaN
        where not marked.
    prior : float
        The share of people expected to mix up the two, between 0 and 1.
    rng : numpy.random.Generator or None
        For the draws; without it the same tables always give the same answer.

    Returns
    -------
    Confusions

    Raises
    ------
    InputError
        When the tables do not match, a mark is infinite, there are fewer than three tasters, or
        the prior is out of range.

    Notes
    -----
    For a taster's bitterness marks two stories compete: they are a stretch of what the table
    means by bitterness, plus noise, or of what it means by acidity. The stretch is log-normal
    around 1, the noise log-normal around the table's own, the level free. What the table means,
    who follows what, and all these are drawn together (see ``confusion_sampler``), so that a
    taster who may be mixed up counts for either word by that chance. Whether the whole table
    means the one by the other, only the prior can tell; that chance is in the numbers.

    In 300 simulated tables of 8 tasters and 6 coffees what was told came true over the whole
    range: .27 was .29, .42 was .50 ± .07, .73 was .72. Where all tasters are equally noisy, which
    the model does not expect, it is a little too careful: .42 was .49 ± .04 in tables of 4 by 4.

    References
    ----------
    Meiselman & Dzendolet 1967, Perception & Psychophysics 2:496-498 (share of confusions).

    Examples
    --------
    >>> acid = [[20, 40, 60, 80], [25, 45, 55, 75], [22, 38, 66, 80], [80, 50, 35, 20]]
    >>> bitter = [[80, 55, 35, 20], [75, 60, 40, 25], [82, 58, 30, 22], [15, 45, 60, 85]]
    >>> result = confusion(acid, bitter)
    >>> [round(t.bitterness_follows_acidity, 2) for t in result.tasters]
    [0.0, 0.0, 0.0, 1.0]
    """
    sour, bitter = _tables(acidity, bitterness)
    share = between("prior", prior, 0, 1)
    sampler = Sampler(sour, bitter, share, np.random.default_rng(0) if rng is None else rng)
    sampler.run()
    told, enough = sampler.mixed_up.reshape(2, -1), _comparable(sour, bitter)
    return Confusions(
        tasters=tuple(
            Confusion(
                taster=i,
                coffees=int((~np.isnan(sour[i]) & ~np.isnan(bitter[i])).sum()),
                bitterness_follows_acidity=float(told[1, i]) if enough[1, i] else None,
                acidity_follows_bitterness=float(told[0, i]) if enough[0, i] else None,
            )
            for i in range(len(sour))
        ),
        likeness=sampler.likeness,
        prior=share,
        cautions=_cautions(sour, sampler.likeness, sampler.turned),
    )


def _comparable(sour: FloatArray, bitter: FloatArray) -> NDArray[np.bool_]:
    """Return whether a taster's sour marks, and bitter ones, share three coffees with others."""
    seen = np.stack([~np.isnan(sour), ~np.isnan(bitter)])
    others = seen.sum(axis=(0, 1)) - seen.sum(axis=0)
    return np.asarray((seen & (others > 0)).sum(axis=2) >= 3)


def _tables(acidity: ArrayLike, bitterness: ArrayLike) -> tuple[FloatArray, FloatArray]:
    try:
        sour, bitter = np.asarray(acidity, dtype=float), np.asarray(bitterness, dtype=float)
    except (TypeError, ValueError):
        raise InputError(
            "acidity", "not every entry is a number", "Give numbers, NaN for a gap, in equal rows"
        ) from None
    if sour.ndim != 2 or sour.shape != bitter.shape:
        raise InputError(
            "bitterness", "the two tables do not match", "Give the same tasters and coffees"
        )
    if np.isinf(sour).any() or np.isinf(bitter).any():
        raise InputError("acidity", "a mark is infinite", "Give marks on the scale, or NaN")
    if len(sour) < 3:
        raise InputError(
            "acidity", f"{counts_are(len(sour), 'taster')} too few", "Give three tasters or more"
        )
    return sour, bitter


def _cautions(sour: FloatArray, likeness: float, flipped: float) -> tuple[str, ...]:
    texts = []
    if sour.shape[1] < 5:
        texts.append(f"Only {count_of(sour.shape[1], 'coffee')}: take every probability as a hint.")
    if likeness > 0.7:
        texts.append(
            "The table finds the sour coffees the bitter ones too: the words cannot be told apart."
        )
    if flipped > 0.1:
        texts.append("Nearly as many mix up the words as not: who does cannot be told.")
    return tuple(texts)
