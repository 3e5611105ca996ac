"""What comes after a draft was shown: its seal, or what helps first."""

from __future__ import annotations

from collections.abc import Sequence
from shlex import quote

from ..plans import planned_test
from ..plans.plan import Plan
from .context import say


def tell_further(made: Plan, hint: str, ways: Sequence[str]) -> None:
    """What comes after a draft was shown: its seal or, where it would be void or can show nothing, what helps first.

    `ways` are those out of being void (see `plans.ways_out`); none where it would not be.
    """
    name = quote(made.name)
    if ways:
        say(f"Nothing is fixed yet, and as it is it would be void. {'; '.join(ways)}")
    elif planned_test.shows_nothing(made.method, made.document):
        say(
            f"Nothing is fixed yet, and as it is it can show nothing. With as many trials as that takes (N): "
            f"{hint} edit draft {name} --trials N"
        )
    else:
        say(f"Nothing is fixed yet. Seal it: {hint} seal {name}")
