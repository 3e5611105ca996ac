"""Mends: the repairs of single passages of single setups, found by inspection and kept with their reasons.

The one module that reads and writes them. A new mend of the same passage and setup replaces the one before.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from audio.giveaways.repair import propose
from audio.mend import Mend

from ..casebook import documents
from ..casebook.catalogue import Passage, Setup
from ..casebook.store import Casebook
from . import passage_audio
from .passage_audio import NO_MEND, Source
from .selection import Selection, check_recordings


@dataclass(frozen=True)
class PassageMend:
    """The mend of one passage of one setup, and why; `setup` and `passage` are the names."""

    setup_id: str
    setup: str
    passage_id: str
    passage: str
    mend: Mend
    why: str

    def to_document(self) -> dict[str, Any]:
        """The mend as the command line prints it."""
        names = {"setup": self.setup, "passage": self.passage, "why": self.why}
        mended: dict[str, Any] = documents.plain(self.mend)
        return names | mended


def mend(casebook: Casebook, selection: Selection, *, polarity: bool = False) -> list[PassageMend]:
    """Repair what can be repaired (offset, drift, length, rate; polarity on request), and keep what was done.

    Raises
    ------
    CatalogueError
        If a setup is real gear.
    """
    check_recordings(selection, "mending")
    found: list[PassageMend] = []
    for passage in selection.passages:
        sources = passage_audio.sources_of(casebook, selection.setups, passage.track_id)
        found += needed(passage, sources, in_force(casebook, selection.setups, passage), polarity=polarity)
    keep(casebook, found)
    return found


def needed(
    passage: Passage, sources: Sequence[Source], repairs: Mapping[str, Mend], *, polarity: bool = False
) -> list[PassageMend]:
    """The mends of a passage that go beyond those in force (`repairs`, by the setups' identifiers) and replace them."""
    findings = passage_audio.inspected(passage, sources, repairs, passage_audio.cut(sources, passage, repairs))
    setups = {source.setup.name: source.setup for source in sources}
    return [
        PassageMend(
            setup_id=setups[name].id,
            setup=name,
            passage_id=passage.id,
            passage=passage.name,
            mend=repairs.get(setups[name].id, NO_MEND).then(repair),
            why="; ".join(one.what for one in findings if one.setup == name and one.mend is not None),
        )
        for name, repair in propose(findings, polarity=polarity).items()
    ]


def keep(casebook: Casebook, found: Sequence[PassageMend]) -> None:
    """Keep mends, all or none of them."""
    with casebook.writing():
        for one in found:
            text = documents.text_of(documents.plain(one.mend), sort_keys=False)
            content = {"setup_id": one.setup_id, "passage_id": one.passage_id, "document": text, "why": one.why}
            casebook.append("mends", "mend", content)


def in_force(casebook: Casebook, setups: Sequence[Setup], passage: Passage) -> dict[str, Mend]:
    """The newest mend of a passage for each of the setups that has one, by the setups' identifiers."""
    rows = casebook.query("SELECT setup_id, document FROM mends WHERE passage_id = ? ORDER BY seq", [passage.id])
    kept = {row["setup_id"]: row["document"] for row in rows}
    return {setup.id: documents.from_text(kept[setup.id], Mend) for setup in setups if setup.id in kept}


def everything(casebook: Casebook) -> list[PassageMend]:
    """All mends ever made, the oldest first."""
    rows = casebook.query(
        """SELECT mends.*, setups.name AS setup, passages.name AS passage FROM mends JOIN setups ON setups.id = setup_id
           JOIN passages ON passages.id = passage_id ORDER BY mends.seq"""
    )
    return [documents.from_plain(row | {"mend": documents.value_of(row["document"])}, PassageMend) for row in rows]
