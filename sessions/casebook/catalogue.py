"""The catalogue: setups, tracks, recordings, passages, listeners. What the reviewer says about gear and music.

It checks names, files and passages when they are entered, so that later steps can rely on them.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, TypeVar

from audio.clip import Clip
from audio.files import reading

from ..errors import CatalogueError
from . import documents, playback_chain
from .ids import new_id
from .playback_chain import PlaybackChain
from .store import Casebook, Row

SHORTEST_PASSAGE_S = 1.0  # our choice: below this neither a loudness reading nor a comparison by ear means much
SILENT_BELOW_DBFS = -70.0  # BS.1770-5's absolute gate, used here on the RMS level
NAME_RULE = re.compile(r"[^\W_](?:[\w .+-]{0,58}[\w+])?", re.UNICODE)


@dataclass(frozen=True)
class Setup:
    """One complete playback chain, or (without a chain) a rendering by its recordings; `kind` says which."""

    id: str
    name: str
    kind: str
    note: str
    added_at: str
    chain: PlaybackChain | None = None

    @property
    def is_real(self) -> bool:
        """Whether it is gear that plays the music itself."""
        return self.kind != playback_chain.FILES


@dataclass(frozen=True)
class Track:
    """One piece of music."""

    id: str
    name: str
    note: str
    added_at: str


@dataclass(frozen=True)
class Passage:
    """A stretch of a track: `frames` frames from `start_frame`, counted at `rate_hz`."""

    id: str
    track_id: str
    name: str
    start_frame: int
    frames: int
    rate_hz: int
    note: str
    added_at: str


@dataclass(frozen=True)
class Listener:
    """A person who listens, or a program that rehearses."""

    id: str
    name: str
    note: str
    added_at: str


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


Entry = TypeVar("Entry", Setup, Track, Passage, Listener)
TABLES: Mapping[type, str] = {Setup: "setups", Track: "tracks", Passage: "passages", Listener: "listeners"}


def find(casebook: Casebook, kind: type[Entry], name: str) -> Entry:
    """The catalogue's entry of that name (or identifier).

    Raises
    ------
    CatalogueError
        If there is none; the message lists the names there are.
    """
    found = named(casebook, kind, name)
    if found is None:
        table = TABLES[kind]
        names = [row["name"] for row in casebook.query(f"SELECT name FROM {table} ORDER BY name")]
        known = ", ".join(names) if names else "none yet"
        raise CatalogueError(f"no {_word(kind)} called {name!r} in this casebook; there are: {known}")
    return found


def named(casebook: Casebook, kind: type[Entry], name: str) -> Entry | None:
    """The catalogue's entry of that name (or identifier); None if there is none."""
    rows = casebook.query(f"{_select(kind)} WHERE name = ? OR id = ?", [name, name])
    return _entry(kind, rows[0]) if rows else None


def everything(casebook: Casebook, kind: type[Entry]) -> list[Entry]:
    """All entries of a kind, in the order they were added."""
    rows = casebook.query(f"{_select(kind)} ORDER BY added_at, {TABLES[kind]}.rowid")
    return [_entry(kind, row) for row in rows]


def add_setup(casebook: Casebook, name: str, note: str = "", chain: PlaybackChain | None = None) -> Setup:
    """A new setup: one complete playback chain, or (without a chain) a rendering by its recordings."""
    kind = chain.kind if chain else playback_chain.FILES
    setup = Setup(new_id("setup"), name, kind, note, casebook.now(), chain)
    with casebook.writing():
        keep(casebook, setup)
        if chain:
            text = json.dumps(chain.to_document(), sort_keys=True)
            casebook.insert("chains", {"setup_id": setup.id, "document": text})
    return setup


def add_track(casebook: Casebook, name: str, note: str = "") -> Track:
    """A new track: one piece of music."""
    return keep(casebook, Track(new_id("track"), name, note, casebook.now()))


def new_listener(casebook: Casebook, name: str, note: str = "") -> Listener:
    """A listener who is not kept yet."""
    return Listener(new_id("listener"), name, note, casebook.now())


def add_listener(casebook: Casebook, name: str, note: str = "") -> Listener:
    """A new listener."""
    return keep(casebook, new_listener(casebook, name, note))


def listener_named(casebook: Casebook, name: str) -> Listener:
    """The listener of that name, added if new."""
    return named(casebook, Listener, name) or add_listener(casebook, name)


def track_named(casebook: Casebook, name: str) -> Track:
    """The track of that name, added if new."""
    return named(casebook, Track, name) or add_track(casebook, name)


def add_recording(casebook: Casebook, setup: Setup, track: Track, path: Path) -> Recording:
    """A setup's recording of a track. The file stays where it is; its hash is kept.

    Raises
    ------
    CatalogueError
        If the setup has a recording of that track already.
    FileError
        If the file cannot be used.
    """
    if setup.is_real:
        raise CatalogueError(
            f"setup {setup.name!r} is real gear and has no recordings; add the music itself: earwitness track add "
            f"{track.name!r} --music {path}"
        )
    if _recording(casebook, setup, track.id) is not None:
        raise CatalogueError(
            f"setup {setup.name!r} has a recording of {track.name!r} already; add {path} to another one"
        )
    made = _file(casebook, "recording", track, path, setup.id)
    casebook.insert("recordings", asdict(made))
    return made


def add_music(casebook: Casebook, track: Track, path: Path) -> Recording:
    """The music of a track itself, which real setups play. The file stays where it is; its hash is kept.

    Raises
    ------
    CatalogueError
        If the track has its music already.
    FileError
        If the file cannot be used.
    """
    if _music(casebook, track.id) is not None:
        raise CatalogueError(f"track {track.name!r} has its music already; add {path} as another track")
    made = _file(casebook, "source", track, path, None)
    casebook.insert("sources", {key: value for key, value in asdict(made).items() if key != "setup_id"})
    return made


def recording(casebook: Casebook, setup: Setup, track_id: str) -> Recording:
    """The setup's recording of a track; for real gear the music itself.

    Raises
    ------
    CatalogueError
        If the setup lacks the track, or the track its music.
    """
    found = _music(casebook, track_id) if setup.is_real else _recording(casebook, setup, track_id)
    if found is None:
        name = find(casebook, Track, track_id).name
        if setup.is_real:
            raise CatalogueError(
                f"track {name!r} lacks its music, which {setup.name!r} would play; "
                f"add it: earwitness track add {name!r} --music FILE"
            )
        raise CatalogueError(
            f"setup {setup.name!r} lacks the track {name!r}; "
            f"add it: earwitness track add {name!r} --file {setup.name}=FILE"
        )
    return found


def audio_path(casebook: Casebook, recorded: Recording) -> Path:
    """Where a recording lies."""
    path = Path(recorded.path)
    return path if path.is_absolute() else casebook.folder / path


def add_passage(
    casebook: Casebook, track: Track, start_frame: int, frames: int, rate_hz: int, name: str, note: str = ""
) -> Passage:
    """A new passage: `frames` frames from `start_frame`, counted at `rate_hz`.

    Raises
    ------
    CatalogueError
        If it is shorter than `SHORTEST_PASSAGE_S`, starts before the track, runs past a recording's end, or is silent.
    """
    _check_name("passage", name)
    what = f"passage {name!r} of {track.name!r}"
    if frames < SHORTEST_PASSAGE_S * rate_hz:
        raise CatalogueError(f"{what} is {frames / rate_hz:.2f} s long; choose at least {SHORTEST_PASSAGE_S:g} s")
    if start_frame < 0:
        raise CatalogueError(f"{what} starts before the track, at {start_frame / rate_hz:.2f} s; choose a start from 0")
    recordings = files_of_track(casebook, track)
    if not recordings:
        raise CatalogueError(f"track {track.name!r} has no recording yet; add one before its passages")
    for recorded in recordings:
        end_s, length_s = (start_frame + frames) / rate_hz, recorded.length_s
        if end_s > length_s + 0.5 / rate_hz:
            raise CatalogueError(
                f"{what} runs past the end: it ends at {end_s:.2f} s, but {recorded.path} is {length_s:.2f} s long"
            )
        scale = recorded.rate_hz / rate_hz
        stretch = reading.read(
            audio_path(casebook, recorded),
            round(start_frame * scale),
            min(round(frames * scale), recorded.frames - round(start_frame * scale)),
        )
        if _rms_dbfs(stretch) < SILENT_BELOW_DBFS:
            raise CatalogueError(f"{what} is silent in {recorded.path}; choose a stretch with music in it")
    passage = Passage(new_id("passage"), track.id, name, start_frame, frames, rate_hz, note, casebook.now())
    return keep(casebook, passage)


def files_of_track(casebook: Casebook, track: Track) -> list[Recording]:
    """All files of a track: the music itself, and the setups' recordings of it."""
    return [
        documents.from_plain(row, Recording)
        for table in ("sources", "recordings")
        for row in casebook.query(f"SELECT * FROM {table} WHERE track_id = ? ORDER BY added_at, rowid", [track.id])
    ]


def recordings_of(casebook: Casebook, setup: Setup) -> list[Recording]:
    """All recordings of a setup, in the order they were added."""
    rows = casebook.query("SELECT * FROM recordings WHERE setup_id = ? ORDER BY added_at, rowid", [setup.id])
    return [documents.from_plain(row, Recording) for row in rows]


def _recording(casebook: Casebook, setup: Setup, track_id: str) -> Recording | None:
    rows = casebook.query("SELECT * FROM recordings WHERE setup_id = ? AND track_id = ?", [setup.id, track_id])
    return documents.from_plain(rows[0], Recording) if rows else None


def _music(casebook: Casebook, track_id: str) -> Recording | None:
    rows = casebook.query("SELECT * FROM sources WHERE track_id = ?", [track_id])
    return documents.from_plain(rows[0], Recording) if rows else None


def _file(casebook: Casebook, prefix: str, track: Track, path: Path, setup_id: str | None) -> Recording:
    info = reading.inspect(path)
    return Recording(
        id=new_id(prefix),
        track_id=track.id,
        path=_stored_path(casebook, path),
        sha256=reading.sha256(path),
        rate_hz=info.rate_hz,
        channels=info.channels,
        frames=info.frames,
        added_at=casebook.now(),
        setup_id=setup_id,
    )


def _select(kind: type) -> str:
    if kind is Setup:
        return "SELECT setups.*, chains.document AS chain FROM setups LEFT JOIN chains ON chains.setup_id = setups.id"
    return f"SELECT * FROM {TABLES[kind]}"


def _entry(kind: type[Entry], row: Row) -> Entry:
    if row.get("chain"):
        row = row | {"chain": json.loads(row["chain"])}
    return documents.from_plain(row, kind)


def keep(casebook: Casebook, entry: Entry) -> Entry:
    """Keep a new entry.

    Raises
    ------
    CatalogueError
        If its name cannot be one, or is taken.
    """
    table, kind = TABLES[type(entry)], _word(type(entry))
    _check_name(kind, entry.name)
    if casebook.query(f"SELECT 1 FROM {table} WHERE name = ?", [entry.name]):
        raise CatalogueError(f"a {kind} called {entry.name!r} is in this casebook already; choose another name")
    row: dict[str, Any] = asdict(entry)
    row.pop("chain", None)
    casebook.insert(table, row)
    return entry


def _word(kind: type) -> str:
    return kind.__name__.lower()


def _check_name(kind: str, name: str) -> None:
    if not NAME_RULE.fullmatch(name):
        raise CatalogueError(
            f"{name!r} cannot be a {kind}'s name; use 1 to 60 letters, digits, spaces, dots, dashes or underscores"
        )


def _stored_path(casebook: Casebook, path: Path) -> str:
    whole = path.resolve()
    home = casebook.folder.resolve()
    return str(whole.relative_to(home)) if whole.is_relative_to(home) else str(whole)


def _rms_dbfs(clip: Clip) -> float:
    import numpy as np

    mean_square = float(np.mean(np.square(clip.samples))) if clip.frames else 0.0
    return 10 * float(np.log10(mean_square)) if mean_square > 0 else float("-inf")
