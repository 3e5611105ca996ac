"""`match`: the evidence that setups play equally loud, in files, at the microphone, or at the terminals."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import next_step
from .command_group import CommandGroup
from .context import Context, give, json_option, progress, say
from .curve_options import FILE_ZERO
from .loudness_options import (
    CHAIR_LEVEL_OF_MUSIC,
    CHAIR_SPL_DB,
    LOUDNESS,
    TELL_LOUDNESS,
    Measure,
    check_chair_level,
    heard_at,
    tell_lacking,
    tells_loudness,
)
from .match_steps import calibration_of, check_person, leader, wait
from .match_summary import tell_sheet
from .number_types import NUMBER, WholeRange

if TYPE_CHECKING:
    from ..preparation.match_sheet import MatchSheet

WEIGHTINGS = ("band", "bs1770", "a", "c", "z")
QUIET = "Start quiet: turn the volume down before the first noise, then up to your listening level; protect your ears."

_setups = click.option("--setup", "setups", multiple=True, help="A setup to match (repeat); all if none is named.")
_passages = click.option("--passage", "passages", multiple=True, help="A passage (repeat); all if none is named.")
_tolerance = click.option(
    "--tolerance", type=NUMBER, default=0.1, show_default=True, help="The mismatch allowed, in LU (or dB)."
)
_rate = click.option(
    "--rate", type=WholeRange(8000, 192000), help="Prepare at this rate in Hz; otherwise the highest used."
)


@click.group(cls=CommandGroup)
def match() -> None:
    """Match sheets: equal loudness, measured again."""


@match.command("files")
@_setups
@_passages
@click.option(
    "--by",
    type=Measure(["bs1770", "a", "c", "band", *LOUDNESS]),
    default="bs1770",
    show_default=True,
    help="What equal means; zwicker: loudness by ISO 532-1 (an extra to install), a passage as one steady sound; "
    "zwicker-n5: for sounds that come and go, the loudness exceeded in 5 % of the time (slow). As a sheet states it, "
    "zwicker@98 says at which dB SPL full scale plays.",
)
@CHAIR_LEVEL_OF_MUSIC
@TELL_LOUDNESS
@_tolerance
@_rate
@json_option
@click.pass_context
def match_files(
    ctx: click.Context,
    setups: tuple[str, ...],
    passages: tuple[str, ...],
    by: Any,
    chair_level: float | None,
    iso_532: bool | None,
    tolerance: float,
    rate: int | None,
    as_json: bool,
) -> None:
    """Bring recordings to equal loudness by attenuation, prepare them, and measure the prepared audio again."""
    from ..preparation.match_files import kept_rate, make_match_sheet
    from ..preparation.selection import select

    context: Context = ctx.obj
    _check_tolerance(tolerance)
    tells = tells_loudness(iso_532)
    check_chair_level(chair_level, heard=bool(tells) or by.partition("@")[0] in LOUDNESS)
    spl_db = CHAIR_SPL_DB if chair_level is None else chair_level
    with context.open() as casebook:
        selection = select(casebook, setups, passages)
        kept = kept_rate(casebook, selection) if rate is None else None
        sheet = make_match_sheet(
            casebook,
            selection,
            by=by,
            tolerance_lu=tolerance,
            rate_hz=rate or kept,
            chair_spl_db=spl_db,
            iso_532=tells,
            progress=progress,
        )
        if by in LOUDNESS or (tells and "@" not in by):
            taken = "Taken for granted" if chair_level is None else "As stated"
            another = "; another level: --chair-level DB" if chair_level is None else ""
            say(f"{taken}: the loudest passage plays at {spl_db:g} dB SPL at the chair{another}", as_json)
        if kept:
            say(f"Prepared at {kept} Hz, the rate chosen before for these setups; for another one: --rate HZ", as_json)
        _end(ctx, casebook, sheet, as_json, iso_532)


@match.command("mic")
@_setups
@_passages
@click.option(
    "--mic", required=True, metavar="DEVICE:INPUT", help="The microphone's device and input, like interface:1."
)
@click.option(
    "--by",
    type=click.Choice([*WEIGHTINGS, *LOUDNESS]),
    default="band",
    show_default=True,
    help="What equal means; zwicker: loudness of the noise by ISO 532-1 (an extra to install); zwicker-n5: the "
    "loudness that it exceeds in 5 % of the time, which steady noise does by little (slow).",
)
@click.option(
    "--chair-level",
    type=NUMBER,
    metavar="DB_SPL",
    help="For ISO 532-1, with a microphone that is not calibrated: how loud the softest setup's noise plays.  "
    "[default: 75, taken for granted]",
)
@TELL_LOUDNESS
@click.option("--positions", type=WholeRange(1, 20), default=1, show_default=True, help="Places around the chair.")
@click.option("--repeatability", type=NUMBER, default=0.1, show_default=True, help="Wanted of a reading, ± dB (95 %).")
@click.option("--level", type=NUMBER, default=-30.0, show_default=True, help="The noise's RMS level in dBFS.")
@click.option(
    "--calibration", type=click.Path(path_type=Path), help="The microphone's file: lines of frequency and dB."
)
@click.option(
    "--calibration-is",
    type=click.Choice(["response", "correction"]),
    help="What the file lists: the microphone's own response (taken off), or a correction (added).",
)
@FILE_ZERO
@_tolerance
@_rate
@json_option
@click.pass_context
def match_mic(
    ctx: click.Context,
    setups: tuple[str, ...],
    passages: tuple[str, ...],
    mic: str,
    by: Any,
    chair_level: float | None,
    iso_532: bool | None,
    positions: int,
    repeatability: float,
    level: float,
    calibration: Path | None,
    calibration_is: str | None,
    file_zero: Any,
    tolerance: float,
    rate: int | None,
    as_json: bool,
) -> None:
    """Play noise through each setup, read it at the chair, trim, read again; then prepare the passages so."""
    from audio.engine.routes import parse

    from ..preparation import match_real_gear, microphone_pass
    from ..preparation.selection import select

    context: Context = ctx.obj
    _check_tolerance(tolerance)
    if not 0.02 <= repeatability <= 1:
        raise CatalogueError(f"--repeatability {repeatability:g} is out of range; give 0.02 to 1 dB")
    if not -80 <= level <= microphone_pass.HIGHEST_LEVEL_DBFS:
        raise CatalogueError(
            f"--level {level:g} is out of range; give -80 to {microphone_pass.HIGHEST_LEVEL_DBFS:g} dBFS"
        )
    tells = tells_loudness(iso_532)
    check_chair_level(chair_level, heard=bool(tells) or by in LOUDNESS)
    wish = microphone_pass.MicrophoneWish(
        mic=parse(mic, "--mic"),
        by=by,
        positions=positions,
        repeatability_db=repeatability,
        level_dbfs=level,
        calibration=calibration_of(calibration, calibration_is, file_zero),
        tolerance_db=tolerance,
        rate_hz=rate,
        chair_spl_db=CHAIR_SPL_DB if chair_level is None else chair_level,
        iso_532=tells,
    )
    with context.open() as casebook:
        selection = select(casebook, setups, passages)
        say(QUIET, as_json=True)
        sheet = match_real_gear.by_microphone(
            casebook,
            context.recorder,
            selection,
            wish,
            moved=lambda place: wait(f"Put the microphone at position {place} of {positions}, then press Enter"),
            led=leader(casebook, selection),
            progress=progress,
        )
        _end(ctx, casebook, sheet, as_json, iso_532)


@match.command("volts")
@_setups
@_passages
@click.option(
    "--reading", "readings", multiple=True, metavar="SETUP@HZ=VOLTS", help="A reading made before (repeat); else asked."
)
@click.option("--after", "afters", multiple=True, metavar="SETUP=VOLTS", help="A reading at 1 kHz with the trims on.")
@click.option("--play/--no-play", default=True, show_default=True, help="Play the tones on the setups' routes.")
@click.option("--level", type=NUMBER, default=-20.0, show_default=True, help="The tone's level in dBFS (peak).")
@CHAIR_LEVEL_OF_MUSIC
@TELL_LOUDNESS
@_tolerance
@_rate
@json_option
@click.pass_context
def match_volts(
    ctx: click.Context,
    setups: tuple[str, ...],
    passages: tuple[str, ...],
    readings: tuple[str, ...],
    afters: tuple[str, ...],
    play: bool,
    level: float,
    chair_level: float | None,
    iso_532: bool | None,
    tolerance: float,
    rate: int | None,
    as_json: bool,
) -> None:
    """Read each chain's voltage for the same tone at the amplifier's terminals, trim, and read again."""
    from ..preparation import match_real_gear, volt_readings
    from ..preparation.selection import check_real, select
    from . import volts

    context: Context = ctx.obj
    _check_tolerance(tolerance)
    tells = tells_loudness(iso_532)
    spl_db = heard_at(chair_level, tells)
    if not -60 <= level <= -6:
        raise CatalogueError(f"--level {level:g} is out of range; give -60 to -6 dBFS")
    with context.open() as casebook:
        selection = select(casebook, setups, passages)
        found = check_real(selection)
        given = volt_readings.given(selection, readings, afters)
        if given is None:
            check_person("match volts asks for readings; without a terminal name them with --reading and --after")
            given = volts.asked(selection, found, level, play, rate)
        before, after = given
        sheet = match_real_gear.by_voltmeter(
            casebook,
            selection,
            before,
            after,
            tolerance_db=tolerance,
            rate_hz=rate,
            chair_spl_db=spl_db,
            iso_532=tells,
            progress=progress,
        )
        _end(ctx, casebook, sheet, as_json, iso_532)


@match.command("passages")
@_setups
@_passages
@CHAIR_LEVEL_OF_MUSIC
@TELL_LOUDNESS
@json_option
@click.pass_context
def match_passages(
    ctx: click.Context,
    setups: tuple[str, ...],
    passages: tuple[str, ...],
    chair_level: float | None,
    iso_532: bool | None,
    as_json: bool,
) -> None:
    """Prepare passages with the readings of the newest microphone or voltmeter sheet, without reading again."""
    from ..preparation import match_real_gear
    from ..preparation.selection import select

    context: Context = ctx.obj
    tells = tells_loudness(iso_532)
    spl_db = heard_at(chair_level, tells)
    with context.open() as casebook:
        sheet = match_real_gear.further_passages(casebook, select(casebook, setups, passages), spl_db, tells, progress)
        _end(ctx, casebook, sheet, as_json, iso_532)


@match.command("show")
@json_option
@click.pass_obj
def show_match(context: Context, as_json: bool) -> None:
    """Show the newest match sheet: gains, what is left, and what another meaning of equally loud would have given."""
    from ..preparation import match_sheet
    from ..preparation.meanings import document_of

    with context.open() as casebook:
        kept = next(match_sheet.newest_first(casebook), None)
        if kept is None:
            raise CatalogueError(f"nothing is matched yet; match first: {context.hint} match files")
        steps = _in_step(casebook, kept.record, kept.seq)
    if as_json:
        give(document_of(kept.record))
        return
    tell_sheet(kept.record)
    for line in steps:
        say(line)


def _in_step(casebook: Casebook, sheet: MatchSheet, before: int | None = None) -> list[str]:
    """How recordings were brought into step for what was prepared; real gear plays one and the same music."""
    if sheet.readings is not None:
        return []
    from . import lags  # it loads arithmetic

    return lags.cut_so(casebook, {part.prepared.passage for part in sheet.passages}, before)


def _check_tolerance(tolerance: float) -> None:
    if math.isnan(tolerance) or not 0.01 <= tolerance <= 3:
        raise CatalogueError(f"--tolerance {tolerance:g} is out of range; give 0.01 to 3 LU, usually 0.1")


def _end(ctx: click.Context, casebook: Casebook, sheet: MatchSheet, as_json: bool, iso_532: bool | None) -> None:
    from ..preparation.meanings import document_of

    if as_json:
        give(document_of(sheet))
    else:
        tell_sheet(sheet)
        for line in _in_step(casebook, sheet):
            say(line)
        tell_lacking(sheet, iso_532)
    next_step.tell(casebook, ctx.obj.hint, as_json)
    ctx.exit(0 if sheet.ok else 1)


COMMANDS = {"match": match}
