"""What somebody may have meant by a name that is not there. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from . import name_rule

NEAR = 0.7  # of difflib's ratio, by trial: a letter lost, doubled or swapped passes, another word does not
MOST_LISTED = 12  # more names than that are no help in one line


def unknown(what: str, name: str, names: Sequence[str], where: str = "") -> str:
    """That there is no such thing, what was probably meant, and what there is.

    >>> unknown("setup", "salow", ["bracken", "sallow"])
    "no setup called 'salow'; did you mean 'sallow'? There are: bracken, sallow"
    """
    near = meant(name, names)
    listed = ", ".join(names[:MOST_LISTED]) + (
        f" and {len(names) - MOST_LISTED} more" if len(names) > MOST_LISTED else ""
    )
    there = f"here are: {listed}" if names else "here are none yet"
    return f"no {what} called {name_rule.shown(name)}{where}; " + (
        f"did you mean {near!r}? T{there}" if near else f"t{there}"
    )


def meant(name: str, names: Sequence[str]) -> str | None:
    """The name that is nearest to what was typed, capitals aside; None where none is near."""
    from difflib import get_close_matches

    folded = {one.casefold(): one for one in reversed(names)}
    near = get_close_matches(name.casefold(), folded, n=1, cutoff=NEAR)
    return folded[near[0]] if near else None
