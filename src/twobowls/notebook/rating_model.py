"""What the calls on ratings are told of their model: prior, terms, level, and which scale."""

from collections.abc import Sequence

from twobowls.debrief.analysis import Model
from twobowls.debrief.rating_table import Scale
from twobowls.errors import InputError
from twobowls.notebook.names import listed
from twobowls.statistics.inputs import between, one_of


def model_of(
    prior: str, random: Sequence[str] | None, fixed: Sequence[str] | None, level: float
) -> Model:
    """Return the model as asked for.

    Raises
    ------
    InputError
        When the prior is not known, a term is no name, or the level is no share.
    """
    one_of("prior", prior, ("weak", "flat"))
    return Model(
        prior="flat" if prior == "flat" else "weak",
        random=name_list("random", random),
        fixed=name_list("fixed", fixed),
        level=between("level", level, 0, 1),
    )


def scale_of(name: str) -> Scale:
    """Return which scale the columns of a wide frame hold."""
    one_of("wide_scale", name, ("intensity", "liking"))
    return "liking" if name == "liking" else "intensity"


def name_list(field: str, names: Sequence[str] | None) -> tuple[str, ...] | None:
    """Take a list of names; one alone may come without its list.

    Examples
    --------
    >>> name_list("random", "taster"), name_list("random", None)
    (('taster',), None)
    """
    if names is None:
        return None
    cure = 'Write it as ["a", "b"]'
    several = (names,) if isinstance(names, str) else tuple(listed(field, names, cure))
    if not all(isinstance(each, str) and each.strip() for each in several):
        raise InputError(field, f"{names!r} is not a list of names", cure)
    return several


def terms_of(model: Model) -> frozenset[str]:
    """Return the columns that the terms of a model are made of."""
    terms = (*(model.random or ()), *(model.fixed or ()))
    return frozenset(part for term in terms for part in term.split(":"))
