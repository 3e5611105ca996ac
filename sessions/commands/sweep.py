"""`curve sweep`: a curve taken here, one direction or a guided series."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any

import click

from audio.errors import AudioError

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from . import series_screen
from .context import Context, counted, give, json_option, say
from .curve_options import ANGLE, PLANE, calibration_of, conditions, fitting, microphone_file
from .number_types import NUMBER, WHOLE, NumberRange, WholeRange

if TYPE_CHECKING:
    from audio.engine.routes import Route

    from ..measured.conditions import Conditions, Direction
    from ..measured.member import Member
    from ..measured.sweep_series import Step
    from ..measured.swept_curves import SweptCurve

CAUTION = (
    "Start with the volume down: sweeps and tones can destroy tweeters and ears. "
    "Local codes and makers' limits come first."
)


@click.command("sweep")
@click.argument("setup")
@click.option("--mic", required=True, metavar="DEVICE:INPUT", help="The microphone's input, like interface:1.")
@click.option("--from", "low_hz", type=NUMBER, default=20.0, show_default=True, help="Nothing is played below, Hz.")
@click.option("--to", "high_hz", type=NUMBER, default=20_000.0, show_default=True, help="Hz.")
@click.option("--seconds", type=NUMBER, default=5.0, show_default=True)
@click.option("--level", type=NUMBER, default=-30.0, show_default=True, help="dBFS (peak); at most -12.")
@click.option("--averages", type=WHOLE, default=2, show_default=True)
@click.option("--channel", type=WHOLE, default=1, show_default=True, help="Of the setup's route.")
@click.option("--rate", type=WholeRange(8000, 192_000), default=48_000, show_default=True)
@click.option("--plane", type=PLANE, default="horizontal", show_default=True)
@click.option("--angle", type=ANGLE, default=0, show_default=True)
@click.option("--angles", metavar="FROM:TO:STEP", help="A guided series; angles measured before are left out.")
@click.option("--heights", metavar="M,M,…", help="A guided vertical series by the microphone's height above the axis.")
@click.option("--levels", metavar="FROM:TO:STEP", help="A guided series at rising levels, dBFS: shows compression.")
@click.option("--mic-height", type=NumberRange(0.01, 50), help="Of the microphone, m, where it is not --height.")
@microphone_file("The microphone's own file.")
@conditions
@json_option
@click.pass_obj
def sweep(
    context: Context,
    setup: str,
    *,
    mic: str,
    low_hz: float,
    high_hz: float,
    seconds: float,
    level: float,
    averages: int,
    channel: int,
    rate: int,
    plane: Any,
    angle: float,
    angles: str | None,
    heights: str | None,
    levels: str | None,
    mic_height: float | None,
    calibration: Path | None,
    file_lists: str | None,
    file_zero: str | None,
    stated: Conditions,
    as_json: bool,
) -> None:
    """Take SETUP's impulse response by a sine sweep through its route and a microphone.

    A series asks for a key before each step: g sweeps, k skips, b goes back, r redoes, n keeps a note, q stops.
    """
    from audio.engine.routes import parse

    from ..measured import swept_curves
    from ..measured.conditions import Direction

    route = parse(mic)
    if len(route.channels) != 1:
        raise CatalogueError(f"--mic takes one input, like interface:1; got {mic!r}")
    settings = swept_curves.SweepSettings(
        route,
        low_hz,
        high_hz,
        seconds,
        level,
        averages,
        rate,
        channel,
        calibration_of(calibration, file_lists, file_zero),
    )
    params = click.get_current_context().params
    taken: dict[Step, SweptCurve] = {}
    replaced: list[str] = []
    with context.open() as casebook:
        own = catalogue.find(casebook, Setup, setup)
        wish = _Wish(
            Direction(plane, angle),
            angles,
            heights,
            levels,
            stated.distance_m,
            params["height"],
            mic_height,
            stated.one_of,
        )
        steps = _steps(casebook, own, wish)
        for step in steps:
            swept_curves.check_level(level if step.level_dbfs is None else step.level_dbfs)
        say(CAUTION, as_json)

        def take(step: Step, note: str) -> None:
            conditions, said = step.conditions(stated, params["gate"])
            conditions = replace(conditions, note="; ".join(part for part in (stated.note, note) if part))
            own_settings = settings
            if step.level_dbfs is not None:
                own_settings = replace(settings, level_dbfs=step.level_dbfs)
                conditions = _driven(conditions, step.level_dbfs - float(steps[0].level_dbfs or 0.0))
            swept = swept_curves.take_sweep(
                casebook,
                context.recorder,
                own,
                own_settings,
                conditions,
                direction=step.direction,
                standing=step.standing,
                spl_offset=_spl_offset(casebook, route),
                replaces=taken[step].record if step in taken else None,
            )
            _say_swept(swept, said, as_json)
            if step in taken:
                replaced.append(taken[step].record.id)
                say(f"  {replaced[-1]} of the same step no longer counts; this one stands for it", as_json)
            taken[step] = swept

        def tried(step: Step, note: str) -> bool:
            try:
                take(step, note)
            except (AudioError, CatalogueError) as error:
                say(f"  not taken: {error}", as_json)
                return False
            return True

        if not (angles or heights or levels):
            take(steps[0], "")
        else:
            ended = series_screen.run(steps, tried)
            say(f"{counted(ended.taken, 'level' if levels else 'direction')} taken.", as_json)
            if ended.left:
                again = "" if levels else "; the same command goes on with them"
                say(f"Not taken: {', '.join(ended.left)}{again}.", as_json)
    if taken and not as_json:
        hint, records = context.hint, [swept.record for swept in taken.values()]
        what = " --what compression" if levels else fitting(records)
        say(f"See it: {hint} curve show {quote(setup)}{what}")
    if as_json:
        give(
            {
                "setup": setup,
                "curves": [swept.record.id for swept in taken.values()],
                "replaced": replaced,
                "disturbances": [list(swept.said) for swept in taken.values()],
            }
        )


@dataclass(frozen=True)
class _Wish:
    """What is to be measured, as it was asked for; heights and distance in metres."""

    single: Direction
    angles: str | None
    heights: str | None
    levels: str | None
    distance_m: float | None
    height_m: float | None
    mic_height_m: float | None
    member: Member


def _steps(casebook: Casebook, own: Setup, wish: _Wish) -> list[Step]:
    """What is to be measured: one direction, or what is left of a series."""
    from ..measured import curve_records, sweep_series

    if sum(one is not None for one in (wish.angles, wish.heights, wish.levels)) > 1:
        raise CatalogueError("a series goes by --angles, by --heights or by --levels, not both")
    if (wish.angles or wish.heights) and wish.mic_height_m:
        raise CatalogueError("in a series each step has its own height of the microphone; leave --mic-height out")
    if wish.angles:
        steps = sweep_series.by_angles(wish.angles, wish.single.plane, wish.distance_m, wish.height_m)
    elif wish.heights:
        steps = sweep_series.by_heights(wish.heights, wish.distance_m, wish.height_m)
    else:
        alone = sweep_series.single(wish.single, wish.distance_m, wish.height_m, wish.mic_height_m)
        return sweep_series.by_levels(wish.levels, alone) if wish.levels else [alone]
    return sweep_series.still_to_measure(steps, curve_records.directions_of(casebook, own, wish.member))


def _driven(stated: Conditions, rise_db: float) -> Conditions:
    """The conditions at a louder step: the stated volts are those of the first."""
    if stated.drive_volts is None:
        return stated
    return replace(stated, drive_volts=stated.drive_volts * 10 ** (rise_db / 20))


def _spl_offset(casebook: Casebook, mic: Route) -> Callable[[str], float | None]:
    """What the newest calibration of the microphone's input says."""
    from ..preparation import spl_calibration

    return lambda device: spl_calibration.offset_db(casebook, device, mic)


def _say_swept(swept: SweptCurve, said: list[str], as_json: bool) -> None:
    worst = max(swept.harmonics_percent.values(), default=0.0)
    stated = swept.record.conditions
    low, high = stated.valid_hz
    least = f"none above their own floor ({swept.floor_percent:.2g} %)"
    if not swept.harmonics_percent:
        least = "nowhere valid within the gate"
    harmonics = f"at most {worst:.2f} %" if worst else least
    unit = "dB SPL" if stated.spl else "not calibrated in dB SPL"
    say(
        f"{swept.record.direction} ({swept.record.id}): valid from {low:.0f} to {high:.0f} Hz, noise "
        f"{-swept.noise_db:.0f} dB below the peak, harmonics {harmonics}; {unit}, microphone: {stated.calibration}",
        as_json,
    )
    for line in (*said, *swept.said):
        say(f"  {line}", as_json)
