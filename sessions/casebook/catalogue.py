"""The catalogue: setups, tracks, passages, listeners. What the reviewer says about gear and music.

Names are checked when an entry is made, so that later steps can rely on them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, TypeVar

from ..errors import CatalogueError
from . import documents, name_rule, playback_chain
from .ids import new_id
from .near_names import unknown
from .playback_chain import PlaybackChain
from .store import Casebook, Row


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
        names = [row["name"] for row in casebook.query(f"SELECT name FROM {TABLES[kind]} ORDER BY name")]
        raise CatalogueError(unknown(_word(kind), name, names, " in this casebook"))
    return found


def named(casebook: Casebook, kind: type[Entry], name: str) -> Entry | None:
    """The catalogue's entry of that name (or identifier); None if there is none."""
    rows = casebook.query(f"{_select(kind)} WHERE name = ? OR id = ?", [name, name])
    return _entry(kind, rows[0]) if rows else None


class Names(dict[str, str]):
    """Names by identifier; one that is asked for and not there is told as what it is: a row that was lost."""

    def __missing__(self, entry_id: str) -> str:
        raise CatalogueError(
            f"the casebook has lost {entry_id}, which other entries of it name; put the newest copy of the casebook "
            "back (earwitness verify says what else is missing)"
        )


def names(casebook: Casebook, kind: type[Entry]) -> Names:
    """The names of all entries of a kind, by identifier."""
    return Names({one.id: one.name for one in everything(casebook, kind)})


def everything(casebook: Casebook, kind: type[Entry]) -> list[Entry]:
    """All entries of a kind, in the order they were added."""
    rows = casebook.query(f"{_select(kind)} ORDER BY added_at, {TABLES[kind]}.rowid")
    return [_entry(kind, row) for row in rows]


def new_setup(casebook: Casebook, name: str, note: str = "", chain: PlaybackChain | None = None) -> Setup:
    """A setup not kept yet: one complete playback chain, or (without a chain) a rendering by its recordings.

    Raises
    ------
    CatalogueError
        If the name is taken or cannot be one.
    """
    kind = chain.kind if chain else playback_chain.FILES
    return _checked(casebook, Setup(new_id("setup"), name, kind, note, casebook.now(), chain))


def new_track(casebook: Casebook, name: str, note: str = "") -> Track:
    """A track not kept yet: one piece of music.

    Raises
    ------
    CatalogueError
        If the name is taken or cannot be one.
    """
    return _checked(casebook, Track(new_id("track"), name, note, casebook.now()))


def new_listener(casebook: Casebook, name: str, note: str = "") -> Listener:
    """A listener not kept yet.

    Raises
    ------
    CatalogueError
        If the name is taken or cannot be one.
    """
    return _checked(casebook, Listener(new_id("listener"), name, note, casebook.now()))


def keep(casebook: Casebook, entry: Entry) -> Entry:
    """Keep an entry that was made before; the entry itself.

    Raises
    ------
    CatalogueError
        If its name was taken meanwhile.
    """
    row: dict[str, Any] = asdict(entry)
    row.pop("chain", None)
    with casebook.writing():
        casebook.insert(TABLES[type(_checked(casebook, entry))], row)
        if isinstance(entry, Setup) and entry.chain:
            text = documents.text_of(entry.chain.to_document())
            casebook.insert("chains", {"setup_id": entry.id, "document": text})
    return entry


def add_setup(casebook: Casebook, name: str, note: str = "", chain: PlaybackChain | None = None) -> Setup:
    """A new setup, kept."""
    return keep(casebook, new_setup(casebook, name, note, chain))


def add_listener(casebook: Casebook, name: str, note: str = "") -> Listener:
    """A new listener, kept."""
    return keep(casebook, new_listener(casebook, name, note))


def listener_named(casebook: Casebook, name: str) -> Listener:
    """The listener of that name, added if new."""
    return named(casebook, Listener, name) or add_listener(casebook, name)


def check_name(kind: type[Entry], name: str) -> None:
    """Nothing, if an entry of that kind may be called so.

    Raises
    ------
    CatalogueError
        If it may not.
    """
    if why := name_rule.refusal(f"a {_word(kind)}'s", name):
        raise CatalogueError(why)


def check_free(casebook: Casebook, kind: type[Entry], name: str) -> None:
    """Nothing, if a new entry of that kind may be called so.

    Raises
    ------
    CatalogueError
        If the name is taken or cannot be one.
    """
    check_name(kind, name)
    if casebook.query(f"SELECT 1 FROM {TABLES[kind]} WHERE name = ?", [name]):
        raise CatalogueError(f"a {_word(kind)} called {name!r} is in this casebook already; choose another name")


def _checked(casebook: Casebook, entry: Entry) -> Entry:
    check_free(casebook, type(entry), entry.name)
    return entry


def _select(kind: type) -> str:
    if kind is Setup:
        return "SELECT setups.*, chains.document AS chain FROM setups LEFT JOIN chains ON chains.setup_id = setups.id"
    return f"SELECT * FROM {TABLES[kind]}"


def _entry(kind: type[Entry], row: Row) -> Entry:
    if row.get("chain"):
        row = row | {"chain": documents.value_of(row["chain"])}
    return documents.from_plain(row, kind)


def _word(kind: type) -> str:
    return kind.__name__.lower()
