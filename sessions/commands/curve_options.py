"""What the commands about curves have in common: the conditions of a measurement, and the microphone's own file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..errors import CatalogueError

if TYPE_CHECKING:
    from ..measured.curve_records import Conditions


def conditions(command: Any) -> Any:
    """Add the options that say how something was measured."""
    for option in (
        click.option("--note", default="", help="Anything else."),
        click.option("--when", default="", help="When it was measured."),
        click.option("--by", default="", help="Who measured it."),
        click.option("--room", default="", help="Where."),
        click.option("--axis", default="", help="The axis meant by 0 degrees, such as 'tweeter'."),
        click.option("--volts", type=click.FloatRange(0.001, 200), help="The drive voltage, such as 2.83."),
        click.option("--height", type=click.FloatRange(0.01, 50), help="Of source and microphone, m: gives the gate."),
        click.option("--distance", type=click.FloatRange(0.01, 50), help="From source to microphone, m."),
        click.option("--window", type=click.Choice(["half-hann", "half-tukey", "rectangular"]), default="half-tukey"),
        click.option("--gate", type=click.FloatRange(0.1, 5000), help="The gate in ms; below 1/gate nothing is valid."),
    ):
        command = option(command)
    return command


def stated(given: dict[str, Any], **more: Any) -> Conditions:
    """The conditions that the options say; the gate follows from the geometry where only that is given."""
    from audio.curves import gate

    from ..measured.curve_records import Conditions

    length = given["gate"]
    if length is None and given["height"] and given["distance"]:
        length = 1000 * gate.reflection_free_s(given["distance"], given["height"], given["height"])
    return Conditions(
        distance_m=given["distance"],
        drive_volts=given["volts"],
        gate_ms=length,
        window=given["window"],
        axis=given["axis"],
        room=given["room"],
        by=given["by"],
        when=given["when"],
        note=given["note"],
        **more,
    )


def calibration_of(path: Path | None, lists: str | None) -> Any:
    """A microphone's file, once it is said what its numbers are."""
    from audio.room import microphone

    if path is None:
        return None
    if lists is None:
        raise CatalogueError(
            "say what the calibration file lists: --file-lists response (the microphone's own deviation) or correction "
            "(what to add)"
        )
    return microphone.read_calibration(path, lists)  # type: ignore[arg-type]
