"""Renaming, editing and removing what is not sealed: what a change means for drafts and evidence, done in one write."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from shlex import quote
from typing import TypeVar

from ..casebook import catalogue, catalogue_changes, documents
from ..casebook.catalogue import Listener, Passage, Setup, Track
from ..casebook.near_names import unknown
from ..casebook.playback_chain import PlaybackChain
from ..casebook.store import Casebook
from ..errors import CatalogueError, PlanError
from . import dependents, drafting, plan_rows
from .dependents import Dependents
from .plan_rows import Draft

_ADDED: dict[type, str] = {
    Setup: "setup add NAME --from DIR",
    Passage: "passage add TRACK --from S --to S --name NAME",
    Listener: "listener add NAME",
}  # what adds a new one
Entry = TypeVar("Entry", Setup, Track, Passage, Listener)


def rename(casebook: Casebook, entry: Entry, new: str) -> list[str]:
    """Give an entry another name, and name it so in the drafts too; the names of those drafts.

    Raises
    ------
    CatalogueError
        If the name is taken or cannot be one, or a sealed plan names the entry.
    """
    table = catalogue.TABLES[type(entry)]
    if not isinstance(entry, Track):  # a plan names its tracks by identifier
        other = f"under another name it is a new one: earwitness {_ADDED[type(entry)]}"
        dependents.check_unsealed(casebook, entry, other)
    catalogue.check_free(casebook, type(entry), new)
    drafts: tuple[Draft, ...] = ()
    if not isinstance(entry, Track):
        drafts = dependents.naming(casebook, table, {entry.name})
    with casebook.writing():
        catalogue_changes.change(casebook, table, entry.id, {"name": new})
        for draft in drafts:
            wish = dependents.renamed(draft.wish, table, entry.name, new)
            plan_rows.rewrite_draft(casebook, replace(draft, wish=wish))
    return [draft.name for draft in drafts]


def rename_draft(casebook: Casebook, name: str, new: str) -> None:
    """Give a draft another name.

    Raises
    ------
    PlanError
        If there is no such draft, or the name is taken.
    """
    draft = unsealed(casebook, name)
    drafting.check_free(casebook, new)
    plan_rows.rewrite_draft(casebook, replace(draft, name=new))


def note(casebook: Casebook, entry: Entry, text: str) -> None:
    """Write an entry's note anew; nothing that is sealed holds it."""
    catalogue_changes.change(casebook, catalogue.TABLES[type(entry)], entry.id, {"note": text})


def check_chain_editable(casebook: Casebook, setup: Setup) -> PlaybackChain:
    """The chain of a real setup that may be changed.

    Raises
    ------
    CatalogueError
        If the setup plays recordings, or a sealed plan holds its chain.
    """
    if setup.chain is None:
        raise CatalogueError(
            f"setup {setup.name!r} is heard through recordings and has no route; real gear is a setup of its own: "
            "earwitness setup add NAME --route DEVICE:1,2"
        )
    dependents.check_unsealed(casebook, setup, "on another route it is a new setup: earwitness setup add")
    return setup.chain


def rechain(casebook: Casebook, setup: Setup, chain: PlaybackChain) -> None:
    """Write a real setup's chain anew; match sheets from before hold no more (see `evidence_in_force`)."""
    with casebook.writing():
        catalogue_changes.change(casebook, "chains", setup.id, {"document": documents.text_of(chain.to_document())})
        if chain.kind != setup.kind:
            catalogue_changes.change(casebook, "setups", setup.id, {"kind": chain.kind})


def recut(casebook: Casebook, passage: Passage, cut: Passage) -> None:
    """Put a passage in the place of another, under its name; the drafts that name it play the new one.

    It is a new passage with an identifier of its own, so that nothing that was found of the old stretch is taken for
    evidence of the new one.
    """
    found = dependents.of_passage(casebook, passage)
    with catalogue_changes.removing(casebook):
        for table, entry in found.entries:
            catalogue_changes.remove(casebook, table, entry)
        catalogue.keep(casebook, cut)


def remove(casebook: Casebook, found: Dependents) -> None:
    """Take an entry out of the catalogue with all that goes with it, at once or not at all."""
    with catalogue_changes.removing(casebook):
        for draft in found.drafts:
            casebook.delete_draft(draft.name)
        for table, entry in found.entries:
            catalogue_changes.remove(casebook, table, entry)


def passages_with(casebook: Casebook, draft: Draft, added: Collection[str]) -> tuple[str, ...]:
    """The passages that a draft plays, with some more; none named where it plays all of them.

    Raises
    ------
    CatalogueError
        If one is unknown.
    """
    new = [catalogue.find(casebook, Passage, name) for name in added]
    had = draft.wish.passages
    return (*had, *dict.fromkeys(one.name for one in new if not {one.id, one.name} & {*had})) if had else ()


def unsealed(casebook: Casebook, name: str) -> Draft:
    """The draft of that name (or identifier).

    Raises
    ------
    PlanError
        If there is none; a sealed plan is named as such.
    """
    found = plan_rows.draft(casebook, name)
    if found is not None:
        return found
    sealed = plan_rows.sealed(casebook, name)
    if sealed is not None:
        over = sealed.plan.id in {*plan_rows.openings(casebook), *plan_rows.given_up(casebook)}
        instead = (
            "a new question is a new plan"
            if over
            else f"given up, it is closed: earwitness plan close {quote(name)} --why TEXT"
        )
        raise PlanError(f"plan {sealed.plan.name!r} is {'over' if over else 'sealed'} and stays as it is; {instead}")
    raise PlanError(unknown("draft", name, plan_rows.draft_names(casebook)))
