"""The catalogue against the sealed documents: names, kinds, playback chains, cuts and files as plans and sheets say.

Pure: rows in, findings out. It is what holds the catalogue of a casebook older than the chain's marks of it, and it
compares each document with the entries as they stood when it was written, so that a later change of a name is no fault.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from ..casebook import documents
from ..casebook.catalogue_marks import MarkedCatalogue, label
from ..casebook.store import Row
from ..plans.plan import Plan
from ..preparation import match_sheet


class Witness:
    """One sealed document and the catalogue as it stood then: says where the two differ."""

    def __init__(self, catalogue: MarkedCatalogue, seq: int, called: str) -> None:
        self._catalogue, self._seq, self._called = catalogue, seq, called

    def entry(self, part: str, identifier: str) -> Mapping[str, Any]:
        """An entry as it stood then; empty where there is none."""
        return self._catalogue.as_of(part, identifier, self._seq) or {}

    def compare(self, part: str, identifier: str, **stated: object) -> Iterator[tuple[str, str]]:
        """What differs of an entry, each with what it is about, so that it is told once."""
        entry = self.entry(part, identifier)
        if not entry:
            named = label(part, identifier, stated)
            yield f"{part} {identifier}", f"{named} is in {self._called} and missing from the catalogue"
            return
        for column, value in stated.items():
            if entry.get(column) != value:
                what = f"{column} is {_short(entry.get(column))} in the catalogue and {_short(value)} in {self._called}"
                yield f"{part} {identifier} {column}", f"{label(part, identifier, entry)}: {what}"

    def compare_source(self, setup: str, track: str, sha256: str) -> Iterator[tuple[str, str]]:
        """Whether the file that a sheet was made from is the one in the catalogue: a recording, or a track's music."""
        real = self.entry("setups", setup).get("kind", "files") != "files"
        part = "sources" if real else "recordings"
        own = {"track_id": track} if real else {"track_id": track, "setup_id": setup}
        for identifier in self._catalogue.identifiers(part):
            entry = self.entry(part, identifier)
            if all(entry.get(column) == value for column, value in own.items()):
                yield from self.compare(part, identifier, sha256=sha256)
                return
        name = self.entry("setups", setup).get("name", setup)
        what = f"the file of {name} with the hash {sha256[:16]}… is in {self._called} and missing from the catalogue"
        yield f"{part} {setup} {track}", what


def faults(catalogue: MarkedCatalogue, rows: Mapping[str, Sequence[Row]], plans: Mapping[str, Plan]) -> list[str]:
    """Where the catalogue is not what the sealed plans and match sheets say, each once.

    Parameters
    ----------
    plans
        The plans, by identifier, that were read already.
    """
    found: dict[str, str] = {}
    for row in rows["plans"]:
        witness = Witness(catalogue, row["seq"], f"plan {row['name']}")
        for about, what in _of_plan(witness, plans.get(row["id"]) or Plan.from_text(row["document"])):
            found.setdefault(about, what)
    for number, row in enumerate(rows["match_sheets"], start=1):
        for about, what in _of_sheet(Witness(catalogue, row["seq"], f"match sheet {number}"), row["document"]):
            found.setdefault(about, what)
    return list(found.values())


def _of_plan(witness: Witness, plan: Plan) -> Iterator[tuple[str, str]]:
    for setup in plan.setups:
        yield from witness.compare("setups", setup.id, name=setup.name, kind=setup.kind)
    for listener in plan.listeners:
        yield from witness.compare("listeners", listener.id, name=listener.name)
    for stated in plan.document["setups"]:
        kept = witness.entry("chains", stated["setup"]).get("document")
        if (documents.value_of(kept) if kept else None) != stated.get("chain"):
            name = f"the playback chain of {stated['name']}"
            yield f"chains {stated['setup']}", f"{name} is another in the catalogue than in plan {plan.name}"
    for part in plan.document["passages"]:
        cut = {column: part["cut"][column] for column in ("start_frame", "frames", "rate_hz")}
        yield from witness.compare("passages", part["passage"], name=part["name"], track_id=part["track"], **cut)


def _of_sheet(witness: Witness, document: str) -> Iterator[tuple[str, str]]:
    for matched in match_sheet.from_text(document).passages:
        yield from witness.compare("passages", matched.prepared.passage, name=matched.passage)
        for setup in matched.setups:
            yield from witness.compare("setups", setup.id, name=setup.setup)
        track = witness.entry("passages", matched.prepared.passage).get("track_id", "")
        for file in matched.prepared.setups:
            yield from witness.compare_source(file.setup, track, file.source)


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 40 else f"{text[:30]}…"
