"""Whether the prepared audio that a sealed plan names lies on the disk as it was sealed. It loads no arithmetic."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping
from contextlib import suppress
from functools import lru_cache
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING, Any

from audio import parallel
from audio.files import checksum

from ..casebook.store import Casebook

if TYPE_CHECKING:  # whoever only lists plans need not load what they mean
    from .plan import Plan


def faults(casebook: Casebook, plan: Plan, *, read: bool = True) -> list[str]:
    """One sentence for each passage whose audio is missing or changed; none where all is there.

    Not `read`, a file that lies there under its name is taken for what was sealed, which costs nothing.
    """
    if read:
        _read({casebook.prepared / Path(name).name for passage in plan.passages for name in passage.files.values()})
    found = []
    for passage in plan.passages:
        states = [
            _state(casebook.prepared, passage.files.get(source), sha256, read=read)
            for source, sha256 in passage.audio.items()
        ]
        missing, changed = states.count("missing"), states.count("changed")
        said = [f"{number} {word}" for number, word in ((missing, "missing"), (changed, "changed")) if number]
        if said:
            found.append(
                f"the prepared audio of passage {passage.name!r} in {casebook.prepared} is not what was sealed: of "
                f"{len(states)} files {' and '.join(said)}"
            )
    return found


def missing(casebook: Casebook, passages: Iterable[Mapping[str, Any]]) -> tuple[int, int]:
    """How many prepared files a plan's passages, as its document states them, name; and how many are not there.

    Nothing is read: a file that lies there under its name is taken for what was sealed.
    """
    named = {Path(name).name for passage in passages for name in passage.get("files", {}).values()}
    return len(named), sum(not (casebook.prepared / name).is_file() for name in named)


def _state(folder: Path, named: str | None, sha256: str, *, read: bool) -> str:
    """A prepared file as it is now; plans of before 0.1.0 name none, and any file may be it."""
    if named is None:
        return "there" if any(_hash(path) == sha256 for path in sorted(folder.glob("*.wav"))) else "missing"
    path = folder / Path(named).name
    if not path.is_file():
        return "missing"
    return "there" if not read or _hash(path) == sha256 else "changed"


def _read(paths: Iterable[Path]) -> None:
    """Hash files, as many at once as there are processors: neither reading nor hashing holds up another thread."""
    waiting = deque(sorted(paths))

    def some() -> None:
        with suppress(IndexError):  # none is left
            while True:
                with suppress(OSError):  # not there, or not to be read: found again when it is looked at
                    _hash(waiting.popleft())

    others = [Thread(target=some) for _ in range(min(parallel.cores(), len(waiting)) - 1)]
    try:
        for one in others:
            one.start()
        some()
    finally:
        waiting.clear()  # after an interruption
        for one in others:
            one.join()


def _hash(path: Path) -> str:
    seen = path.stat()
    return _hashed(path, seen.st_size, seen.st_mtime_ns)


@lru_cache(maxsize=4096)
def _hashed(path: Path, size: int, changed_ns: int) -> str:
    """The hash of a file; read once, however many plans name it."""
    return checksum.sha256(path)
