"""The notes of a giveaway check: what it could not judge, or found that is no giveaway; those a plan stands on."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from ..casebook import catalogue_changes, documents
from ..casebook.store import Casebook
from .evidence_in_force import CheckSummary
from .plan import Plan


def about(notes: Iterable[str], passage: str, setups: Collection[str]) -> tuple[str, ...]:
    """Those of a check's notes that are about a passage and any of some setups, by the names they had then."""
    of_passage, own = f"passage {passage} ", f"{passage}: "
    return tuple(
        note
        for note in notes
        if note.startswith(of_passage) or (note.startswith(own) and any(name in note[len(own) :] for name in setups))
    )


def of_plan(casebook: Casebook, plan: Plan) -> list[str]:
    """The notes of the check that a plan names, as far as they are about what it plays."""
    rows = casebook.query("SELECT seq, document FROM checks WHERE hash = ?", [plan.document["giveaways"]["check"]])
    if not rows:
        return []
    notes = documents.from_text(rows[0]["document"], CheckSummary).notes
    if not notes:
        return []
    passages, setups = (catalogue_changes.names_then(casebook, part, rows[0]["seq"]) for part in ("passages", "setups"))
    names = [setups.get(setup.id, setup.name) for setup in plan.setups]
    own = [passages.get(passage.id, passage.name) for passage in plan.passages]
    return [note for passage in own for note in about(notes, passage, names)]


def sentences(casebook: Casebook, plan: Plan) -> list[str]:
    """The same as sentences beside a plan or a verdict."""
    return in_words(of_plan(casebook, plan))


def in_words(notes: Iterable[str]) -> list[str]:
    """Notes as sentences."""
    return [f"Noted by the giveaway check: {note}." for note in notes]
