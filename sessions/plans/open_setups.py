"""Drafts of before a draft named its setups: which it can still be about, once there are more. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from ..casebook.catalogue import Setup
from .plan_rows import Wish


def to_name(wish: Wish, setups: Sequence[Setup]) -> tuple[Setup, ...]:
    """The setups that a wish is to name, of which it names none; none where it can take all there are.

    `setups` are those of the casebook, in the order they were added: the wish was about the first of them.
    """
    if wish.setups or len(setups) <= 2:
        return ()
    from .methods.table import METHODS  # it loads arithmetic: only where such a draft waits

    most = METHODS[wish.method].setups[1]
    return tuple(setups[:most]) if len(setups) > most else ()
