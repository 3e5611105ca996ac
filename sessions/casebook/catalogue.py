"""The catalogue: setups, tracks, recordings, passages, listeners. What the reviewer says about gear and music.

It checks names, files and passages when they are entered, so that later steps can rely on them.
"""

from __future__ import annotations

import re
from pathlib import Path

from audio import files
from audio.clip import Clip

from ..errors import CatalogueError
from . import chains
from .ids import new_id
from .store import Casebook, Row

SHORTEST_PASSAGE_S = 1.0  # our choice: below this neither a loudness reading nor a comparison by ear means much
SILENT_BELOW_DBFS = -70.0  # BS.1770-5's absolute gate, used here on the RMS level
NAME_RULE = re.compile(r"[^\W_](?:[\w .+-]{0,58}[\w+])?", re.UNICODE)
KINDS = {"setups": "setup", "tracks": "track", "passages": "passage", "listeners": "listener"}


def find(casebook: Casebook, table: str, name: str) -> Row:
    """The catalogue row of that name (or identifier).

    Raises
    ------
    CatalogueError
        If there is none; the message lists the names there are.
    """
    rows = casebook.query(f"SELECT * FROM {table} WHERE name = ? OR id = ?", [name, name])
    if not rows:
        names = [row["name"] for row in casebook.query(f"SELECT name FROM {table} ORDER BY name")]
        known = ", ".join(names) if names else "none yet"
        raise CatalogueError(f"no {KINDS[table]} called {name!r} in this casebook; there are: {known}")
    return rows[0]


def everything(casebook: Casebook, table: str) -> list[Row]:
    """All rows of a catalogue table, in the order they were added."""
    return casebook.query(f"SELECT * FROM {table} ORDER BY added_at, rowid")


def add_setup(casebook: Casebook, name: str, note: str = "", chain: chains.Chain | None = None) -> Row:
    """A new setup: one complete playback chain, or (without a chain) a rendering by its recordings."""
    with casebook.writing():
        kind = chain["kind"] if chain else chains.FILES
        row = _add(casebook, "setups", "setup", name, {"kind": kind, "note": note})
        if chain:
            chains.keep(casebook, row, chain)
    return row


def add_track(casebook: Casebook, name: str, note: str = "") -> Row:
    """A new track: one piece of music."""
    return _add(casebook, "tracks", "track", name, {"note": note})


def add_listener(casebook: Casebook, name: str, note: str = "") -> Row:
    """A new listener."""
    return _add(casebook, "listeners", "listener", name, {"note": note})


def listener_named(casebook: Casebook, name: str) -> Row:
    """The listener of that name, added if new."""
    rows = casebook.query("SELECT * FROM listeners WHERE name = ? OR id = ?", [name, name])
    return rows[0] if rows else add_listener(casebook, name)


def add_recording(casebook: Casebook, setup: Row, track: Row, path: Path) -> Row:
    """A setup's recording of a track. The file stays where it is; its hash is kept.

    Raises
    ------
    CatalogueError
        If the setup has a recording of that track already.
    FileError
        If the file cannot be used.
    """
    if setup["kind"] != chains.FILES:
        raise CatalogueError(
            f"setup {setup['name']!r} is real gear and has no recordings; add the music itself: earwitness track add "
            f"{track['name']!r} --music {path}"
        )
    if casebook.query("SELECT 1 FROM recordings WHERE setup_id = ? AND track_id = ?", [setup["id"], track["id"]]):
        raise CatalogueError(
            f"setup {setup['name']!r} has a recording of {track['name']!r} already; add {path} to another one"
        )
    row = {"id": new_id("recording"), "setup_id": setup["id"], "track_id": track["id"], **_file(casebook, path)}
    casebook.insert("recordings", row)
    return row


def add_music(casebook: Casebook, track: Row, path: Path) -> Row:
    """The music of a track itself, which real setups play. The file stays where it is; its hash is kept.

    Raises
    ------
    CatalogueError
        If the track has its music already.
    FileError
        If the file cannot be used.
    """
    if casebook.query("SELECT 1 FROM sources WHERE track_id = ?", [track["id"]]):
        raise CatalogueError(f"track {track['name']!r} has its music already; add {path} as another track")
    row = {"id": new_id("source"), "track_id": track["id"], **_file(casebook, path)}
    casebook.insert("sources", row)
    return row


def recording(casebook: Casebook, setup: Row, track_id: str) -> Row:
    """The setup's recording of a track; for real gear the music itself.

    Raises
    ------
    CatalogueError
        If the setup lacks the track, or the track its music.
    """
    real = setup["kind"] != chains.FILES
    if real:
        rows = casebook.query("SELECT * FROM sources WHERE track_id = ?", [track_id])
    else:
        sql = "SELECT * FROM recordings WHERE setup_id = ? AND track_id = ?"
        rows = casebook.query(sql, [setup["id"], track_id])
    if not rows:
        name = casebook.query("SELECT name FROM tracks WHERE id = ?", [track_id])[0]["name"]
        if real:
            raise CatalogueError(
                f"track {name!r} lacks its music, which {setup['name']!r} would play; "
                f"add it: earwitness track add {name!r} --music FILE"
            )
        raise CatalogueError(
            f"setup {setup['name']!r} lacks the track {name!r}; "
            f"add it: earwitness track add {name!r} --file {setup['name']}=FILE"
        )
    return rows[0]


def audio_path(casebook: Casebook, recorded: Row) -> Path:
    """Where a recording lies."""
    path = Path(recorded["path"])
    return path if path.is_absolute() else casebook.folder / path


def add_passage(
    casebook: Casebook, track: Row, start_frame: int, frames: int, rate_hz: int, name: str, note: str = ""
) -> Row:
    """A new passage: `frames` frames from `start_frame`, counted at `rate_hz`.

    Raises
    ------
    CatalogueError
        If it is shorter than `SHORTEST_PASSAGE_S`, starts before the track, runs past a recording's end, or is silent.
    """
    _check_name("passage", name)
    what = f"passage {name!r} of {track['name']!r}"
    if frames < SHORTEST_PASSAGE_S * rate_hz:
        raise CatalogueError(f"{what} is {frames / rate_hz:.2f} s long; choose at least {SHORTEST_PASSAGE_S:g} s")
    if start_frame < 0:
        raise CatalogueError(f"{what} starts before the track, at {start_frame / rate_hz:.2f} s; choose a start from 0")
    recordings = files_of_track(casebook, track)
    if not recordings:
        raise CatalogueError(f"track {track['name']!r} has no recording yet; add one before its passages")
    for recorded in recordings:
        end_s, length_s = (start_frame + frames) / rate_hz, recorded["frames"] / recorded["rate_hz"]
        if end_s > length_s + 0.5 / rate_hz:
            raise CatalogueError(
                f"{what} runs past the end: it ends at {end_s:.2f} s, but {recorded['path']} is {length_s:.2f} s long"
            )
        scale = recorded["rate_hz"] / rate_hz
        stretch = files.read(
            audio_path(casebook, recorded),
            round(start_frame * scale),
            min(round(frames * scale), recorded["frames"] - round(start_frame * scale)),
        )
        if _rms_dbfs(stretch) < SILENT_BELOW_DBFS:
            raise CatalogueError(f"{what} is silent in {recorded['path']}; choose a stretch with music in it")
    content = {
        "track_id": track["id"],
        "start_frame": start_frame,
        "frames": frames,
        "rate_hz": rate_hz,
        "note": note,
    }
    return _add(casebook, "passages", "passage", name, content)


def files_of_track(casebook: Casebook, track: Row) -> list[Row]:
    """All files of a track: the music itself, and the setups' recordings of it."""
    return [
        row
        for table in ("sources", "recordings")
        for row in casebook.query(f"SELECT * FROM {table} WHERE track_id = ? ORDER BY added_at, rowid", [track["id"]])
    ]


def _file(casebook: Casebook, path: Path) -> Row:
    info = files.inspect(path)
    return {
        "path": _stored_path(casebook, path),
        "sha256": files.sha256(path),
        "rate_hz": info.rate_hz,
        "channels": info.channels,
        "frames": info.frames,
        "added_at": casebook.now(),
    }


def _add(casebook: Casebook, table: str, prefix: str, name: str, content: Row) -> Row:
    _check_name(KINDS[table], name)
    if casebook.query(f"SELECT 1 FROM {table} WHERE name = ?", [name]):
        raise CatalogueError(f"a {KINDS[table]} called {name!r} is in this casebook already; choose another name")
    row = {"id": new_id(prefix), "name": name, **content, "added_at": casebook.now()}
    casebook.insert(table, row)
    return row


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
