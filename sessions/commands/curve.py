"""`curve`: measured data: bring it in, take it here, list it, show it and compare it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any

import click

from ..casebook import catalogue, documents
from ..casebook.catalogue import Setup
from ..errors import CatalogueError
from .command_group import CommandGroup
from .context import Context, give, json_option, say, table
from .curve_options import ANGLE, PLANE, calibration_of, conditions, microphone_file
from .curve_show import show
from .sweep import sweep

if TYPE_CHECKING:
    from ..measured.conditions import Conditions


@click.group(cls=CommandGroup)
def curve() -> None:
    """Measured data: add, list, show, sweep."""


@curve.command("add")
@click.argument("setup")
@click.argument("source", type=click.Path(path_type=Path))
@click.option("--unit", type=click.Choice(["db", "pa", "v", "ohm"]), default="db", show_default=True)
@click.option("--phase", type=click.Choice(["deg", "rad"]), help="The unit of a third column, if it could be either.")
@click.option("--channel", type=int, default=1, show_default=True, help="Of an impulse response or a SOFA receiver.")
@click.option("--plane", type=PLANE, default="horizontal", show_default=True)
@click.option("--angle", type=ANGLE, default=0, show_default=True, help="Right and up are positive.")
@click.option("--smoothed", type=click.FloatRange(1, 96), help="The data are smoothed already: n of 1/n octave.")
@microphone_file("The microphone's file, not yet taken into account.")
@conditions
@json_option
@click.pass_obj
def add(
    context: Context,
    setup: str,
    source: Path,
    *,
    unit: Any,
    phase: Any,
    channel: int,
    plane: Any,
    angle: int,
    smoothed: float | None,
    calibration: Path | None,
    file_lists: str | None,
    stated: Conditions,
    as_json: bool,
) -> None:
    """Bring in SOURCE for SETUP: text columns, an impulse response, a folder or table of angles, or a SOFA file."""
    from ..measured import curve_import
    from ..measured.conditions import Direction

    microphone = calibration_of(calibration, file_lists)
    if not source.exists():
        raise CatalogueError(f"there is no {source}; name a file, a folder of files named by angle, or a table of them")
    stated = replace(
        stated,
        smoothing=smoothed or 0.0,
        calibration=f"{calibration.name}, its {file_lists}" if calibration else "none",
    )
    reading = curve_import.Reading(unit, phase, channel, Direction(plane, angle), microphone)
    with context.open() as casebook:
        own = catalogue.find(casebook, Setup, setup)
        brought = curve_import.bring(casebook, own, source, reading, stated)
    if as_json:
        give({"setup": setup, "curves": [kept.id for kept in brought.curves], "notes": brought.notes})
        return
    many = f"{len(brought.curves)} curves" if len(brought.curves) > 1 else "one curve"
    say(f"Kept {many} of {setup!r}, with the file as it is.")
    for note in brought.notes:
        say(f"  {note}")
    say(f"See it: {context.hint} curve show {quote(setup)}")


@curve.command("list")
@json_option
@click.pass_obj
def list_all(context: Context, as_json: bool) -> None:
    """List all curves, the newest last."""
    from ..measured import curve_records

    with context.open() as casebook:
        curves = curve_records.listed(casebook)
    if as_json:
        give({"curves": documents.plain(curves)})
        return
    headings = ["setup", "kind", "direction", "file", "since", "hash"]
    rows = [[one.setup, one.kind, str(one.direction), one.file, one.at, one.sha256[:12]] for one in curves]
    say(table(headings, rows))


@curve.command("join")
@click.argument("setup")
@click.argument("near", type=click.Path(path_type=Path))
@click.option("--at", "at_hz", type=click.FloatRange(20, 2000), required=True, help="Where the two meet, Hz.")
@click.option(
    "--octaves", type=click.FloatRange(0.1, 3), default=1.0, show_default=True, help="Over which they are faded."
)
@click.option("--radius", type=click.FloatRange(0.005, 1), help="Of the cone, m: says up to where a nearfield holds.")
@json_option
@click.pass_obj
def join(
    context: Context, setup: str, near: Path, at_hz: float, octaves: float, radius: float | None, as_json: bool
) -> None:
    """Join a nearfield reading NEAR (text columns) below SETUP's newest curve on axis, at one level around --at."""
    from ..measured import nearfield

    with context.open() as casebook:
        own = catalogue.find(casebook, Setup, setup)
        kept, made = nearfield.join(casebook, own, near, at_hz, octaves, radius)
    if as_json:
        give(
            {
                "setup": setup,
                "curve": kept.id,
                "at_hz": made.at_hz,
                "octaves": made.octaves,
                "moved_db": made.moved_db,
            }
        )
        return
    low, _ = made.curve.band
    say(
        f"Joined at {at_hz:g} Hz over {octaves:g} octaves: the nearfield was moved by {made.moved_db:+.2f} dB to the "
        f"far field's level there. Valid from {low:.0f} Hz."
    )


curve.add_command(show)
curve.add_command(sweep)

COMMANDS = {"curve": curve}
