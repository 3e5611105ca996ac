"""What of a folder does not come into a comparison: sound of kinds that are not read, tracks only one side has.

It is said, never passed over, and asked about where somebody can be asked.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from shlex import quote

from ..casebook import catalogue, near_names, recordings
from ..casebook.catalogue import Setup, Track
from ..casebook.store import Casebook
from ..preparation import recording_folder, unread_files
from ..preparation.recording_folder import Collected
from .context import confirmed, say


def tell_unread(folder: Path, as_json: bool) -> list[str]:
    """Name the files of a folder that hold sound and are not read, with what to do about it; their paths."""
    found = recording_folder.unread_in(folder)
    if found:
        say(f"{folder}: {unread_files.sentence(found)}", as_json)
    return [str(path) for path in found]


def without_partner(paths: Sequence[Path]) -> list[str]:
    """Recordings that are in one of two folders only, a sentence each."""
    return [f"left over, without a partner: {path}" for path in paths]


def of_setup(casebook: Casebook, setup: str, found: Sequence[Collected], hint: str) -> list[str]:
    """The tracks that only this setup has, or that only it lacks, beside those of other setups; a sentence each.

    `hint` is how a command names the casebook.
    """
    names = catalogue.names(casebook, Track)
    others = [one for one in catalogue.everything(casebook, Setup) if not one.is_real and one.name != setup]
    theirs = {names[each.track_id] for one in others for each in recordings.of_setup(casebook, one)}
    if not theirs:
        return []
    own = {one.track.name: one.path for one in found}
    lacking, said = sorted(theirs - set(own)), []
    for name in sorted(set(own) - theirs):
        meant = near_names.meant(name, lacking)
        file = f"{setup}={own[name]}"
        said.append(
            f"only {setup} has {name}"
            + (
                f"; if it is {meant!r}, leave it out here and then: {hint} track add {quote(meant)} "
                f"--file {quote(file)}"
                if meant
                else ""
            )
        )
    return said + [f"{setup} lacks {name}" for name in lacking]


def agreed(sentences: Sequence[str], question: str, yes: bool, as_json: bool) -> bool:
    """Say these sentences, and whether to go on: asked where there are any, and somebody who can be asked."""
    for line in sentences:
        say(line, as_json)
    if not sentences or yes or not sys.stdin.isatty():
        return True
    return confirmed(question, default=True, as_json=as_json)
