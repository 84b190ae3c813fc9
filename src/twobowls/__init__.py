"""twobowls: taste coffees side by side, and know which differences are real.

In a notebook, ``import twobowls`` offers the calls below; each takes a data frame of any
library (or a dict of lists), shows sentences, pictures and tables, and gives tidy frames back.
They are loaded when they are first used, so that the import itself costs nothing.
"""

from importlib import import_module
from typing import TYPE_CHECKING

__version__ = "0.1.0"

if TYPE_CHECKING:
    from twobowls.errors import InputError, TwobowlsError
    from twobowls.notebook.agreement import agreement
    from twobowls.notebook.categories import categories
    from twobowls.notebook.designs import blocks, serving_orders
    from twobowls.notebook.discrimination import discrimination, similarity
    from twobowls.notebook.picks import picks
    from twobowls.notebook.plan import cooling, plan_tasting
    from twobowls.notebook.power import power
    from twobowls.notebook.preference import a_not_a, preference
    from twobowls.notebook.ranks import ranks
    from twobowls.notebook.ratings import ratings
    from twobowls.notebook.result import Result
    from twobowls.notebook.stretch import stretch
    from twobowls.notebook.taster_skill import taster_skill
    from twobowls.notebook.threshold import threshold
    from twobowls.notebook.words import words

__all__ = [
    "InputError",
    "Result",
    "TwobowlsError",
    "a_not_a",
    "agreement",
    "blocks",
    "categories",
    "cooling",
    "discrimination",
    "picks",
    "plan_tasting",
    "power",
    "preference",
    "ranks",
    "ratings",
    "serving_orders",
    "similarity",
    "stretch",
    "taster_skill",
    "threshold",
    "words",
]

_HOMES = {
    "InputError": "errors",
    "TwobowlsError": "errors",
    "Result": "notebook.result",
    "a_not_a": "notebook.preference",
    "agreement": "notebook.agreement",
    "blocks": "notebook.designs",
    "categories": "notebook.categories",
    "cooling": "notebook.plan",
    "discrimination": "notebook.discrimination",
    "picks": "notebook.picks",
    "plan_tasting": "notebook.plan",
    "power": "notebook.power",
    "preference": "notebook.preference",
    "ranks": "notebook.ranks",
    "ratings": "notebook.ratings",
    "serving_orders": "notebook.designs",
    "similarity": "notebook.discrimination",
    "stretch": "notebook.stretch",
    "taster_skill": "notebook.taster_skill",
    "threshold": "notebook.threshold",
    "words": "notebook.words",
}


if not TYPE_CHECKING:  # type checkers go by the imports above, and so find misspelt names

    def __getattr__(name: str) -> object:
        if name not in _HOMES:
            raise AttributeError(f"module 'twobowls' has no attribute {name!r}")
        found: object = getattr(import_module(f"twobowls.{_HOMES[name]}"), name)
        globals()[name] = found
        return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
