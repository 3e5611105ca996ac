"""The figure of the maker's facts: what is stated, what was measured, what follows. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from audio.curves import statement_table

from ..makers_facts import CheckedFact
from .figure import Subject


@dataclass(frozen=True, eq=False)
class FactsFigure:
    """A maker's facts, each beside what was measured of it."""

    name: str
    facts: Sequence[CheckedFact]

    def to_document(self) -> dict[str, Any]:
        """The facts in the order in which they were first kept."""
        return {"facts": [one.to_document() for one in self.facts]}

    def drawn(self) -> Any:
        """One row a fact."""
        rows = [
            (f"{one.fact.what}: {one.fact.value}", one.fact.source, one.measured, one.outcome) for one in self.facts
        ]
        headings = ("the maker states", "read in", "measured", "outcome")
        return statement_table.statements(headings, rows, title=f"{self.name}: stated and measured", spare=(1,))


def facts(found: Sequence[CheckedFact], subject: Subject) -> FactsFigure:
    """The maker's facts."""
    return FactsFigure(subject.name, found)
