"""What hangs on an entry of the catalogue: what forbids to remove it, what goes with it, which drafts name it.

It reads only. Sealed plans, words, curves and sessions are evidence and stay; match sheets, checks and mends stay in
the record too, but count no more where what they are about is gone.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from shlex import quote
from typing import Any

from ..casebook import catalogue
from ..casebook.catalogue import Listener, Passage, Setup, Track
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import evidence_in_force, plan_rows
from .plan import Plan
from .plan_parts import PlannedListener, PlannedPassage, PlannedSetup
from .plan_rows import Draft, Wish


@dataclass(frozen=True)
class Dependents:
    """What goes with an entry.

    Attributes
    ----------
    entries
        The catalogue's entries that are removed, by table and identifier, in the order in which they can be.
    named
        What else goes or counts no more, in words.
    drafts
        The drafts that name it.
    """

    entries: tuple[tuple[str, str], ...]
    named: tuple[str, ...] = ()
    drafts: tuple[Draft, ...] = ()

    @property
    def sentences(self) -> list[str]:
        """All that goes with it, in words."""
        return [*self.named, *(f"draft {draft.name!r}, which names it" for draft in self.drafts)]


def of_setup(casebook: Casebook, setup: Setup) -> Dependents:
    """What goes with a setup.

    Raises
    ------
    CatalogueError
        If a sealed plan names it, or words or curves are of it, or somebody heard it freely.
    """
    check_unsealed(casebook, setup, "leave it out of new plans by naming the others with --setup")
    parts = {"words": "words", "curves": "curves", "free_auditions": "free auditions", "thresholds": "thresholds"}
    _check_unsaid(casebook, setup, parts, "setup_id")
    rows = casebook.query(
        "SELECT recordings.id, tracks.name FROM recordings JOIN tracks ON tracks.id = track_id "
        "WHERE setup_id = ? ORDER BY tracks.name",
        [setup.id],
    )
    entries = [("recordings", row["id"]) for row in rows]
    entries += [("chains", setup.id)] if setup.chain else []
    named = [f"its recordings of {', '.join(row['name'] for row in rows)} (the files stay)"] if rows else []
    return Dependents(
        (*entries, ("setups", setup.id)),
        (*named, *evidence_of(casebook, {setup.id}, None)),
        naming(casebook, "setups", {setup.id, setup.name}),
    )


def of_track(casebook: Casebook, track: Track) -> Dependents:
    """What goes with a track.

    Raises
    ------
    CatalogueError
        If a passage of it is in a sealed plan, or words are of it, or somebody heard it freely.
    """
    passages = [one for one in catalogue.everything(casebook, Passage) if one.track_id == track.id]
    for passage in passages:
        check_unsealed(casebook, passage, f"its track {track.name!r} stays with it")
    _check_unsaid(casebook, track, {"words": "words", "free_auditions": "free auditions"}, "track_id")
    entries: list[tuple[str, str]] = []
    named = []
    for table, what in (("recordings", "recordings"), ("sources", "the music itself")):
        rows = casebook.query(f"SELECT id FROM {table} WHERE track_id = ?", [track.id])
        entries += [(table, row["id"]) for row in rows]
        own = "its 1 recording (the file stays)" if len(rows) == 1 else f"its {len(rows)} {what} (the files stay)"
        named += [own if table == "recordings" else what] if rows else []
    named += [f"its passages {', '.join(one.name for one in passages)}"] if passages else []
    entries += [("passages", one.id) for one in passages]
    drafts = naming(casebook, "passages", {name for one in passages for name in (one.id, one.name)})
    named += evidence_of(casebook, None, {one.id for one in passages})
    return Dependents((*entries, ("tracks", track.id)), tuple(named), drafts)


def of_passage(casebook: Casebook, passage: Passage) -> Dependents:
    """What goes with a passage.

    Raises
    ------
    CatalogueError
        If a sealed plan names it.
    """
    check_unsealed(casebook, passage, "leave it out of new plans by naming the others with --passage")
    drafts = naming(casebook, "passages", {passage.id, passage.name})
    return Dependents((("passages", passage.id),), tuple(evidence_of(casebook, None, {passage.id})), drafts)


def of_listener(casebook: Casebook, listener: Listener) -> Dependents:
    """What goes with a listener.

    Raises
    ------
    CatalogueError
        If a sealed plan names them, or they logged words, listened or heard a dose.
    """
    check_unsealed(casebook, listener, "leave them out of new plans")
    parts = {"words": "words", "sessions": "sessions", "exposures": "noted doses"}
    _check_unsaid(casebook, listener, parts, "listener_id")
    return Dependents((("listeners", listener.id),), (), naming(casebook, "listeners", {listener.id, listener.name}))


def of_recording(casebook: Casebook, setup: Setup | None, track: Track) -> Dependents:
    """What goes with a setup's recording of a track, or (without a setup) with the music itself.

    Raises
    ------
    CatalogueError
        If there is none, or a sealed plan plays what was made of it.
    """
    table = "sources" if setup is None else "recordings"
    where, of = ("", []) if setup is None else (" AND setup_id = ?", [setup.id])
    rows = casebook.query(f"SELECT id FROM {table} WHERE track_id = ?{where}", [track.id, *of])
    if not rows:
        whose = "has no music of its own" if setup is None else f"has no recording of setup {setup.name!r}"
        raise CatalogueError(f"track {track.name!r} {whose}; see earwitness track show {quote(track.name)}")
    plays = [plan for plan in _sealed(casebook) if _plays(plan, setup, track)]
    if plays:
        raise CatalogueError(
            f"the sealed plan {plays[0].name!r} plays what was made of this file, and its evidence stays; add the new "
            f"file as another {'track' if setup is None else 'setup'}"
        )
    passages = {one.id for one in catalogue.everything(casebook, Passage) if one.track_id == track.id}
    return Dependents(
        ((table, rows[0]["id"]),), tuple(evidence_of(casebook, None if setup is None else {setup.id}, passages))
    )


def check_unsealed(casebook: Casebook, entry: Setup | Passage | Listener, instead: str) -> None:
    """Nothing, if no sealed plan names the entry.

    Raises
    ------
    CatalogueError
        If one does; `instead` says what can be done.
    """
    closed = {*plan_rows.openings(casebook), *plan_rows.given_up(casebook)}
    for plan in _sealed(casebook):
        parts: tuple[PlannedSetup | PlannedPassage | PlannedListener, ...] = plan.setups
        if not isinstance(entry, Setup):
            parts = plan.passages if isinstance(entry, Passage) else plan.listeners
        if any(part.id == entry.id for part in parts):
            what = type(entry).__name__.lower()
            though = (
                f"; {instead}; a plan that is given up is closed: earwitness plan close {quote(plan.name)} --why TEXT"
            )
            if plan.id in closed:
                though = f", though that is over, since its record names it; {instead}"
            raise CatalogueError(
                f"{what} {entry.name!r} stands in the sealed plan {plan.name!r} and stays as it is{though}"
            )


def naming(casebook: Casebook, part: str, names: Collection[str]) -> tuple[Draft, ...]:
    """The drafts that name one of these, by name or identifier; `part` is setups, passages or listeners."""
    return tuple(one for one in plan_rows.every_draft(casebook) if not set(getattr(one.wish, part)).isdisjoint(names))


def renamed(wish: Wish, part: str, old: str, new: str) -> Wish:
    """A wish in which a setup, passage or listener (and operator) has its new name."""
    names: dict[str, Any] = {part: tuple(new if name == old else name for name in getattr(wish, part))}
    if part == "listeners" and wish.operator == old:
        names["operator"] = new
    return replace(wish, **names)


def _sealed(casebook: Casebook) -> list[Plan]:
    return [one.plan for one in plan_rows.every_sealed(casebook)]


def _plays(plan: Plan, setup: Setup | None, track: Track) -> bool:
    by_music = any(one.chain is not None for one in plan.setups)
    own = by_music if setup is None else any(one.id == setup.id for one in plan.setups)
    return own and any(passage.track_id == track.id for passage in plan.passages)


def _check_unsaid(casebook: Casebook, entry: Setup | Track | Listener, tables: dict[str, str], column: str) -> None:
    what = type(entry).__name__.lower()
    for table, rows in tables.items():
        count = casebook.query(f"SELECT count(*) AS n FROM {table} WHERE {column} = ?", [entry.id])[0]["n"]
        if count:
            raise CatalogueError(
                f"{what} {entry.name!r} has {count} {rows[:-1] if count == 1 else rows}, and what was said or measured "
                f"stays; give it another name instead: earwitness rename {what} {quote(entry.name)} NAME"
            )


def evidence_of(casebook: Casebook, setups: Collection[str] | None, passages: Collection[str] | None) -> list[str]:
    """The match sheets, checks and mends of what is changed or removed, in words; None: whatever setup or passage."""

    def about(own_setups: Collection[str], own_passages: Collection[str]) -> bool:
        return (setups is None or not set(own_setups).isdisjoint(setups)) and (
            passages is None or not set(own_passages).isdisjoint(passages)
        )

    sheets = sum(
        any(
            about([file.setup for file in part.prepared.setups], [part.prepared.passage])
            for part in one.record.passages
        )
        for one in evidence_in_force.summaries(casebook)
    )
    checks = sum(about(one.record.setups, one.record.passages) for one in evidence_in_force.checks(casebook))
    mends = casebook.query("SELECT setup_id, passage_id FROM mends")
    mended = sum(about([row["setup_id"]], [row["passage_id"]]) for row in mends)
    counts = {"match sheet": sheets, "giveaway check": checks, "mend": mended}
    said = [f"{number} {what}{'' if number == 1 else 's'}" for what, number in counts.items() if number]
    if not said:
        return []
    return [f"{', '.join(said)}: kept in the record, and of no more use for it"]
