"""`curve`: measured data: bring it in, take it here, list it, show it and compare it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from .context import Context, give, json_option, say, table
from .curve_options import calibration_of, conditions, stated
from .sweep import sweep


@click.group()
def curve() -> None:
    """Measured data: add, list, show, sweep."""


@curve.command("add")
@click.argument("setup")
@click.argument("source", type=click.Path(path_type=Path))
@click.option("--unit", type=click.Choice(["db", "pa", "v", "ohm"]), default="db", show_default=True)
@click.option("--phase", type=click.Choice(["deg", "rad"]), help="The unit of a third column, if it could be either.")
@click.option("--channel", type=int, default=1, show_default=True, help="Of an impulse response or a SOFA receiver.")
@click.option("--plane", type=click.Choice(["horizontal", "vertical"]), default="horizontal", show_default=True)
@click.option(
    "--angle", type=click.IntRange(-180, 180), default=0, show_default=True, help="Right and up are positive."
)
@click.option("--smoothed", type=click.FloatRange(1, 96), help="The data are smoothed already: n of 1/n octave.")
@click.option(
    "--calibration", type=click.Path(path_type=Path), help="The microphone's file, not yet taken into account."
)
@click.option("--file-lists", type=click.Choice(["response", "correction"]), help="What that file's numbers are.")
@conditions
@json_option
@click.pass_obj
def add(context: Context, setup: str, source: Path, as_json: bool, **given: Any) -> None:
    """Bring in SOURCE for SETUP: text columns, an impulse response, a folder or table of angles, or a SOFA file."""
    from ..measured import curve_import

    calibration = calibration_of(given["calibration"], given["file_lists"])
    if not source.exists():
        raise CatalogueError(f"there is no {source}; name a file, a folder of files named by angle, or a table of them")
    measured_so = stated(
        given,
        smoothing=given["smoothed"] or 0.0,
        calibration=f"{given['calibration'].name}, its {given['file_lists']}" if calibration else "none",
    )
    reading = curve_import.Reading(
        given["unit"], given["phase"], given["channel"], given["plane"], given["angle"], calibration
    )
    with context.open() as casebook:
        found = catalogue.find(casebook, Setup, setup)
        brought = curve_import.bring(casebook, found, source, reading, measured_so)
    if as_json:
        give({"setup": setup, "curves": [row["id"] for row in brought.rows], "notes": brought.notes})
        return
    many = f"{len(brought.rows)} curves" if len(brought.rows) > 1 else "one curve"
    say(f"Kept {many} of {setup!r}, with the file as it is.")
    for note in brought.notes:
        say(f"  {note}")
    say(f"See it: {context.hint} curve show {setup}")


@curve.command("list")
@json_option
@click.pass_obj
def list_all(context: Context, as_json: bool) -> None:
    """List all curves, the newest last."""
    import json

    with context.open() as casebook:
        rows = casebook.query(
            """SELECT curves.id, setups.name AS setup, curves.kind, plane, angle, curves.at,
               measurements.name AS file, sha256, conditions FROM curves JOIN setups ON setups.id = setup_id
               JOIN measurements ON measurements.id = measurement_id ORDER BY curves.seq"""
        )
    if as_json:
        give({"curves": [row | {"conditions": json.loads(row["conditions"])} for row in rows]})
        return
    headings = ["setup", "kind", "direction", "file", "since", "hash"]
    say(table(headings, [[r["setup"], r["kind"], f"{r['plane']} {r['angle']}°", r["file"], r["at"], r["sha256"][:12]]
                         for r in rows]))  # fmt: skip


@curve.command("show")
@click.argument("setup")
@click.option("--against", help="A second setup: both on one set of axes, and their difference.")
@click.option(
    "--what",
    default="response",
    show_default=True,
    help="Also: difference, horizontal, vertical, polar, directivity, decay, slices, burst, impedance, delay, phase, "
    "step, distortion.",
)
@click.option("--curve", "curve_id", help="A curve by its identifier (curve list), instead of the newest on axis.")
@click.option("--against-curve", "other_id", help="The curve to compare it with: another room, place or channel.")
@click.option("--smooth", type=click.FloatRange(0, 96), default=12.0, show_default=True, help="1/n octave; 0 for none.")
@click.option("--band", type=(float, float), default=(300.0, 3000.0), show_default=True, help="Set level in it, Hz.")
@click.option("--out", type=click.Path(path_type=Path), help="Draw it there, as .svg or .png.")
@json_option
@click.pass_obj
def show(
    context: Context,
    setup: str,
    against: str | None,
    what: str,
    curve_id: str | None,
    other_id: str | None,
    smooth: float,
    band: tuple[float, float],
    out: Path | None,
    as_json: bool,
) -> None:
    """Show SETUP's measured data in numbers, and draw them with --out."""
    from ..measured import comparison, drawing, figures

    if what not in drawing.FIGURES:
        raise CatalogueError(f"--what is one of {', '.join(drawing.FIGURES)}; got {what!r}")
    with context.open() as casebook:
        own = catalogue.find(casebook, Setup, setup)
        told = comparison.summary(casebook, own)
        compared = _compared(casebook, own, against, band, smooth) if against else None
        if curve_id or other_id:
            compared = _two_curves(casebook, curve_id, other_id, band, smooth)
        shown = figures.numbers(casebook, own, what, smoothing=smooth, compared=compared) if as_json else {}
        if out is not None:
            from audio.curves import draw

            draw.write(drawing.figure(casebook, own, what, smoothing=smooth, compared=compared), out)
    if as_json:
        give(told | ({"compared": compared.to_document()} if compared else {}) | {"figure": what, "numbers": shown})
    else:
        _tell(told)
        if compared is not None:
            _tell_compared(compared)
    if out is not None:
        say(f"Drawn: {out}", as_json)


def _compared(casebook: Casebook, own: Setup, against: str, band: tuple[float, float], smooth: float) -> Any:
    from ..measured import comparison

    other = catalogue.find(casebook, Setup, against)
    found = comparison.compared(casebook, own, other, band_hz=band, smoothing=smooth or comparison.SMOOTHING)
    if found is None:
        raise CatalogueError(f"{own.name!r} and {against!r} need a curve on axis each; see earwitness curve list")
    return found


def _two_curves(
    casebook: Casebook, one: str | None, other: str | None, band: tuple[float, float], smooth: float
) -> Any:
    from ..measured import comparison, curve_records

    if not one or not other:
        raise CatalogueError("two curves are compared by --curve ID and --against-curve ID; see earwitness curve list")
    found = curve_records.by_id(casebook, one), curve_records.by_id(casebook, other)
    return comparison.set_side_by_side((one, other), found, band_hz=band, smoothing=smooth or comparison.SMOOTHING)


def _tell(told: dict[str, Any]) -> None:
    say(f"{told['setup']}: {len(told['directions'])} directions measured.")
    axis = told.get("on_axis")
    if axis:
        low, high = axis["valid_hz"]
        gate = axis["conditions"]["gate_ms"]
        gated = f" (gate {gate:.1f} ms: nothing below {1000 / gate:.0f} Hz is valid)" if gate else ""
        say(f"  on axis valid from {low:.0f} to {high:.0f} Hz{gated}")
        if axis["sensitivity_283_v_1_m_db"] is not None:
            say(f"  sensitivity {axis['sensitivity_283_v_1_m_db']:.1f} dB SPL for 2.83 V at 1 m")
        for db in (3, 6, 10):
            ends = [axis.get(f"{side}_end_{db}db_hz") for side in ("low", "high")]
            if any(ends):
                words = " and ".join(f"{end:.0f} Hz" for end in ends if end)
                say(f"  {db} dB below its mean at {words}")
    directed = told.get("directivity")
    if directed:
        if "in_room" in directed:
            room = directed["in_room"]
            say(
                f"  in-room estimate: {room['slope_db_per_octave']:+.2f} dB an octave, "
                f"bumps of {room['bumpiness_db']:.2f} dB"
            )
        if "consistency_db" in directed:
            say(f"  early reflections keep the direct sound's balance within {directed['consistency_db']:.2f} dB")
        for name, why in directed["lacking"].items():
            say(f"  no {name}: it {why}")
    ohm = told.get("impedance")
    if ohm:
        supports = (
            f"supports a rating of {ohm['supports_ohm']} ohm" if ohm["supports_ohm"] else "supports no usual rating"
        )
        say(
            f"  impedance: least {ohm['minimum_ohm']:.1f} ohm at {ohm['minimum_hz']:.0f} Hz, {supports} "
            "(IEC 60268-5: 80 %)"
        )
        if ohm["hardest_ohm"]:
            say(
                f"  as hard on an amplifier as {ohm['hardest_ohm']:.1f} ohm at {ohm['hardest_hz']:.0f} Hz "
                "(peak dissipation)"
            )


def _tell_compared(compared: Any) -> None:
    hz, db = compared.largest
    low, high = compared.band_hz
    one, other = compared.names
    say(f"{one} less {other}, at one level over {low:g} to {high:g} Hz: at most {db:+.1f} dB, at {hz:.0f} Hz.")
    if compared.departure_db is not None:
        say(f"  from 100 Hz to 10 kHz they depart from a constant difference by at most {compared.departure_db:.1f} dB")
    for note in compared.notes:
        say(f"  measured differently: {note}")
    if compared.uncertainty_db is None:
        say("  measured once each: how well it repeats is not known")
    else:
        say(f"  repeated measurements: ± {compared.uncertainty_db:.2f} dB (one standard deviation)")


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
    from ..measured import curve_import

    with context.open() as casebook:
        own = catalogue.find(casebook, Setup, setup)
        row, made = curve_import.join(casebook, own, near, at_hz, octaves, radius)
    if as_json:
        give(
            {
                "setup": setup,
                "curve": row["id"],
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


curve.add_command(sweep)

COMMANDS = {"curve": curve}
