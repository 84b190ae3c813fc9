"""One seat for one form, however often it is sent.

On a poor network the answer to "Sit down" may get lost, or take so long that the button is pressed
again. The form carries a ticket; the same form sent again leads to the seat that it got.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import Future

MOST_KEPT = 2000


class Tickets:
    """What each form of late has led to; any thread may ask.

    Examples
    --------
    >>> tickets, seats = Tickets(), iter(["first", "second", "third"])
    >>> [tickets.once(form, lambda: next(seats)) for form in ("a", "a", "b", "a")]
    ['first', 'first', 'second', 'first']
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._led_to: OrderedDict[Hashable, Future[str]] = OrderedDict()

    def once(self, form: Hashable, do: Callable[[], str]) -> str:
        """Do it, unless this form has had it done or has it at work; return what came of it."""
        with self._lock:
            known = self._led_to.get(form)
            future = self._led_to.setdefault(form, Future())
            if len(self._led_to) > MOST_KEPT:
                self._led_to.popitem(last=False)
        if known is None:
            try:
                future.set_result(do())
            except Exception as error:  # noqa: BLE001 - whoever waits must hear of it
                with self._lock:  # what was refused may be tried again
                    self._led_to.pop(form, None)
                future.set_exception(error)
        return future.result()
