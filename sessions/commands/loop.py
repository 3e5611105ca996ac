"""`curve loop`: electronics measured through a line loop."""

from __future__ import annotations

from shlex import quote

import click

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from .context import Context, give, json_option, say
from .number_types import NUMBER, NumberRange, WholeRange
from .sweep import CAUTION

TERMINALS = (
    "Line outputs into line inputs only: a power amplifier needs its load and a divider, and bridged outputs never "
    "share the input's ground. Switch loudspeakers off and take headphones off."
)


@click.command("loop")
@click.argument("setup")
@click.option("--into", required=True, metavar="DEVICE:1,2", help="The input of each channel, where the loop ends.")
@click.option(
    "--level", type=NUMBER, default=-20.0, show_default=True, help="Of tone and sweep, dBFS (peak), at most -12."
)
@click.option("--nothing-sounds", is_flag=True, help="No loudspeaker hangs on it: the tone may have up to -0.5 dBFS.")
@click.option("--tone", type=NUMBER, default=1000.0, show_default=True, help="For noise and distortion, Hz.")
@click.option("--from", "low_hz", type=NUMBER, default=10.0, show_default=True, help="The sweep's low end, Hz.")
@click.option("--to", "high_hz", type=NUMBER, default=20_000.0, show_default=True, help="Hz.")
@click.option("--seconds", type=NUMBER, default=3.0, show_default=True, help="Of one sweep.")
@click.option("--averages", type=WholeRange(1, 32), default=2, show_default=True, help="Of the sweep.")
@click.option("--rate", type=WholeRange(44_100, 192_000), default=48_000, show_default=True)
@click.option("--volts", type=NumberRange(0.0001, 200), help="Of the tone at the output (RMS), by a meter.")
@click.option("--by", default="", help="Who measured it.")
@click.option("--when", default="", help="When it was measured.")
@click.option("--note", default="", help="Anything else: gain, load, cables.")
@json_option
@click.pass_context
def loop(
    ctx: click.Context,
    setup: str,
    *,
    into: str,
    level: float,
    nothing_sounds: bool,
    tone: float,
    low_hz: float,
    high_hz: float,
    seconds: float,
    averages: int,
    rate: int,
    volts: float | None,
    by: str,
    when: str,
    note: str,
    as_json: bool,
) -> None:
    """Measure SETUP's channels through a cable from its output to an input: response, noise, THD, crosstalk, balance.

    One channel plays at a time while all inputs record. THD and THD+N are relative to the whole signal (tone, harmonics
    and noise) from 20 Hz to 20 kHz, as IEC 60268-3 and AES17 have it (from memory).
    """
    from audio.engine.routes import parse

    from ..measured import curve_records, line_loop
    from ..measured.conditions import Conditions
    from ..measured.figures import figure_table
    from ..measured.figures.figure import Subject, Telling
    from ..measured.frequency_response import SMOOTHING

    context: Context = ctx.obj
    inputs = parse(into, "--into")
    settings = line_loop.LoopSettings(
        inputs, level, tone, low_hz, high_hz, seconds, averages, rate, nothing_sounds=nothing_sounds
    )
    stated = Conditions(drive_volts=volts, by=by, when=when, note=note)
    with context.open() as casebook:
        own = catalogue.find(casebook, Setup, setup)
        say(f"{CAUTION} {TERMINALS}", as_json)
        taken = line_loop.take_loop(casebook, context.recorder, own, settings, stated)
        measured = curve_records.of_setup(casebook, own)
    data = figure_table.named("electronics").of(Subject(measured, SMOOTHING))
    for line in taken.said:
        say(f"  {line}", as_json)
    if as_json:
        give({"setup": setup, "curves": [one.id for one in taken.records], "numbers": data.to_document()})
    elif isinstance(data, Telling):
        for line in data.sentences():
            say(f"  {line}")
        say(f"Kept: {', '.join(one.id for one in taken.records if one.kind != 'distortion')}.")
        say(f"See it: {context.hint} curve show {quote(setup)} --what electronics")
        say("  spectrum and crosstalk are shown alike")
