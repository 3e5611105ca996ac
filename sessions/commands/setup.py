"""`setup`: what is compared, by recordings, by a route of its own, or behind an outside switch."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from ..casebook import catalogue, moved_recordings, playback_chain
from ..casebook.catalogue import Setup
from ..casebook.moved_recordings import Moved
from ..casebook.playback_chain import How, PlaybackChain
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..plans import overview
from ..plans.standings import SetupStanding
from ..preparation import recording_folder
from . import asked_device, next_step, status, strays
from .catalogue import described, tell
from .command_group import CommandGroup
from .context import Context, counted, give, json_option, progress, say
from .lags import settle
from .number_types import NUMBER, WholeRange
from .setup_fact import fact
from .times import TIME

CAUTION = (
    "Before cables move: amplifiers off. Never join two amplifiers' outputs, never ground a bridged output; "
    "mains-powered gear is opened by qualified people only."
)


@dataclass(frozen=True)
class GearOptions:
    """The options of real gear, as they were given; `hold` and `settle` in seconds."""

    route: str | None
    delay_ms: float
    switched: How | None
    action: str
    park: str
    silent_switch: bool
    hold: float | None
    settle: float
    port: str
    baud: int
    reply: str

    @property
    def of_a_switch(self) -> list[str]:
        """The options given that only an outside switch has."""
        given = {
            "--park": self.park,
            "--silent-switch": self.silent_switch,
            "--hold": self.hold,
            "--port": self.port,
            "--reply": self.reply,
            "--do": self.action,
        }
        return [option for option, value in given.items() if value]


@click.group(cls=CommandGroup)
def setup() -> None:
    """Setups: complete playback chains or renderings under comparison."""


@setup.command("add")
@click.argument("name")
@click.option("--from", "folder", type=click.Path(path_type=Path), help="A folder of its recordings, one file a track.")
@click.option("--route", metavar="DEVICE:1,2", help="Real gear: the device and the channels it plays on.")
@click.option("--delay", "delay_ms", type=NUMBER, default=0.0, help="Play it so many ms late, for its distance.")
@click.option(
    "--switched", type=click.Choice(playback_chain.HOWS), help="Real gear behind an outside switch, and what works it."
)
@click.option("--do", "action", default="", metavar="TEXT", help="The command, the bytes in hex, or the instruction.")
@click.option("--park", default="", metavar="TEXT", help="The same for the neutral position between (recommended).")
@click.option("--silent-switch", is_flag=True, help="The switch makes no sound where the listener sits.")
@click.option("--hold", type=TIME, metavar="S", help="Silence at every switch; 2 s, with an assistant 60 s.")
@click.option("--settle", type=TIME, default=0.5, show_default=True, metavar="S", help="Of it, after the switch.")
@click.option("--port", default="", help="Serial: the port, like /dev/ttyUSB0.")
@click.option("--baud", type=WholeRange(300, 4_000_000), default=9600, show_default=True, help="Serial: its speed.")
@click.option("--reply", default="", metavar="HEX", help="Serial: the bytes that confirm.")
@click.option("--note", default="", help="What it is.")
@click.option("--yes", is_flag=True, help="Add it without asking about tracks that other setups have and it has not.")
@json_option
@click.pass_obj
def add_setup(
    context: Context, /, name: str, folder: Path | None, note: str, yes: bool, as_json: bool, **gear: Any
) -> None:
    """Add a setup: by its recordings (--from), by a route of its own (--route), or behind a switch (--switched)."""
    chain = _chain(GearOptions(**gear))
    if chain and folder:
        raise CatalogueError("a setup is heard through recordings (--from) or as real gear (--route), not both")
    with context.open() as casebook:
        made = catalogue.new_setup(casebook, name, note, chain)
        if folder:
            progress(f"reading the recordings in {folder}, and laying them against those of other setups …")
        added = recording_folder.collect(casebook, made, folder) if folder else []
        unread = strays.tell_unread(folder, as_json) if folder else []
        if not strays.agreed(
            strays.of_setup(casebook, name, added, context.hint) if folder else [], f"Add {name!r} so?", yes, as_json
        ):
            say(f"Setup {name!r} is not added.", as_json)
            return
        with casebook.writing():
            catalogue.keep(casebook, made)
            recording_folder.keep(casebook, added)
        settle(casebook, [one.track for one in added], context.hint, as_json)
        stated = None if chain is None else chain.to_document()
        asked = [] if chain is None else asked_device.of_chain(chain)
        if as_json:
            give(
                {
                    "setup": made.name,
                    "id": made.id,
                    "recordings": [one.track.name for one in added],
                    "chain": stated,
                    "not_read": unread,
                    "checked": asked,
                }
            )
        more = f" with {counted(len(added), 'recording')}" if added else ""
        if chain:
            more = f": {playback_chain.described(chain)}"
        say(f"Setup {name!r} added{more}.", as_json)
        if chain:
            for line in asked:
                say(line, as_json)
            say(CAUTION, as_json)
        next_step.tell(casebook, context.hint, as_json)


@setup.command("relink")
@click.argument("folder", type=click.Path(path_type=Path))
@json_option
@click.pass_obj
def relink(context: Context, folder: Path, as_json: bool) -> None:
    """Point at recordings that moved: FOLDER, and what is below it, is searched for the very same files.

    They are known by their content, whatever they are called now, so that nothing sealed is touched.
    """
    with context.open() as casebook:
        lost = moved_recordings.found_in(folder, moved_recordings.missing(casebook))
        moved_recordings.keep(casebook, lost)
        _tell_relinked(casebook, folder, lost, context.hint, as_json)


def _tell_relinked(casebook: Casebook, folder: Path, lost: list[Moved], hint: str, as_json: bool) -> None:
    gone = [str(one.was) for one in lost if one.now is None]
    if as_json:
        there = [{"was": str(one.was), "now": str(one.now)} for one in lost if one.now is not None]
        give({"moved": there, "missing": gone})
    if not lost:
        say("All recordings are where they were.", as_json)
        next_step.tell(casebook, hint, as_json)
        return
    say(f"{counted(len(lost) - len(gone), 'file')} found again in {folder}.", as_json)
    for path in gone:
        say(f"  not there: {path}", as_json)
    next_step.tell(casebook, hint, as_json)
    if gone:
        sys.exit(1)


def _chain(gear: GearOptions) -> PlaybackChain | None:
    if gear.switched is None:
        if gear.of_a_switch:
            raise CatalogueError(
                f"{gear.of_a_switch[0]} belongs to an outside switch; add --switched {' | '.join(playback_chain.HOWS)}"
            )
        if gear.route is None:
            if gear.delay_ms:
                raise CatalogueError("--delay belongs to real gear; add --route DEVICE:1,2")
            return None
        return playback_chain.routed(gear.route, gear.delay_ms)
    wish = playback_chain.SwitchWish(
        how=gear.switched,
        action=gear.action,
        park=gear.park,
        port=gear.port,
        baud=gear.baud,
        reply=gear.reply,
        silent=gear.silent_switch,
        hold_ms=None if gear.hold is None else round(1000 * gear.hold),
        settle_ms=round(1000 * gear.settle),
    )
    return playback_chain.switched(gear.route or ":1,2", wish, gear.delay_ms)


@setup.command("list")
@json_option
@click.pass_obj
def list_all(context: Context, as_json: bool) -> None:
    """List them all: what each plays, and what it lacks."""
    with context.open() as casebook:
        rows = [described(casebook, one) for one in catalogue.everything(casebook, Setup)]
        stands = overview.gather(casebook)
    if as_json:
        give({"setups": [_whole(row, own) for row, own in zip(rows, stands.setups, strict=True)]})
        return
    for line in status.setup_lines(stands) or ["No setups yet."]:
        say(line)


@setup.command("show")
@click.argument("name")
@json_option
@click.pass_obj
def show(context: Context, name: str, as_json: bool) -> None:
    """Show one of them: its chain or recordings, and what it lacks."""
    with context.open() as casebook:
        own = catalogue.find(casebook, Setup, name)
        stands = next(one for one in overview.gather(casebook).setups if one.name == own.name)
        document = _whole(described(casebook, own), stands)
    if as_json:
        give(document)
        return
    tell(document)
    if stands.lacks:
        say(f"lacks: {', '.join(stands.lacks)}")
    for path in stands.missing_files:
        say(f"not where it was: {path}")
    for path in stands.changed_files:
        say(f"not what was added any more: {path}")
    for path in stands.unread_files:
        say(f"written since it was added, and not looked at: {path}")


def _whole(document: dict[str, Any], stands: SetupStanding) -> dict[str, Any]:
    return document | {
        "lacks": list(stands.lacks),
        "missing_files": list(stands.missing_files),
        "changed_files": list(stands.changed_files),
        "unread_files": list(stands.unread_files),
    }


setup.add_command(fact)

COMMANDS = {"setup": setup}
