"""`level`: dB SPL by a calibrator or a meter, and each listener's noise dose."""

from __future__ import annotations

import click

from ..casebook import catalogue, documents
from ..casebook.catalogue import Listener
from ..errors import CatalogueError
from .command_group import CommandGroup
from .context import Context, give, json_option, say, table
from .number_types import NUMBER, WholeRange


@click.group(cls=CommandGroup)
def level() -> None:
    """Sound level: calibrate a microphone in dB SPL, and read a listener's noise dose."""


@level.command("calibrate")
@click.option("--mic", required=True, metavar="DEVICE:INPUT", help="The microphone's input, like interface:1.")
@click.option("--calibrator", type=click.Choice(["94", "114"]), help="The calibrator's level at 1 kHz, in dB SPL.")
@click.option("--meter", type=NUMBER, metavar="DBA", help="Instead: what a sound level meter reads beside it, in dBA.")
@click.option("--route", metavar="DEVICE:1", help="With --meter: where the noise is played meanwhile.")
@click.option("--noise-level", type=NUMBER, default=-30.0, show_default=True, help="With --meter: its level in dBFS.")
@click.option("--rate", type=WholeRange(8000, 192000), default=48000, show_default=True, help="In Hz.")
@json_option
@click.pass_obj
def calibrate(
    context: Context,
    mic: str,
    calibrator: str | None,
    meter: float | None,
    route: str | None,
    noise_level: float,
    rate: int,
    as_json: bool,
) -> None:
    """Find what turns the microphone's reading into dB SPL: put the calibrator on and call this, or name a meter's dBA.

    Change nothing at the microphone's gain afterwards, or calibrate again.
    """
    from audio.engine.routes import parse

    from ..preparation import spl_calibration

    source = parse(mic, "--mic")
    if (calibrator is None) == (meter is None):
        raise CatalogueError("calibrate with --calibrator 94 (or 114), or with --meter DBA; one of the two")
    with context.open() as casebook:
        if calibrator is not None:
            made = spl_calibration.by_calibrator(casebook, context.recorder, source, float(calibrator), rate)
        else:
            if route is None:
                raise CatalogueError("--meter needs a noise to read; add --route DEVICE:1 to play it")
            assert meter is not None
            made = spl_calibration.by_meter(
                casebook, context.recorder, source, parse(route, "--route"), meter, noise_level, rate
            )
    if as_json:
        give(documents.plain(made))
    say(
        f"Input {made.input} of {made.device}: {made.read_dbfs:.2f} dBFS are {made.spl_db:g} dB SPL ({made.by}); "
        f"full scale is {made.offset_db:.1f} dB SPL.",
        as_json,
    )


@level.command("show")
@json_option
@click.pass_obj
def show(context: Context, as_json: bool) -> None:
    """The calibrations kept, newest last."""
    from ..preparation import spl_calibration

    with context.open() as casebook:
        found = spl_calibration.everything(casebook)
    if as_json:
        give({"calibrations": [documents.plain(kept.record) | {"at": kept.at} for kept in found]})
    elif not found:
        say("No calibration yet: earwitness level calibrate --mic DEVICE:1 --calibrator 94")
    else:
        shown = [(kept.at, kept.record) for kept in found]
        cells = [[at, one.device, str(one.input), one.by, f"{one.offset_db:.2f}"] for at, one in shown]
        say(table(["when", "device", "input", "by", "full scale, dB SPL"], cells))


@level.command("dose")
@click.option("--listener", required=True, help="Whose.")
@click.option("--sensitive", is_flag=True, help="By the allowance for children and sensitive listeners.")
@json_option
@click.pass_context
def dose(ctx: click.Context, listener: str, sensitive: bool, as_json: bool) -> None:
    """What a listener heard here: the day's noise dose and the week's allowance. Not medical advice.

    Exit status 1 when a limit is reached.
    """
    from ..listening import exposure

    context: Context = ctx.obj
    with context.open() as casebook:
        person = catalogue.find(casebook, Listener, listener)
        found = exposure.dose(casebook, person.id, "sensitive" if sensitive else "adult")
        heard = exposure.heard_s(casebook, person.id)
    if as_json:
        give(
            {
                "listener": person.name,
                "day_percent": found.day_percent,
                "week_percent": found.week_percent,
                "warning": found.warning,
                "heard_s": heard,
            }
        )
    say(
        f"{person.name}: {found.day_percent:.1f} % of the daily noise dose (NIOSH: 85 dBA for 8 h, 3 dB exchange) "
        f"in the last 24 hours, {found.week_percent:.1f} % of the weekly allowance (WHO and ITU) in the last 7 days.",
        as_json,
    )
    say(found.warning or "Only what was played here at a known level is counted; not medical advice.", as_json)
    ctx.exit(1 if found.day_percent >= 100 or found.week_percent >= 100 else 0)


COMMANDS = {"level": level}
