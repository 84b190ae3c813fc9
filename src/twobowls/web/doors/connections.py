"""How many connections are open, by address: one caller must not hold them all. Pure."""

from collections import Counter
from dataclasses import dataclass, field


@dataclass(slots=True)
class Connections:
    """How many connections are open, by address and in all.

    Parameters
    ----------
    each, together : int
        How many one address, and all addresses, may have at once.

    Examples
    --------
    >>> counted = Connections(each=2, together=3)
    >>> [counted.enter(each) for each in ("a", "a", "a", "b", "c")]
    [True, True, False, True, False]
    >>> counted.leave("a")
    >>> counted.enter("c")
    True
    """

    each: int
    together: int
    _open: Counter[str] = field(default_factory=Counter)

    def enter(self, address: str) -> bool:
        """Count a connection, if there is room for it."""
        if self._open[address] >= self.each or self._open.total() >= self.together:
            return False
        self._open[address] += 1
        return True

    def leave(self, address: str) -> None:
        """Forget a connection that was counted."""
        self._open[address] -= 1
        if self._open[address] <= 0:
            del self._open[address]
