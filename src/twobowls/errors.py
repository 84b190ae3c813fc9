"""The one family of errors: what was wrong, where, and what to do about it.

Every message is a sentence for the person at the table; shells show it as it is.
"""


class TwobowlsError(Exception):
    """Base of every error that twobowls raises on purpose."""


class InputError(TwobowlsError):
    """Something that was typed, chosen or read cannot be used.

    Parameters
    ----------
    field : str
        What the value is called where it was given: a form field, a column, an option.
    problem : str
        What is wrong with it, the value included.
    cure : str
        What to do, as an instruction.
    row : int or None
        The line of a file, counted from 1 with the header, where there is one.

    Examples
    --------
    >>> str(InputError("seats", "0 is too few", "Give a whole number from 1 to 300"))
    'seats: 0 is too few. Give a whole number from 1 to 300.'
    """

    def __init__(self, field: str, problem: str, cure: str, row: int | None = None) -> None:
        super().__init__(field, problem, cure, row)
        self.field = field
        self.problem = problem
        self.cure = cure
        self.row = row

    def __str__(self) -> str:
        """Return the message as one or two sentences."""
        where = self.field if self.row is None else f"row {self.row}, {self.field}"
        return f"{where}: {self.problem}. {self.cure}."


class NotFoundError(TwobowlsError):
    """There is no such coffee, tasting, seat or bowl."""


class StateError(TwobowlsError):
    """The tasting is at a point where this cannot be done (closed, not yet open, ...)."""


class ConflictError(TwobowlsError):
    """The same name or id is already in use for something else."""


class StoreError(TwobowlsError):
    """The file that holds the tastings cannot be opened, read or written.

    Parameters
    ----------
    path : str
        The file.
    problem : str
        What is wrong.
    cure : str
        What to do, as an instruction.

    Examples
    --------
    >>> str(StoreError("a.sqlite3", "the disk is full", "Free some space and try again"))
    'a.sqlite3: the disk is full. Free some space and try again.'
    """

    def __init__(self, path: str, problem: str, cure: str) -> None:
        super().__init__(path, problem, cure)
        self.path = path
        self.problem = problem
        self.cure = cure

    def __str__(self) -> str:
        """Return the message as two sentences."""
        return f"{self.path}: {self.problem}. {self.cure}."
