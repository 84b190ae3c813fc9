"""How much likelier a table's marks become when one taster's slips are held to be larger.

Knows sums by taster and variances; who is suspected, and what follows, is in `ratings_care`.
"""

from dataclasses import dataclass

import numpy as np

from twobowls.statistics.arrays import FloatArray, IntArray
from twobowls.statistics.mixed_model_blocks import WORK_LIMIT
from twobowls.statistics.mixed_model_cells import Model
from twobowls.statistics.mixed_model_kernel import SMALLEST
from twobowls.statistics.mixed_model_terms import Term

FLOOR = 1e-10


@dataclass(frozen=True, slots=True)
class TasterParts:
    """Sums over each taster's own marks, all with weight one.

    ``dense`` (T, d, d) are cross-products of the crossed and fixed columns and the response,
    ``inner`` (T, q, q) and ``borders`` (T, q, d) those of the terms within tasters,
    ``term_of`` (T, q) the term of each place there, ``marks`` (T,) the numbers of marks.
    ``design`` (T,) numbers the tasters that have both in common, ``first`` (designs,) is the
    first of each.
    """

    dense: FloatArray
    inner: FloatArray
    borders: FloatArray
    term_of: IntArray
    marks: FloatArray
    design: IntArray
    first: IntArray


def taster_parts(model: Model) -> TasterParts:
    """Take the cross-products of a model apart by taster."""
    cells, blocks = model.cells, model.blocks
    taster = cells.factors["taster"]
    tasters = len(taster.levels)
    columns = np.concatenate([_indicators(term) for term in (*model.dense, *model.fixed)], axis=1)
    size = columns.shape[1]
    dense = np.zeros((tasters, size + 1, size + 1))
    order = np.argsort(taster.codes, kind="stable")
    ends = np.cumsum(np.bincount(taster.codes, minlength=tasters))
    for k, mine in enumerate(np.split(order, ends[:-1])):
        own = columns[mine]
        dense[k, :size, :size] = (own * cells.counts[mine, None]).T @ own
        dense[k, size, :size] = dense[k, :size, size] = cells.sums[mine] @ own
        dense[k, size, size] = cells.squares[mine].sum()
    marks = np.asarray(np.bincount(taster.codes, cells.counts, tasters), dtype=np.float64)
    if blocks is None:
        nothing = np.zeros((tasters, 0, size + 1))
        places = np.zeros((tasters, 0), dtype=np.intp)
        lone = np.zeros(tasters, dtype=np.intp)
        return TasterParts(dense, nothing[:, :, :0], nothing, places, marks, lone, lone[:1])
    known: dict[bytes, int] = {}
    keys = (a.tobytes() + b.tobytes() for a, b in zip(blocks.products, blocks.term_of, strict=True))
    design = np.array([known.setdefault(key, len(known)) for key in keys], dtype=np.intp)
    first = np.unique(design, return_index=True)[1].astype(np.intp)
    return TasterParts(dense, blocks.products, blocks.borders, blocks.term_of, marks, design, first)


def _indicators(term: Term) -> FloatArray:
    """Return a column of zeros and ones (cells, kept) for each kept place of a term."""
    column = np.full(term.grid, -1, dtype=np.intp)
    column[term.kept] = np.arange(len(term.kept))
    return np.asarray(column[term.codes][:, None] == np.arange(len(term.kept)), dtype=np.float64)


def careless_gains(
    model: Model,
    parts: TasterParts,
    deviations: FloatArray,
    weights: FloatArray,
    factor: float,
) -> FloatArray:
    """Return by how much the log-likelihood (T,) is higher with one taster careless than steady.

    Parameters
    ----------
    model : Model
        The model, its only fixed column the intercept.
    parts : TasterParts
        Its sums by taster.
    deviations : FloatArray
        (terms + 1,) where they are held, the residual last.
    weights : FloatArray
        (T,) the tasters' present weights, which all the others keep.
    factor : float
        How much larger the standard deviation of a careless taster's slips is.
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
    step = max(1, WORK_LIMIT // (3 * (width + within.shape[1]) ** 2))
    chunks = [slice(start, start + step) for start in range(0, tasters, step)]
    tried = np.column_stack([weights, np.ones(tasters), np.full(tasters, factor**-2.0)])
    for each in chunks:
        system += _eliminated(parts, within, each, tried[each, :1])[0].sum(axis=(0, 1))
    logs = np.empty((tasters, 2))
    for each in chunks:
        left, logdet = _eliminated(parts, within, each, tried[each])
        whole = system - left[:, :1] + left[:, 1:]
        roots = np.diagonal(np.linalg.cholesky(whole), axis1=2, axis2=3)
        deviance = 2.0 * np.log(roots[..., :-1]).sum(axis=2) + roots[..., -1] ** 2 / noise
        marks = parts.marks[each, None] * np.log(tried[each, 1:])
        logs[each] = -0.5 * (deviance + logdet[:, 1:] - marks)
    return np.asarray(logs[:, 1] - logs[:, 0])


def _eliminated(
    parts: TasterParts, ratios: FloatArray, which: slice, weights: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Cross-products (t, G, d, d) without the terms within tasters, and log-determinants (t, G).

    At G weights (t, G) for each of the chosen tasters.
    """
    designs, design = np.unique(parts.design[which], return_inverse=True)
    first = parts.first[designs]
    root = np.sqrt(ratios[first])
    scaled = root[:, :, None] * parts.inner[first] * root[:, None, :]
    values, own = np.unique(weights, return_inverse=True)
    if len(values) * len(scaled) < weights.size:
        grown, rows = values[:, None, None] * scaled[:, None], design[:, None]
    else:
        grown, rows = weights[:, :, None, None] * scaled[design, None], None
    grown = grown + np.eye(ratios.shape[1])
    inverse, logdet = np.linalg.inv(grown), np.linalg.slogdet(grown)[1]
    if rows is not None:
        place = own.reshape(weights.shape)
        inverse, logdet = inverse[rows, place], logdet[rows, place]
    weight = weights[:, :, None, None]
    border = weight * (np.sqrt(ratios[which])[:, :, None] * parts.borders[which])[:, None]
    return weight * parts.dense[which, None] - border.mT @ (inverse @ border), logdet
