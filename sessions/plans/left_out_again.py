"""What is told of a track that a comparison left out, so that it can be typed anywhere. Pure: words in, words out.

The commands are noted as they were typed: relative to a folder that nobody is in any more, or before recordings moved.
Where the setups' recordings lie now, the casebook knows.
"""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from ..casebook.left_out import Noted

ADD = "to add it: "


def pointed(noted: Noted, casebook: Path, setups: Sequence[str], folders: Sequence[Path | None]) -> Noted:
    """What was noted, with the casebook and the folders in its commands where they are now.

    Parameters
    ----------
    setups, folders
        The setups' names, and where their recordings lie (absolute); None where a setup has none.
    """
    words = shlex.split(noted.again)
    place = 3 if words[1:2] == ["--casebook"] else 1
    if words[place : place + 1] != ["compare"] or len(words) < place + 3:
        return noted
    before, options = words[place + 1 : place + 3], words[place + 3 :]
    now = [str(folder or was) for folder, was in zip(folders, before, strict=True)]
    named = ["earwitness", "--casebook", str(casebook)]
    again = shlex.join([*named, "compare", *now, *options])
    why, to_add, add = noted.left_out.why.replace(noted.again, again).partition(ADD)
    if to_add:
        whole = shlex.split(add)
        given = whole[whole.index("track") :]
        add = shlex.join([*named, *(_file(word, dict(zip(setups, now, strict=True))) for word in given)])
    return replace(noted, left_out=replace(noted.left_out, why=f"{why}{to_add}{add}"), again=again)


def _file(word: str, folders: dict[str, str]) -> str:
    """A word of a command; the file of a setup where the setup's recordings lie now."""
    found = next((name for name in folders if word.startswith(f"{name}=")), None)
    return word if found is None else f"{found}={Path(folders[found], Path(word).name)}"
