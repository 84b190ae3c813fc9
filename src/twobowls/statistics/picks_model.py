"""What is asked of a pick table: the prior, the columns, and the question at given spreads.

Knows how abilities, ties and order become columns; the search for the top and the averaging
over spreads are elsewhere.
"""

from dataclasses import asdict, dataclass
from functools import cached_property

import numpy as np

from twobowls.statistics.inputs import scales
from twobowls.statistics.picks_gather import GatheredPicks, gather_pairs, gather_tasters
from twobowls.statistics.picks_peak import Question, answer_shares
from twobowls.statistics.picks_table import Array, Codes, PickTable

__all__ = ["PickModel", "PicksPrior"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PicksPrior:
    """How far abilities may plausibly lie apart, in log-odds.

    Parameters
    ----------
    ability_sd : float
        Scale of the prior of how far the coffees spread (their standard deviation around their
        common middle), see `spread_prior`; that spread is integrated out.
    tie_sd : float
        Of the log tie weight around 0 (equal coffees the same one time in three).
    order_sd : float
        Of what being put first adds.
    spread : float
        Scale of the half-normal prior of how much one taster's odds for a coffee deviate.

    Notes
    -----
    Our own choice: with a spread of 1.5, two coffees are 2.1 apart in the typical case, which
    is one being picked nine times in ten. The prior of a spread has much room near zero, so that
    coffees that are all alike are drawn together and seldom set apart by chance.

    Examples
    --------
    >>> PicksPrior(ability_sd=0)
    Traceback (most recent call last):
    ...
    twobowls.errors.InputError: prior: ability_sd is 0. Give a number above zero.
    """

    ability_sd: float = 1.5
    tie_sd: float = 1.5
    order_sd: float = 1.0
    spread: float = 1.0

    def __post_init__(self) -> None:
        scales("prior", asdict(self))


class PickModel:
    """A table with its options: what to ask the climber, and how to read its answer."""

    def __init__(self, table: PickTable, ties: bool, order: bool, prior: PicksPrior | None) -> None:
        size = len(table.coffees)
        self.table, self.ties, self.order, self.prior = table, ties, order, prior
        # an orthonormal basis of the abilities that sum to zero
        self.basis = np.linalg.svd(np.eye(size) - 1.0 / size)[0][:, : size - 1]
        scale = 1.0 if prior is None else prior.ability_sd
        self.columns = scale * self.basis
        self.design = self._design(table.first, table.second)
        self.answers = self._answers(np.array([table.for_first, table.for_second, table.same]))
        self.by_pair = gather_pairs(table, order=order)

    @cached_property
    def by_taster(self) -> GatheredPicks:
        """The rows that count where tasters deviate."""
        return gather_tasters(self.table, order=self.order)

    def _design(self, first: Codes, second: Codes) -> Array:
        design = self.columns[first] - self.columns[second]
        return np.hstack([design, np.ones((design.shape[0], int(self.order)))])

    def _answers(self, counts: Array) -> Array:
        """Return what counts of answers (3, m) say: ties on their own, or half for each."""
        half = 0.0 if self.ties else 0.5 * counts[2]
        return np.array([counts[0] + half, counts[1] + half, counts[2] * float(self.ties)])

    def ask(self, spread: float, ability: float = 1.0) -> Question:
        """Return the question at one spread of the tasters' deviations.

        ``ability`` is that of the coffees, in units of its prior scale.
        """
        prior, rows = self.prior, self.by_taster if spread else self.by_pair
        design = self._design(rows.first, rows.second)
        free = design.shape[1] + int(self.ties)
        precision = np.zeros(free)
        if prior is not None:
            precision[: self.basis.shape[1]] = ability**-2.0
            if self.order:
                precision[self.basis.shape[1]] = prior.order_sd**-2
            if self.ties:
                precision[-1] = prior.tie_sd**-2
        sway = spread * (self.basis[rows.first] - self.basis[rows.second])
        return Question(
            design=design,
            offset=np.zeros(design.shape[0]),
            answers=self._answers(rows.counts),
            precision=precision,
            centre=np.zeros(free),
            ties=self.ties,
            sway=sway if spread else np.zeros((design.shape[0], 0)),
            taster=rows.taster,
            alike=rows.alike,
        )

    def expected(self, theta: Array) -> Array:
        """Return the expected answers of every row: (3, m)."""
        odds = self.design @ theta[: self.design.shape[1]]
        tie = float(theta[-1]) if self.ties else -np.inf
        return np.asarray(answer_shares(odds, tie) * self.answers.sum(axis=0))

    def log_prior(self, ability: float) -> float:
        """Return the log prior of a spread of the coffees, with the abilities' constant.

        The density is that of the spread's power that is flat near zero.
        """
        return float(-self.basis.shape[1] * np.log(ability) - 0.5 * ability**2)
