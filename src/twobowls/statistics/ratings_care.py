"""Who marks carelessly, and how much less such marks should count.

The model holds every taster's slips to be of one size. A taster who marks at random then pulls
all coffees together, and the intervals promise too much. Here each taster's slips may be larger
by one of a few factors; steady tasters are held far likelier beforehand. A taster's weight is
the posterior mean of the precision of the slips, relative to that of a steady taster. Only slips
count: an opinion of one's own, held from round to round, is a taster's good right.

The factors are weighed one taster at a time, the others' weights and the deviations being held
where they are; then the deviations are found anew, until the weights stay (empirical Bayes: what
is left open about the weights does not widen the intervals).
"""

from dataclasses import dataclass

import numpy as np

from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.mixed_model_blocks import WORK_LIMIT
from twobowls.statistics.mixed_model_cells import Model
from twobowls.statistics.mixed_model_kernel import SMALLEST, Kernel
from twobowls.statistics.mixed_model_levels import Cells, weighted
from twobowls.statistics.mixed_model_terms import Term
from twobowls.statistics.ratings_integral import Posterior, find_mode
from twobowls.statistics.ratings_priors import DeviationPrior
from twobowls.statistics.ratings_terms import assemble

FACTORS = np.array([1.0, 1.4, 2.0, 2.8, 4.0])  # of the standard deviation of slips
PRECISIONS = FACTORS**-2.0
CARELESS = 0.10  # chance of all factors but one, before the marks are seen
LOG_PRIOR = np.log([1.0 - CARELESS, *[CARELESS / 4.0] * 4])
SUSPECT = 0.4  # a taster is left alone below this chance: a new fit would change little
MOST_TASTERS = 40  # in a larger panel one taster moves next to nothing
LOOKS = 3
FLOOR = 1e-10
SETTLED = 0.03  # of a weight


@dataclass(frozen=True, slots=True)
class Weighed:
    """A model whose careless marks count for less, with the peak of its posterior.

    ``weights`` (T,) are the tasters' weights, 1 for a steady one.
    """

    model: Model
    posterior: Posterior
    peak: tuple[FloatArray, FloatArray]
    weights: FloatArray


def weigh_cells(
    cells: Cells, terms: tuple[str, ...], width: float, slope: FloatArray | None = None
) -> Weighed:
    """Build a model with weak priors and settle its tasters' weights.

    Parameters
    ----------
    cells : Cells
        The marks.
    terms : tuple of str
        Random terms; the intercept is fixed.
    width : float
        Of the scale.
    slope : FloatArray or None
        (coffees,) numbers over which each taster has a slope, as a share of the width.
    """
    weights = np.ones(len(cells.factors["taster"].levels))
    found = _with_weights(cells, terms, width, weights, None, slope)
    if not 2 <= len(weights) <= MOST_TASTERS:
        return found
    parts = taster_parts(found.model)
    for _ in range(LOOKS):
        deviations = found.posterior.prior.deviations(found.peak[0][None]).values[0]
        chances = factor_chances(found.model, parts, deviations, found.weights)
        new = np.where(chances[:, 0] > 1.0 - SUSPECT, 1.0, chances @ PRECISIONS)
        if float(np.abs(new - found.weights).max()) < SETTLED:
            break
        found = _with_weights(cells, terms, width, new, found.peak[0], slope)
    return found


def _with_weights(
    cells: Cells,
    terms: tuple[str, ...],
    width: float,
    weights: FloatArray,
    start: FloatArray | None,
    slope: FloatArray | None,
) -> Weighed:
    if (weights < 1.0).any():
        cells = weighted(cells, weights[cells.factors["taster"].codes])
    model = assemble(cells, terms, (), slope)
    prior = DeviationPrior.for_terms(model.random_names, width)
    posterior = Posterior(Kernel(model, turned=True), prior, cells.rows)
    return Weighed(model, posterior, find_mode(posterior, start), weights)


@dataclass(frozen=True, slots=True)
class TasterParts:
    """Sums over each taster's own marks, all with weight one.

    ``dense`` (T, d, d) are cross-products of the crossed and fixed columns and the response,
    ``inner`` (T, q, q) and ``borders`` (T, q, d) those of the terms within tasters,
    ``term_of`` (T, q) the term of each place there, ``marks`` (T,) the numbers of marks.
    """

    dense: FloatArray
    inner: FloatArray
    borders: FloatArray
    term_of: IntArray
    marks: FloatArray


def taster_parts(model: Model) -> TasterParts:
    """Take the cross-products of a model apart by taster."""
    cells, blocks = model.cells, model.blocks
    taster = cells.factors["taster"]
    tasters = len(taster.levels)
    columns = np.concatenate([_indicators(term) for term in (*model.dense, *model.fixed)], axis=1)
    size = columns.shape[1]
    dense = np.zeros((tasters, size + 1, size + 1))
    for k in range(tasters):
        mine = np.flatnonzero(taster.codes == k)
        own = columns[mine]
        dense[k, :size, :size] = (own * cells.counts[mine, None]).T @ own
        dense[k, size, :size] = dense[k, :size, size] = cells.sums[mine] @ own
        dense[k, size, size] = cells.squares[mine].sum()
    marks = np.asarray(np.bincount(taster.codes, cells.counts, tasters), dtype=np.float64)
    if blocks is None:
        nothing = np.zeros((tasters, 0, size + 1))
        places = np.zeros((tasters, 0), dtype=np.intp)
        return TasterParts(dense, nothing[:, :, :0], nothing, places, marks)
    return TasterParts(dense, blocks.products, blocks.borders, blocks.term_of, marks)


def _indicators(term: Term) -> FloatArray:
    """Return a column of zeros and ones (cells, kept) for each kept place of a term."""
    column = np.full(term.grid, -1, dtype=np.intp)
    column[term.kept] = np.arange(len(term.kept))
    return np.asarray(column[term.codes][:, None] == np.arange(len(term.kept)), dtype=np.float64)


def factor_chances(
    model: Model, parts: TasterParts, deviations: FloatArray, weights: FloatArray
) -> FloatArray:
    """Return the probability (T, factors) of each of `FACTORS` for each taster.

    Parameters
    ----------
    model : Model
        The model, its only fixed column the intercept.
    parts : TasterParts
        Its sums by taster.
    deviations : FloatArray
        (terms + 1,) where they are held, the residual last.
    weights : FloatArray
        (T,) the tasters' present weights.
    """
    noise = deviations[-1] ** 2
    ratios = deviations[:-1] ** 2 / noise
    crossed = np.maximum(ratios[len(model.nested) :], SMALLEST)[model.term_of_crossed]
    within = np.append(ratios[: len(model.nested)], 0.0)[parts.term_of]  # padding: number -1
    tasters, width = len(weights), parts.dense.shape[1]
    system = np.zeros((width, width))
    corner = np.arange(len(crossed))
    system[corner, corner] = 1.0 / crossed
    system[-1, -1] = FLOOR * (1.0 + float(parts.dense[:, -1, -1].sum()))  # no remainder, no log
    step = max(1, WORK_LIMIT // (len(FACTORS) * (width + within.shape[1]) ** 2))
    chunks = [slice(start, start + step) for start in range(0, tasters, step)]
    for each in chunks:
        system += _eliminated(parts, within, each, weights[each, None])[0].sum(axis=(0, 1))
    logs = np.empty((tasters, len(FACTORS)))
    for each in chunks:
        tried = np.broadcast_to(PRECISIONS, (len(weights[each]), len(FACTORS)))
        present, _ = _eliminated(parts, within, each, weights[each, None])
        left, logdet = _eliminated(parts, within, each, tried)
        roots = np.diagonal(np.linalg.cholesky(system - present + left), axis1=2, axis2=3)
        deviance = 2.0 * np.log(roots[..., :-1]).sum(axis=2) + roots[..., -1] ** 2 / noise
        logs[each] = -0.5 * (deviance + logdet - parts.marks[each, None] * np.log(PRECISIONS))
    logs += LOG_PRIOR
    chances = np.exp(logs - logs.max(axis=1, keepdims=True))
    return np.asarray(chances / chances.sum(axis=1, keepdims=True))


def _eliminated(
    parts: TasterParts, ratios: FloatArray, which: slice, weights: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Cross-products (t, G, d, d) without the terms within tasters, and log-determinants (t, G).

    At G weights (t, G) for each of the chosen tasters.
    """
    root = np.sqrt(ratios[which])
    scaled = root[:, :, None] * parts.inner[which] * root[:, None, :]
    weight = weights[:, :, None, None]
    grown = weight * scaled[:, None] + np.eye(ratios.shape[1])
    border = weight * (root[:, :, None] * parts.borders[which])[:, None]
    taken = border.mT @ np.linalg.solve(grown, border)
    return weight * parts.dense[which, None] - taken, np.linalg.slogdet(grown)[1]
