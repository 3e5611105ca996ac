"""A comparison of two folders that is in the casebook already: where it stands, and what it still lacks of evidence.

`two_folders` makes one; this goes on with it. Nothing that holds is made again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from ..casebook import catalogue, recordings
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..preparation import giveaway_check, match_files, mends
from ..preparation.selection import select
from . import drafting, overview, plan_rows, two_folders
from .plan import Plan
from .plan_rows import SealedPlan, Wish


def made_before(casebook: Casebook, folder_a: Path, folder_b: Path) -> tuple[str, str] | None:
    """The names of the setups that were made of these folders; None where there are none yet.

    Raises
    ------
    CatalogueError
        If there are setups of those names with recordings of other folders.
    """
    names = two_folders.setup_names(folder_a, folder_b)
    found = [catalogue.named(casebook, Setup, name) for name in names]
    if not any(found):
        return None
    for name, setup, folder in zip(names, found, (folder_a, folder_b), strict=True):
        if setup is None or not _is_from(casebook, setup, folder):
            raise CatalogueError(
                f"in the casebook {casebook.folder} the setup {name!r} "
                f"{'is missing' if setup is None else f'has recordings that are not in {folder}'}, so that this is "
                "another comparison; name a new place for it: earwitness --casebook NEW compare …"
            )
    return names


def _is_from(casebook: Casebook, setup: Setup, folder: Path) -> bool:
    own = [recordings.audio_path(casebook, one).resolve() for one in recordings.of_setup(casebook, setup)]
    return bool(own) and all(path.is_relative_to(folder.resolve()) for path in own)


def sealed(casebook: Casebook, setups: tuple[str, str], wish: Wish) -> SealedPlan | None:
    """The newest sealed plan of these setups that asks the same of the same listeners; None if there is none."""
    asked = wish.method, set(wish.listeners), set(setups)
    for one in reversed(plan_rows.every_sealed(casebook)):
        plan = one.plan
        listeners = {listener.name for listener in plan.listeners}
        if (plan.method.name, listeners, {setup.name for setup in plan.setups}) == asked:
            return one
    return None


def plan(
    casebook: Casebook, setups: tuple[str, str], wish: Wish, progress: Callable[[str], None] = lambda _: None
) -> Plan:
    """The draft that waits, or a new one where there is none that asks the same, with evidence that holds now."""
    own = [one for one in plan_rows.every_draft(casebook) if set(one.wish.setups) == set(setups)]
    asked = wish.method, wish.listeners, wish.trials
    waiting = [one.name for one in own if (one.wish.method, one.wish.listeners, one.wish.trials) == asked]
    passages = own[-1].wish.passages if own else ()
    name = waiting[-1] if waiting else ""
    if not name:
        name = drafting.draft(casebook, replace(wish, setups=setups, passages=passages)).name
    _complete(casebook, name, progress)
    made = drafting.drafted(casebook, name)
    assert made is not None
    return made


def _complete(casebook: Casebook, name: str, progress: Callable[[str], None]) -> None:
    """Match, check and mend what the draft lacks, as far as that can be done; each at most once."""
    for lacking, said in (("match", "matching"), ("check", "checking"), ("mend", "mending")):
        stands = next(one for one in overview.gather(casebook).plans if one.name == name)
        if lacking not in stands.lacks:
            continue
        progress(f"{said} what {name} plays …")
        draft = plan_rows.draft(casebook, name)
        assert draft is not None
        selection = select(casebook, draft.wish.setups, draft.wish.passages)
        if lacking == "mend":
            mends.mend(casebook, selection)
        if lacking != "check":
            match_files.make_match_sheet(casebook, selection)
        if lacking != "match":
            giveaway_check.check(casebook, selection)
