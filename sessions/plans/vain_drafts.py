"""Whether a draft has too few trials to show anything, by its wish alone. Pure: no evidence is read for it."""

from __future__ import annotations

from ..errors import PlanError
from . import planned_test
from .plan_rows import Wish


def shows_nothing(wish: Wish, setups: int) -> bool:
    """Whether alpha is out of reach of a wish's own number of trials, for so many setups.

    Where nobody gave a number, as many are taken as can show something; a wish that cannot be is refused elsewhere.
    """
    if wish.trials is None:
        return False
    from . import drafting  # it loads arithmetic: only where a draft waits
    from .methods.table import METHODS

    method = METHODS[wish.method].asked(rated=wish.rated)
    if method.asks_words:
        method = method.with_words(wish.words).with_labels(setups, ties=False)
    try:
        numbers = drafting.checked_numbers(method, wish, wish.trials, len(wish.listeners))
    except PlanError:
        return False
    sizes = {"trials": wish.trials, "listeners": wish.listeners, "setups": range(setups)}
    return planned_test.shows_nothing(method, sizes | planned_test.stated(method, numbers, setups))
