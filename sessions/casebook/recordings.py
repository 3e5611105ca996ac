"""The files of a track: the setups' recordings of it, and the music itself, which real gear plays.

A file stays where it is; its path and hash are kept. What is not the file that was added any more is refused.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from shlex import quote

from audio.files import reading

from ..errors import CatalogueError, MovedError
from . import catalogue, documents
from .catalogue import Setup, Track
from .ids import new_id
from .store import Casebook


@dataclass(frozen=True)
class Recording:
    """A file of a track: a setup's recording of it, or (`setup_id` is None) the music itself, which real gear plays.

    The file stays where it is: `path` is relative to the casebook where it lies inside, `sha256` is of its bytes.
    """

    id: str
    track_id: str
    path: str
    sha256: str
    rate_hz: int
    channels: int
    frames: int
    added_at: str
    setup_id: str | None = None

    @property
    def length_s(self) -> float:
        """How long it is, in seconds."""
        return self.frames / self.rate_hz


@dataclass(frozen=True)
class NewFile:
    """A file that may become one of a track: where it lies, how that is kept, for which setup (None: it is the music).

    What is still to be done of it, reading and hashing, needs no casebook.
    """

    path: Path
    stored: str
    id: str
    track_id: str
    setup_id: str | None
    added_at: str

    def inspected(self) -> Recording:
        """What it is and holds.

        Raises
        ------
        FileError
            If it cannot be used.
        """
        info = reading.inspect(self.path)
        return Recording(
            id=self.id,
            track_id=self.track_id,
            path=self.stored,
            sha256=reading.sha256(self.path),
            rate_hz=info.rate_hz,
            channels=info.channels,
            frames=info.frames,
            added_at=self.added_at,
            setup_id=self.setup_id,
        )


def announced(casebook: Casebook, setup: Setup, track: Track, path: Path) -> NewFile:
    """A file that is to become a setup's recording of a track; it is not looked at yet.

    Raises
    ------
    CatalogueError
        If the setup is real gear, or has a recording of that track already.
    """
    if setup.is_real:
        raise CatalogueError(
            f"setup {setup.name!r} is real gear and has no recordings; add the music itself: earwitness track add "
            f"{quote(track.name)} --music {quote(str(path))}"
        )
    _check_new(casebook, setup, track, path)
    return _announced(casebook, "recording", track, path, setup.id)


def new(casebook: Casebook, setup: Setup, track: Track, path: Path) -> Recording:
    """A setup's recording of a track, inspected and hashed, not kept yet.

    Raises
    ------
    CatalogueError
        If the setup is real gear, or has a recording of that track already.
    FileError
        If the file cannot be used.
    """
    return announced(casebook, setup, track, path).inspected()


def new_music(casebook: Casebook, track: Track, path: Path) -> Recording:
    """The music of a track itself, which real setups play, inspected and hashed, not kept yet.

    Raises
    ------
    CatalogueError
        If the track has its music already.
    FileError
        If the file cannot be used.
    """
    _check_new(casebook, None, track, path)
    return _announced(casebook, "source", track, path, None).inspected()


def keep(casebook: Casebook, made: Recording, setup: Setup | None, track: Track, path: Path) -> None:
    """Keep a file of a track, made before from a path by `new` or `new_music` (then there is no setup).

    Raises
    ------
    CatalogueError
        If there is one of that track by now.
    """
    with casebook.writing():
        _check_new(casebook, setup, track, path)
        if setup is None:
            casebook.insert("sources", {key: value for key, value in asdict(made).items() if key != "setup_id"})
        else:
            casebook.insert("recordings", asdict(made))


def of(casebook: Casebook, setup: Setup, track_id: str) -> Recording:
    """The setup's recording of a track; for real gear the music itself.

    Raises
    ------
    CatalogueError
        If the setup lacks the track, or the track its music.
    """
    found = _kept(casebook, None if setup.is_real else setup, track_id)
    if found is None:
        name = catalogue.find(casebook, Track, track_id).name
        if setup.is_real:
            raise CatalogueError(
                f"track {name!r} lacks its music, which {setup.name!r} would play; "
                f"add it: earwitness track add {quote(name)} --music FILE"
            )
        raise CatalogueError(
            f"setup {setup.name!r} lacks the track {name!r}; "
            f"add it: earwitness track add {quote(name)} --file {quote(setup.name + '=FILE')}"
        )
    return found


def of_track(casebook: Casebook, track: Track) -> list[Recording]:
    """All files of a track: the music itself, and the setups' recordings of it."""
    return [
        documents.from_plain(row, Recording)
        for table in ("sources", "recordings")
        for row in casebook.query(f"SELECT * FROM {table} WHERE track_id = ? ORDER BY added_at, rowid", [track.id])
    ]


def of_setup(casebook: Casebook, setup: Setup) -> list[Recording]:
    """All recordings of a setup, in the order they were added."""
    rows = casebook.query("SELECT * FROM recordings WHERE setup_id = ? ORDER BY added_at, rowid", [setup.id])
    return [documents.from_plain(row, Recording) for row in rows]


def audio_path(casebook: Casebook, recorded: Recording) -> Path:
    """Where a recording lies."""
    path = Path(recorded.path)
    return path if path.is_absolute() else casebook.folder / path


def check_unchanged(path: Path, recorded: Recording, setup: Setup) -> None:
    """Nothing, if the file that lies there is still what was added.

    Raises
    ------
    CatalogueError
        If the file was changed, or is not there any more.
    """
    check_there(path)
    reading.inspect(path)
    if reading.sha256(path) != recorded.sha256:
        raise CatalogueError(
            f"{path} was changed since it was added to setup {setup.name!r}; bring the old file back, or start a "
            "new casebook with the new one"
        )


def check_there(path: Path) -> None:
    """Nothing, if there is a file.

    Raises
    ------
    MovedError
        If there is none any more.
    """
    if not path.exists():
        raise MovedError(
            f"{path} is not there any more; if the recordings moved, name the folder in which they are now: "
            "earwitness setup relink DIR"
        )


def _check_new(casebook: Casebook, setup: Setup | None, track: Track, path: Path) -> None:
    if _kept(casebook, setup, track.id) is None:
        return
    if setup is None:
        raise CatalogueError(f"track {track.name!r} has its music already; add {path} as another track")
    raise CatalogueError(f"setup {setup.name!r} has a recording of {track.name!r} already; add {path} to another one")


def _kept(casebook: Casebook, setup: Setup | None, track_id: str) -> Recording | None:
    if setup is None:
        rows = casebook.query("SELECT * FROM sources WHERE track_id = ?", [track_id])
    else:
        rows = casebook.query("SELECT * FROM recordings WHERE setup_id = ? AND track_id = ?", [setup.id, track_id])
    return documents.from_plain(rows[0], Recording) if rows else None


def _announced(casebook: Casebook, prefix: str, track: Track, path: Path, setup_id: str | None) -> NewFile:
    return NewFile(path, stored_path(casebook, path), new_id(prefix), track.id, setup_id, casebook.now())


def stored_path(casebook: Casebook, path: Path) -> str:
    """A path as it is kept: relative to the casebook where it lies inside."""
    whole = path.resolve()
    home = casebook.folder.resolve()
    return str(whole.relative_to(home)) if whole.is_relative_to(home) else str(whole)
