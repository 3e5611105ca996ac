"""The prepared audio of a casebook: what a match sheet says of it, what is made of it, the file a sealed plan names."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from numpy.typing import NDArray

from audio.clip import Clip
from audio.files import reading
from audio.mend import Mend

from ..casebook.catalogue import Passage
from ..casebook.store import Casebook
from ..errors import ListenError
from . import match_sheet
from .match_sheet import PreparedFile, PreparedPassage
from .passage_audio import NO_MEND, Source


@dataclass(frozen=True)
class SealedFile:
    """What a plan seals of one file: its hash, and its name (plans of before 0.1.0 give none)."""

    sha256: str
    file: str | None


@dataclass(frozen=True)
class MadeFile:
    """A prepared file that was made just now: its name, and its hash."""

    file: str
    sha256: str


@contextmanager
def fresh_folder(folder: Path) -> Iterator[Path]:
    """An empty folder on the disk of another one, gone afterwards: what is made there was never another sound."""
    with TemporaryDirectory(prefix=".", dir=folder) as name:
        yield Path(name)


def moved_in(made: Mapping[str, Path], folder: Path) -> dict[str, Path]:
    """Files just made, moved to a folder under names that follow from their content, so that none is written over."""
    return {name: _moved(path, folder) for name, path in made.items()}


def _moved(fresh: Path, folder: Path) -> Path:
    sha256 = reading.sha256(fresh)
    path = folder / f"{sha256[:24]}.wav"
    if not path.is_file() or reading.sha256(path) != sha256:
        fresh.replace(path)
    return path


def kept(casebook: Casebook, write: Callable[[Path], object]) -> MadeFile:
    """What `write` writes, kept under a name that follows from its content.

    It is made anew whenever it is asked for, since what lies there under its name could be another sound; where that is
    the same it is left as it is. What an earlier plan was sealed with is never written over by anything else.
    """
    with fresh_folder(casebook.prepared) as folder:
        fresh = folder / "made.wav"
        write(fresh)
        path = _moved(fresh, casebook.prepared)
    return MadeFile(path.name, reading.sha256(path))


def stated(
    passage: Passage,
    sources: Sequence[Source],
    repairs: Mapping[str, Mend],
    clips: Mapping[str, Clip],
    paths: Mapping[str, Path],
) -> PreparedPassage:
    """What a sheet says of the files just prepared of a passage; clips and paths by the setups' names."""
    first = next(iter(clips.values()))
    files = [
        PreparedFile(
            source.setup.id,
            source.recording.sha256,
            repairs.get(source.setup.id, NO_MEND),
            paths[source.setup.name].name,
            reading.sha256(paths[source.setup.name]),
        )
        for source in sources
    ]
    return PreparedPassage(passage.id, first.rate_hz, first.frames, tuple(files))


def sounds(casebook: Casebook, passage: str, sealed: Sequence[SealedFile], sheet: str | None) -> NDArray[np.float32]:
    """What is played of a passage, every file of it read, hashed and decoded: shape (files, frames, channels).

    All of them are taken, in the order given, whichever are to be heard, so that nothing about the reading depends on
    that.

    Raises
    ------
    ListenError
        If one is missing or not what was sealed, or they differ in length, rate or channels.
    """
    played, rates = [], set()
    for one in sealed:
        clip = reading.read(file_of(casebook, one.sha256, passage, named=one.file, sheet=sheet))
        played.append(clip.samples.astype(np.float32))
        rates.add(clip.rate_hz)
    if len({sound.shape for sound in played}) != 1 or len(rates) != 1:
        raise ListenError(
            f"the prepared files of passage {passage!r} are not equally long, or differ in rate or channels; "
            "prepare them together and seal a new plan: earwitness match files"
        )
    return np.stack(played)


def file_of(casebook: Casebook, sealed: str, passage: str, *, named: str | None, sheet: str | None) -> Path:
    """The prepared file that a plan was sealed with.

    Parameters
    ----------
    sealed
        The hash that the plan seals.
    passage
        The passage's name, for the message.
    named
        The file's name as the plan gives it. Plans of before 0.1.0 give none: then it is the name on the match sheet
        they rest on, and where that has none (an anchor) the folder is searched.
    sheet
        The hash of that match sheet.

    Raises
    ------
    ListenError
        If it is missing, or not what was sealed.
    """
    for path in _candidates(casebook, sealed, named, sheet):
        if path.is_file() and reading.sha256(path) == sealed:
            return path
    raise ListenError(
        f"the prepared audio of passage {passage!r} is missing or not what was sealed; "
        "rebuild it from the recordings with the settings of its match sheet: earwitness match files"
    )


def _candidates(casebook: Casebook, sealed: str, named: str | None, sheet_hash: str | None) -> list[Path]:
    """Where it may lie: one place where it is named; otherwise those the sheet names, then all the rest."""
    if named is not None:
        return [casebook.prepared / Path(named).name]
    sheet = match_sheet.of_hash(casebook, sheet_hash)
    files = [file for part in sheet.passages for file in part.prepared.setups] if sheet else []
    likely = [casebook.prepared / file.file for file in files if file.sha256 == sealed]
    return likely + [path for path in sorted(casebook.prepared.glob("*.wav")) if path not in likely]
