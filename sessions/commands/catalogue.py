"""`new`, `track`, `listener`: start a casebook and say what is in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from shlex import quote
from typing import Any

import click

from ..casebook import catalogue, playback_chain, recordings
from ..casebook.catalogue import Listener, Setup, Track
from ..casebook.recordings import Recording
from ..casebook.store import FILE_NAME, Casebook, create
from ..errors import CatalogueError
from ..preparation import recording_folder
from . import strays
from .command_group import CommandGroup
from .context import NOT_PRIVATE, Context, counted, give, json_option, say, table
from .lags import settle
from .times import clock


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@json_option
@click.pass_obj
def new(context: Context, folder: Path, as_json: bool) -> None:
    """Start a casebook in FOLDER."""
    with create(folder) as casebook:
        identifier = casebook.head()["id"]
    if not context.is_private(folder / FILE_NAME):
        say(NOT_PRIVATE, as_json)
    if as_json:
        give({"casebook": identifier, "folder": str(folder)})
    there = quote(str(folder))
    going = f"earwitness --casebook {there}" if context.given else f"cd {there}; earwitness"  # elsewhere it is found
    say(f"A new casebook in {folder}. Next: {going} setup add NAME --from DIR", as_json)


@click.group(cls=CommandGroup)
def track() -> None:
    """Tracks: pieces of music, each recorded through the setups."""


@track.command("add")
@click.argument("name")
@click.option("--file", "files", multiple=True, metavar="SETUP=PATH", help="A setup's recording of it (repeat).")
@click.option("--music", type=click.Path(path_type=Path), help="The music itself, which real setups play.")
@click.option("--note", default="", help="What it is.")
@json_option
@click.pass_obj
def add_track(
    context: Context, name: str, files: tuple[str, ...], music: Path | None, note: str, as_json: bool
) -> None:
    """Add a track, or its music, or further recordings of one that is there."""
    pairs = [_setup_and_path(text) for text in files]
    with context.open() as casebook:
        there = catalogue.named(casebook, Track, name)
        if there and not pairs and music is None:
            raise CatalogueError(f"a track called {name!r} is in this casebook already; choose another name")
        track = there or catalogue.new_track(casebook, name, note)
        setups = [catalogue.find(casebook, Setup, setup_name) for setup_name, _ in pairs]
        added = [
            recording_folder.collected(casebook, setup, track, path)
            for setup, (_, path) in zip(setups, pairs, strict=True)
        ]
        added += [recording_folder.collected(casebook, None, track, music)] if music is not None else []
        added = recording_folder.laid(casebook, added)
        with casebook.writing():
            if not there:
                catalogue.keep(casebook, track)
            recording_folder.keep(casebook, added)
        settle(casebook, [track], context.hint, as_json)
    if as_json:
        document = {"track": track.name, "id": track.id, "recordings": [setup_name for setup_name, _ in pairs]}
        give(document | {"music": str(music) if music else None})
    what = counted(len(pairs), "recording") if pairs or music is None else "its music"
    say(f"Track {name!r}: {what} added.", as_json)


@track.command("music")
@click.argument("folder", type=click.Path(path_type=Path))
@json_option
@click.pass_obj
def add_music(context: Context, folder: Path, as_json: bool) -> None:
    """Add every audio file of FOLDER as the music of the track named like it, for real setups to play."""
    with context.open() as casebook:
        names = [one.track.name for one in recording_folder.add_folder(casebook, None, folder)]
    unread = strays.tell_unread(folder, as_json)
    if as_json:
        give({"tracks": names, "not_read": unread})
    say(f"{counted(len(names), 'track')} with their music added: {', '.join(names)}", as_json)


@click.group(cls=CommandGroup)
def listener() -> None:
    """Listeners: the people (and, in rehearsals, programs) who listen."""


@listener.command("add")
@click.argument("name")
@click.option("--note", default="", help="Anything worth knowing.")
@json_option
@click.pass_obj
def add_listener(context: Context, name: str, note: str, as_json: bool) -> None:
    """Add a listener."""
    with context.open() as casebook:
        row = catalogue.add_listener(casebook, name, note)
    if as_json:
        give({"listener": row.name, "id": row.id})
    say(f"Listener {name!r} added.", as_json)


def _setup_and_path(text: str) -> tuple[str, Path]:
    name, separator, path = text.partition("=")
    if not (separator and name and path):
        raise CatalogueError(f"--file takes SETUP=PATH; got {text!r}")
    return name, Path(path)


def described(casebook: Casebook, entry: Any) -> dict[str, Any]:
    """A catalogue entry for `show`: itself, and what belongs to it."""
    document = {key: value for key, value in asdict(entry).items() if not key.endswith("_id")}
    if isinstance(entry, Setup):
        names = catalogue.names(casebook, Track)
        found = [(names[each.track_id], each) for each in recordings.of_setup(casebook, entry)]
        document["recordings"] = _recordings(sorted(found, key=lambda pair: pair[0]))
        document["chain"] = None if entry.chain is None else entry.chain.to_document()
        document["plays"] = playback_chain.described(entry.chain)
    elif isinstance(entry, Track):
        names = catalogue.names(casebook, Setup)
        every = recordings.of_track(casebook, entry)
        music = [("the music", each) for each in every if each.setup_id is None]
        found = [(names[each.setup_id], each) for each in every if each.setup_id is not None]
        document["recordings"] = _recordings(music + sorted(found, key=lambda pair: pair[0]))
    return document


def _recordings(found: Sequence[tuple[str, Recording]]) -> list[dict[str, Any]]:
    """Recordings as they are shown, each with the name of what it is of."""
    shown = ("path", "rate_hz", "channels", "frames", "sha256", "length_s")
    return [{"of": name} | {part: getattr(each, part) for part in shown} for name, each in found]


def add_reading_commands(group: click.Group, kind: type[Any]) -> None:
    """Give a catalogue group its `list` and `show`."""
    plural = catalogue.TABLES[kind]

    @group.command("list")
    @json_option
    @click.pass_obj
    def list_all(context: Context, as_json: bool) -> None:
        """List them all."""
        with context.open() as casebook:
            rows = [described(casebook, entry) for entry in catalogue.everything(casebook, kind)]
        if as_json:
            give({plural: rows})
            return
        if not rows:
            say(f"No {plural} yet.")
            return
        say(table(["name", "note"], [[row[part] for part in ("name", "note")] for row in rows]))

    @group.command("show")
    @click.argument("name")
    @json_option
    @click.pass_obj
    def show(context: Context, name: str, as_json: bool) -> None:
        """Show one of them with all that belongs to it."""
        with context.open() as casebook:
            document = described(casebook, catalogue.find(casebook, kind, name))
        if as_json:
            give(document)
            return
        tell(document)


def tell(document: dict[str, Any]) -> None:
    """A catalogue entry on paper."""
    for key, value in document.items():
        if not isinstance(value, (list, dict)) and value is not None:
            say(f"{key}: {value}")
    for part in document.get("recordings", []):
        length = clock(part["length_s"])
        say(f"  {part['of']}: {part['path']} ({length}, {part['rate_hz']} Hz, {part['channels']} channels)")


for _group, _kind in ((track, Track), (listener, Listener)):
    add_reading_commands(_group, _kind)

COMMANDS = {"new": new, "listener": listener}
