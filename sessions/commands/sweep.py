"""`curve sweep`: a curve taken here, one direction or a guided series."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from .context import Context, give, json_option, say
from .curve_options import ANGLE, PLANE, calibration_of, conditions, microphone_file

if TYPE_CHECKING:
    from ..measured.conditions import Conditions, Direction
    from ..measured.sweep_series import Step
    from ..measured.swept_curves import SweptCurve

CAUTION = (
    "Start with the volume down: sweeps and tones can destroy tweeters and ears. "
    "Local codes and makers' limits come first."
)


@click.command("sweep")
@click.argument("setup")
@click.option("--mic", required=True, metavar="DEVICE:INPUT", help="The microphone's input, like interface:1.")
@click.option("--from", "low_hz", type=float, default=20.0, show_default=True, help="Nothing is played below, Hz.")
@click.option("--to", "high_hz", type=float, default=20_000.0, show_default=True, help="Hz.")
@click.option("--seconds", type=float, default=5.0, show_default=True)
@click.option("--level", type=float, default=-30.0, show_default=True, help="dBFS (peak); at most -12.")
@click.option("--averages", type=int, default=2, show_default=True)
@click.option("--channel", type=int, default=1, show_default=True, help="Of the setup's route.")
@click.option("--rate", type=click.IntRange(8000, 192_000), default=48_000, show_default=True)
@click.option("--plane", type=PLANE, default="horizontal", show_default=True)
@click.option("--angle", type=ANGLE, default=0, show_default=True)
@click.option("--angles", metavar="FROM:TO:STEP", help="A guided series; angles measured before are left out.")
@click.option("--heights", metavar="M,M,…", help="A guided vertical series by the microphone's height above the axis.")
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
    calibration: Path | None,
    file_lists: str | None,
    file_zero: str | None,
    stated: Conditions,
    as_json: bool,
) -> None:
    """Take SETUP's impulse response by a sine sweep through its route and a microphone."""
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
    taken = []
    with context.open() as casebook:
        own = catalogue.find(casebook, Setup, setup)
        steps = _steps(casebook, own, Direction(plane, angle), angles, heights, stated.distance_m)
        say(CAUTION, as_json)
        for step in steps:
            if step.move:
                click.prompt(f"{step.move}, then press Enter", default="", show_default=False, err=True)
            swept = swept_curves.take_sweep(casebook, context.recorder, own, settings, stated, direction=step.direction)
            taken.append(swept)
            _say_swept(swept, as_json)
    if as_json:
        give({"setup": setup, "curves": [swept.record.id for swept in taken]})


def _steps(
    casebook: Casebook,
    own: Setup,
    single: Direction,
    angles: str | None,
    heights: str | None,
    distance_m: float | None,
) -> list[Step]:
    """What is to be measured: one direction, or what is left of a series."""
    from ..measured import curve_records, sweep_series

    if angles and heights:
        raise CatalogueError("a series goes by --angles or by --heights, not both")
    if angles:
        steps = sweep_series.by_angles(angles, single.plane)
    elif heights:
        steps = sweep_series.by_heights(heights, distance_m)
    else:
        return [sweep_series.Step(single, "")]
    return sweep_series.still_to_measure(steps, curve_records.directions_of(casebook, own))


def _say_swept(swept: SweptCurve, as_json: bool) -> None:
    worst = max(swept.harmonics_percent.values(), default=0.0)
    low, high = swept.record.conditions.valid_hz
    say(
        f"{swept.record.direction}: valid from {low:.0f} to {high:.0f} Hz, noise {swept.noise_db:.0f} dB below the "
        f"peak, harmonics at most {worst:.2f} %",
        as_json,
    )
