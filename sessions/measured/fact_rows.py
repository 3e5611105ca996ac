"""What makers state of setups, and where it was read: the rows of the casebook. All of their SQL is here.

A later statement of the same thing stands for the earlier one; one without a value says that it no longer counts. Both
stay on record.
"""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from shlex import quote

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError

TAKEN_BACK = "taken back"  # where no source is said of what no longer counts


@dataclass(frozen=True)
class Fact:
    """What a maker states: of what, its value as it was written, where it was read, and when it was noted."""

    what: str
    value: str
    source: str
    at: str


def keep(casebook: Casebook, setup: Setup, what: str, value: str, source: str) -> Fact:
    """Keep a statement; without a value, that the one before no longer counts.

    Raises
    ------
    CatalogueError
        If it is not said of what, or of a value where it was read, or nothing was stated that could no longer count.
    """
    what, value, source = " ".join(what.split()), value.strip(), source.strip()
    if not what:
        raise CatalogueError("say what the maker states, such as 'nominal impedance' or 'weight'")
    if value and not source:
        raise CatalogueError("a maker's statement is kept with where it was read: --read-in 'data sheet, May 2026'")
    kept = [fact.what for fact in of_setup(casebook, setup)]
    if not value and what not in kept:
        near = get_close_matches(what, kept, 1)
        hint = f"did you mean {near[0]!r}?" if near else f"see earwitness setup fact {quote(setup.name)}"
        raise CatalogueError(f"nothing is kept of the {what} of {setup.name!r}; {hint}")
    row = casebook.append(
        "facts", "fact", {"setup_id": setup.id, "what": what, "value": value, "source": source or TAKEN_BACK}
    )
    return Fact(what, value, source, row["at"])


def of_setup(casebook: Casebook, setup: Setup) -> list[Fact]:
    """The newest statement of each thing, in the order in which they were first made; what no longer counts is out."""
    rows = casebook.query("SELECT what, value, source, at FROM facts WHERE setup_id = ? ORDER BY seq", [setup.id])
    newest = {row["what"]: Fact(**row) for row in rows}
    return [fact for fact in newest.values() if fact.value]
