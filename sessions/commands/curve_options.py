"""What the commands about curves have in common: the conditions of a measurement, and the microphone's own file."""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..errors import CatalogueError
from ..measured.member import ROLES, SIDES
from .number_types import NumberRange, WholeRange

if TYPE_CHECKING:
    from audio.room.microphone import Calibration

    from ..measured.curve_records import CurveRecord

PLANE = click.Choice(["horizontal", "vertical"])


class AngleType(click.ParamType[Any]):
    """An angle from -180 to 180, decimals and a typographic minus allowed; a whole one is a whole number."""

    name = "angle"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number of degrees."""
        from ..measured.angle_sets import angle_of

        found = angle_of(str(value))
        if found is None:
            self.fail(f"{value!r} is no angle; give degrees from -180 to 180", param, ctx)
        return int(found) if found == int(found) else found


ANGLE = AngleType()
FILE_ZERO = click.option(
    "--file-zero",
    type=click.Choice(["1kHz", "kept"]),
    help="Where the microphone's file holds an absolute sensitivity: 0 dB at 1 kHz, or its numbers as they stand.",
)


def conditions(command: Callable[..., None]) -> Callable[..., None]:
    """Add the options that say how something was measured; the command gets them as `stated`, a `Conditions`."""

    @functools.wraps(command)
    def with_conditions(
        *args: Any,
        distance: float | None,
        height: float | None,
        volts: float | None,
        gate: float | None,
        window: Any,
        axis: str,
        room: str,
        by: str,
        when: str,
        note: str,
        role: Any,
        side: Any,
        place: str,
        coupler: str,
        seating: int | None,
        **others: Any,
    ) -> None:
        from ..measured.conditions import Conditions
        from ..measured.member import ALONE, Member

        if seating and not coupler:
            raise CatalogueError("--seating counts seatings on a coupler; say on which with --coupler")
        member = Member(role or "", side or "", place, coupler, seating or 0)
        stated = Conditions(
            distance_m=distance,
            drive_volts=volts,
            gate_ms=gate or _gate_ms(distance, height),
            window=window,
            axis=axis,
            room=room,
            by=by,
            when=when,
            note=note,
            member=None if member == ALONE else member,
        )
        command(*args, stated=stated, **others)

    for option in (
        click.option("--seating", type=WholeRange(1, 99), help="Of headphones, which seating it is."),
        click.option("--coupler", default="", help="What headphones sit on."),
        click.option("--place", default="", help="Where the microphone stands, of places around the chair."),
        click.option("--side", type=click.Choice(SIDES), help="Of a pair."),
        click.option("--role", type=click.Choice(ROLES), help="The driver that plays alone; or all of them."),
        click.option("--note", default="", help="Anything else."),
        click.option("--when", default="", help="When it was measured."),
        click.option("--by", default="", help="Who measured it."),
        click.option("--room", default="", help="Where."),
        click.option("--axis", default="", help="The axis meant by 0 degrees, such as 'tweeter'."),
        click.option("--volts", type=NumberRange(0.001, 200), help="The drive voltage, such as 2.83."),
        click.option("--height", type=NumberRange(0.01, 50), help="Of source and microphone, m: gives the gate."),
        click.option("--distance", type=NumberRange(0.01, 50), help="Straight from source to microphone, m."),
        click.option("--window", type=click.Choice(["half-hann", "half-tukey", "rectangular"]), default="half-tukey"),
        click.option("--gate", type=NumberRange(0.1, 5000), help="The gate in ms; below 1/gate nothing is valid."),
    ):
        with_conditions = option(with_conditions)
    return with_conditions


def given(option: str) -> bool:
    """Whether an option of the running command was given, rather than left at its default."""
    source = click.get_current_context().get_parameter_source(option)
    return source not in (None, click.core.ParameterSource.DEFAULT)


def fitting(curves: Sequence[CurveRecord]) -> str:
    """What to add to `curve show` so that it shows what these curves are, the kind of the first; empty for the axis."""
    first = curves[0].conditions.one_of
    kinds = {one.kind for one in curves}
    if kinds == {"impedance"}:
        return " --what impedance"
    if first.coupler:
        return " --what seatings"
    if first.place:
        return " --what places"
    if first.role:
        return " --what drivers"
    if first.side:
        return " --what pair"
    planes = {one.direction.plane for one in curves if one.direction.angle}
    if len(planes) > 1:
        return " --what directivity"
    if len(curves) > 1 and planes:
        return " --what polar-vertical" if planes == {"vertical"} else " --what polar"
    return f" --curve {curves[0].id}" if planes else ""


def microphone_file(text: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Add the options of the microphone's own file; the command gets `calibration`, `file_lists` and `file_zero`."""

    def with_file(command: Callable[..., None]) -> Callable[..., None]:
        lists = click.option(
            "--file-lists", type=click.Choice(["response", "correction"]), help="What that file's numbers are."
        )
        file = click.option("--calibration", type=click.Path(path_type=Path), help=text)
        return file(lists(FILE_ZERO(command)))

    return with_file


def calibration_of(path: Path | None, lists: Any, zero: Any = None) -> Calibration | None:
    """A microphone's file, once it is said what its numbers are.

    Raises
    ------
    CatalogueError
        If that is not said.
    """
    from audio.room import calibration_file

    if path is None:
        return None
    if lists is None:
        raise CatalogueError(
            "say what the calibration file lists: --file-lists response (the microphone's own deviation) or correction "
            "(what to add)"
        )
    return calibration_file.read_calibration(path, lists, zero or "")


def _gate_ms(distance_m: float | None, height_m: float | None) -> float | None:
    """The gate that follows from the geometry; None where that is not known."""
    from audio.curves.gate import reflection_free_s

    return 1000 * reflection_free_s(distance_m, height_m, height_m) if distance_m and height_m else None
