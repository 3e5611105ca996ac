"""`curve`: measured data: bring it in, take it here, list it, show it and compare it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any

import click

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..errors import CatalogueError
from .command_group import CommandGroup
from .context import Context, counted, give, json_option, say, table
from .curve_export import export
from .curve_options import ANGLE, PLANE, calibration_of, conditions, fitting, given, microphone_file
from .curve_show import show
from .loop import loop
from .number_types import WHOLE, NumberRange, WholeRange
from .sweep import sweep

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ..measured.conditions import Conditions
    from ..measured.curve_records import CurveRecord, ListedCurve


MOST_NAMED = 4


@click.group(cls=CommandGroup)
def curve() -> None:
    """Measured data: add, list, show, export, sweep, loop, withdraw."""


@curve.command("add")
@click.argument("setup")
@click.argument("source", type=click.Path(path_type=Path))
@click.option(
    "--unit",
    type=click.Choice(["db", "pa", "v", "ohm", "gain"], case_sensitive=False),
    help="Of the levels, if no heading says it.",
)
@click.option(
    "--phase",
    type=click.Choice(["deg", "rad"], case_sensitive=False),
    help="The unit of the phases, if no heading says it.",
)
@click.option(
    "--frequency-unit", type=click.Choice(["hz", "khz", "rad/s"], case_sensitive=False), help="If no heading says it."
)
@click.option("--column", default="", metavar="N|NAME", help="Of several columns of levels, the one meant.")
@click.option("--part", type=WholeRange(1), help="Of several curves one under the other, the one meant.")
@click.option("--channel", type=WHOLE, default=1, show_default=True, help="Of an impulse response or a SOFA receiver.")
@click.option("--emitter", type=WholeRange(1), help="Of a SOFA file with several.")
@click.option("--plane", type=PLANE, default="horizontal", show_default=True)
@click.option("--angle", type=ANGLE, default=0, show_default=True, help="Right and up are positive.")
@click.option("--smoothed", type=NumberRange(1, 96), help="The data are smoothed already: n of 1/n octave.")
@click.option("--spl", is_flag=True, help="The levels are dB SPL at the stated distance and voltage.")
@click.option("--spl-is-right", is_flag=True, help="Unlikely though the level is.")
@click.option("--replaces", multiple=True, metavar="ID", help="A curve that is withdrawn with it; again for more.")
@click.option("--why", default="", help="Why that one no longer counts.")
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
    frequency_unit: Any,
    column: str,
    part: int | None,
    channel: int,
    emitter: int | None,
    plane: Any,
    angle: float,
    smoothed: float | None,
    spl: bool,
    spl_is_right: bool,
    replaces: tuple[str, ...],
    why: str,
    calibration: Path | None,
    file_lists: str | None,
    file_zero: str | None,
    stated: Conditions,
    as_json: bool,
) -> None:
    """Bring in SOURCE for SETUP: text columns, an impulse response, a folder or table of angles, or a SOFA file."""
    from ..measured import curve_import, curve_records
    from ..measured.conditions import Direction

    microphone = calibration_of(calibration, file_lists, file_zero)
    if not source.exists():
        raise CatalogueError(f"there is no {source}; name a file, a folder of files named by angle, or a table of them")
    if why and not replaces:
        raise CatalogueError("--why says why a curve no longer counts; name that one with --replaces ID")
    stated = replace(
        stated,
        smoothing=smoothed or 0.0,
        spl=spl or spl_is_right,
        calibration="none",  # what is done about a microphone is said where it is done
    )
    one = stated.one_of
    reading = curve_import.Reading(
        unit,
        phase,
        channel,
        Direction(plane, angle),
        microphone,
        frequency_unit,
        column,
        part,
        emitter,
        name_says=not (given("angle") or one.place or one.coupler),
        asks_level=not spl_is_right,
    )
    with context.open() as casebook:
        own = catalogue.find(casebook, Setup, setup)
        old = [curve_records.by_id(casebook, one) for one in replaces]
        brought = curve_import.bring(casebook, own, source, reading, stated, replaces=old, why=why)
    if as_json:
        ids = [kept.id for kept in brought.curves]
        give({"setup": setup, "curves": ids, "read_as": brought.read_as, "notes": brought.notes})
        return
    many = f"{len(brought.curves)} curves" if len(brought.curves) > 1 else f"one curve ({brought.curves[0].id})"
    say(f"Kept {many} of {setup!r} as {_towards(brought.curves)}, with the file as it is.")
    for line in (*brought.read_as, *brought.notes):
        say(f"  {line}")
    if replaces:
        say(f"  no longer counted: {', '.join(replaces)} ({why})")
    say(f"See it: {context.hint} curve show {quote(setup)}{fitting(brought.curves)}")


def _towards(curves: Sequence[CurveRecord]) -> str:
    """Where curves were measured, or what else they are, in few words."""
    if len(curves) == 1:
        [one] = curves
        return str(one.direction) if one.kind in ("response", "impulse") else one.kind
    planes: dict[str, list[float]] = {}
    for one in curves:
        planes.setdefault(one.direction.plane if one.kind in ("response", "impulse") else one.kind, []).append(
            one.direction.angle
        )
    return ", ".join(
        f"{plane} {', '.join(f'{angle:g}°' for angle in sorted(angles))}"
        if len(angles) <= MOST_NAMED
        else f"{len(angles)} {plane} directions from {min(angles):g}° to {max(angles):g}°"
        for plane, angles in planes.items()
    )


@curve.command("list")
@json_option
@click.pass_obj
def list_all(context: Context, as_json: bool) -> None:
    """List all curves with their conditions, the newest last; withdrawn ones with the reason."""
    from ..measured import curve_records
    from . import kept_run_told

    with context.open() as casebook:
        holds = kept_run_told.tell_if_edited(casebook, as_json)
        curves = curve_records.listed(casebook)
    if as_json:
        give({"curves": [one.to_document() for one in curves], "record_holds": holds})
        return
    headings = ["id", "setup", "kind", "direction", "measured", "conditions", "file"]
    say(table(headings, [_row(one) for one in curves]))


def _row(one: ListedCurve) -> list[str]:
    """A curve's line; `measured` is when somebody says it was, or else when it was kept."""
    gone = ""
    if one.withdrawn:
        gone = f"withdrawn: {one.withdrawn}" + (f" (replaced by {one.replaced_by})" if one.replaced_by else "")
    stated = "; ".join(part for part in (gone, one.conditions.in_words()) if part)
    kind = f"harmonic {one.conditions.harmonic}" if one.conditions.harmonic else one.kind
    return [one.id, one.setup, kind, str(one.direction), one.conditions.when or one.at[:10], stated, one.file]


@curve.command("withdraw")
@click.argument("ids", metavar="ID…", nargs=-1, required=True)
@click.option("--why", default="", help="The reason, which stays on record.")
@json_option
@click.pass_obj
def withdraw(context: Context, ids: tuple[str, ...], why: str, as_json: bool) -> None:
    """Say of curves that they no longer count, and why; nothing is deleted."""
    from ..measured import curve_records

    with context.open() as casebook:
        gone = curve_records.withdraw(casebook, [curve_records.by_id(casebook, one) for one in ids], why)
    if as_json:
        give({"withdrawn": gone, "why": why})
        return
    more = f", with {counted(len(gone) - len(ids), 'harmonic')} of the same sweep" if len(gone) > len(ids) else ""
    stay = "It stays" if len(gone) == 1 else "They stay"
    say(f"No longer counted: {', '.join(ids)}{more}. {stay} on record, with the reason.")


@curve.command("join")
@click.argument("setup")
@click.argument("near", type=click.Path(path_type=Path))
@click.option("--at", "at_hz", type=NumberRange(20, 2000), required=True, help="Where the two meet, Hz.")
@click.option("--octaves", type=NumberRange(0.1, 3), default=1.0, show_default=True, help="Over which they are faded.")
@click.option("--radius", type=NumberRange(0.005, 1), help="Of the cone, m: says up to where a nearfield holds.")
@click.option(
    "--port",
    "others",
    type=(click.Path(path_type=Path), NumberRange(0.005, 1)),
    metavar="FILE M",
    multiple=True,
    help="A port's nearfield (or another cone's) with phase, and its radius; again for more.",
)
@click.option("--baffle", type=NumberRange(0.05, 3), metavar="M", help="The front's width: takes its step off.")
@click.option(
    "--unit",
    type=click.Choice(["db", "pa", "v", "gain"], case_sensitive=False),
    help="Of NEAR's levels, if no heading says it.",
)
@json_option
@click.pass_obj
def join(
    context: Context,
    setup: str,
    near: Path,
    *,
    at_hz: float,
    octaves: float,
    radius: float | None,
    others: tuple[tuple[Path, float], ...],
    baffle: float | None,
    unit: Any,
    as_json: bool,
) -> None:
    """Join a nearfield reading NEAR (text columns) below SETUP's newest curve on axis, at one level around --at."""
    from ..measured import nearfield
    from ..measured.figures.figure import signed
    from . import kept_run_told

    with context.open() as casebook:
        holds = kept_run_told.tell_if_edited(casebook, as_json)
        own = catalogue.find(casebook, Setup, setup)
        wish = nearfield.Join(at_hz, octaves, radius, others, baffle, unit)
        joined = nearfield.join(casebook, own, near, wish)
    made = joined.splice
    if as_json:
        give(
            {
                "setup": setup,
                "curve": joined.record.id,
                "at_hz": made.at_hz,
                "octaves": made.octaves,
                "moved_db": made.moved_db,
                "said": list(joined.said),
                "record_holds": holds,
            }
        )
        return
    low, _ = made.curve.band
    say(
        f"Joined at {at_hz:g} Hz over {octaves:g} octaves: the nearfield was moved by {signed(made.moved_db)} dB to "
        f"the far field's level there. Valid from {low:.0f} Hz."
    )
    for line in joined.said:
        say(f"  {line}")


curve.add_command(show)
curve.add_command(export)
curve.add_command(sweep)
curve.add_command(loop)

COMMANDS = {"curve": curve}
