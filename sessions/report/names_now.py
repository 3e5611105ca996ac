"""One name for each setup and passage: what was kept before a renaming is told by the names that the plan seals."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from ..casebook import catalogue_changes
from ..casebook.store import Casebook
from ..plans import evidence_in_force
from ..plans.plan import Plan
from ..preparation import mends
from ..preparation.match_sheet import MatchSheet
from ..preparation.mends import PassageMend

RENAMED = ("setups", "passages")


def since(casebook: Casebook, row: int, plan: Plan) -> dict[str, str]:
    """What a plan's setups and passages were called when a row was written, each with its name in the plan.

    Only those that are called otherwise now.
    """
    now = {one.id: one.name for one in plan.setups} | {one.id: one.name for one in plan.passages}
    then = {
        entry: name for table in RENAMED for entry, name in catalogue_changes.names_then(casebook, table, row).items()
    }
    return {name: now[entry] for entry, name in then.items() if entry in now and name != now[entry]}


def since_checks(casebook: Casebook, plan: Plan) -> dict[str, str]:
    """The same of the giveaway checks that a plan names."""
    found: dict[str, str] = {}
    for kept in evidence_in_force.checks(casebook, plan.checks):
        found |= since(casebook, kept.seq, plan)
    return found


def on_sheet(sheet: MatchSheet | None, plan: Plan) -> dict[str, str]:
    """What a match sheet calls the plan's setups and passages, each with its name in the plan, where that differs."""
    if sheet is None:
        return {}
    now = {one.id: one.name for one in plan.setups} | {one.id: one.name for one in plan.passages}
    then = {own.id: own.setup for part in sheet.passages for own in part.setups}
    then |= {part.prepared.passage: part.passage for part in sheet.passages}
    return {name: now[entry] for entry, name in then.items() if entry in now and name != now[entry]}


def told(text: str, names: Mapping[str, str]) -> str:
    """A text with the old names in it put as the new ones, all at once.

    >>> told("sallow is late against heath; sallower", {"sallow": "heath", "heath": "fen"})
    'heath is late against fen; sallower'
    """
    if not names:
        return text
    old = "|".join(re.escape(name) for name in sorted(names, key=len, reverse=True))
    return re.sub(rf"(?<![\w-])(?:{old})(?![\w-])", lambda found: names[found[0]], text)


def mends_of(casebook: Casebook, plan: Plan) -> tuple[list[PassageMend], dict[str, str]]:
    """The mends of what a plan plays, told by the plan's names, and which names these had before."""
    setups, passages = {setup.id for setup in plan.setups}, {passage.id for passage in plan.passages}
    found, renamed = [], dict[str, str]()
    for row, one in mends.with_rows(casebook):
        if one.setup_id in setups and one.passage_id in passages:
            names = since(casebook, row, plan)
            renamed |= names
            found.append(replace(one, why=told(one.why, names)))
    return found, renamed


def in_words(several: Iterable[Mapping[str, str]]) -> Sequence[str]:
    """What was renamed, each told once."""
    pairs = dict.fromkeys(pair for names in several for pair in names.items())
    return [f"Renamed before the plan was sealed: {new} was called {old} when it was prepared." for old, new in pairs]
