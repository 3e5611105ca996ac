"""`curve sweep`: a curve taken here, one direction or a guided series."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from .context import Context, give, json_option, say
from .curve_options import calibration_of, conditions, stated

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
@click.option("--plane", type=click.Choice(["horizontal", "vertical"]), default="horizontal", show_default=True)
@click.option("--angle", type=click.IntRange(-180, 180), default=0, show_default=True)
@click.option("--angles", metavar="FROM:TO:STEP", help="A guided series; angles measured before are left out.")
@click.option("--heights", metavar="M,M,…", help="A guided vertical series by the microphone's height above the axis.")
@click.option("--calibration", type=click.Path(path_type=Path), help="The microphone's own file.")
@click.option("--file-lists", type=click.Choice(["response", "correction"]), help="What that file's numbers are.")
@conditions
@json_option
@click.pass_obj
def sweep(
    context: Context, setup: str, mic: str, angles: str | None, heights: str | None, as_json: bool, **given: Any
) -> None:
    """Take SETUP's impulse response by a sine sweep through its route and a microphone."""
    from audio.engine.routes import parse

    from ..measured import swept_curves

    route = parse(mic)
    if len(route.channels) != 1:
        raise CatalogueError(f"--mic takes one input, like interface:1; got {mic!r}")
    wish = swept_curves.Wish(
        route, given["low_hz"], given["high_hz"], given["seconds"], given["level"], given["averages"], given["rate"],
        given["channel"], calibration_of(given["calibration"], given["file_lists"]),
    )  # fmt: skip
    with context.open() as casebook:
        own = catalogue.find(casebook, Setup, setup)
        todo = series(casebook, own, given, angles, heights)
        say(CAUTION, as_json)
        taken = []
        for plane, angle, move in todo:
            if len(todo) > 1 or angles or heights:
                click.prompt(f"{move}, then press Enter", default="", show_default=False, err=True)
            done = swept_curves.take_sweep(
                casebook, context.recorder, own, wish, stated(given), plane=plane, angle=angle
            )
            taken.append(done)
            worst = max(done.harmonics_percent.values(), default=0.0)
            low, high = done.valid_hz
            say(
                f"{plane} {angle}°: valid from {low:.0f} to {high:.0f} Hz, noise {done.noise_db:.0f} dB below the "
                f"peak, harmonics at most {worst:.2f} %",
                as_json,
            )
    if as_json:
        give({"setup": setup, "curves": [done.row["id"] for done in taken]})


def series(
    casebook: Casebook, own: Setup, given: dict[str, Any], angles: str | None, heights: str | None
) -> list[tuple[str, int, str]]:
    """What is to be measured, and what to move before each; directions that are there already are left out."""
    from ..measured import curve_records, swept_curves

    if angles and heights:
        raise CatalogueError("a series goes by --angles or by --heights, not both")
    if not angles and not heights:
        return [(given["plane"], given["angle"], "")]
    there = curve_records.by_angle(casebook, own)
    todo = []
    if angles:
        try:
            start, end, step = (int(part) for part in angles.split(":"))
            wanted = list(range(start, end + (1 if step > 0 else -1), step))
        except ValueError:
            raise CatalogueError(
                f"--angles takes FROM:TO:STEP in whole degrees, like 0:180:10; got {angles!r}"
            ) from None
        what = "Turn the loudspeaker" if given["plane"] == "horizontal" else "Bring the microphone"
        todo = [(given["plane"], angle, f"{what} to {angle}°") for angle in wanted]
    else:
        if not given["distance"]:
            raise CatalogueError("--heights needs --distance, from which the angle follows")
        try:
            metres = [float(part) for part in str(heights).split(",")]
        except ValueError:
            raise CatalogueError(f"--heights takes metres, like -0.18,0,0.18; got {heights!r}") from None
        for height in metres:
            angle = swept_curves.angle_of_height(height, given["distance"])
            todo.append(("vertical", angle, f"Move the microphone to {height:+.2f} m from the axis ({angle}°)"))
    left = [one for one in todo if (one[0], one[1]) not in there]
    if not left:
        raise CatalogueError("every direction of this series is measured already; take single ones with --angle")
    return left
