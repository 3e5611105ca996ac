"""What measured data come to, as `curve show` says it: a summary, one figure alone, a comparison."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .context import counted, say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from audio.curves.impedance import Impedance

    from ..measured.curve_comparison import CurveComparison
    from ..measured.curve_records import SetupCurves
    from ..measured.curve_summary import CurveSummary, Directivity, OnAxis
    from ..measured.figures.figure import FigureData

OF_SEVERAL = ("pair", "places", "seatings")


def of_several(measured: SetupCurves, smooth: float) -> list[str]:
    """What a line loop tells, or what curves do that do not stand for the axis where none does."""
    from ..measured.figures import figure_table
    from ..measured.figures.figure import Subject, Telling
    from ..measured.figures.needs import NotMeasured

    found: list[str] = []
    whats = ("electronics",) if measured.is_loop else () if measured.on_axis else OF_SEVERAL
    for what in whats:
        try:
            data = figure_table.named(what).of(Subject(measured, smooth))
        except NotMeasured:
            continue
        found += data.sentences() if isinstance(data, Telling) else []
    return found


def say_figure(what: str, summary: CurveSummary, data: FigureData | None, lacking: str, facts: Sequence[str]) -> None:
    """What one figure comes to, and nothing else."""
    from ..measured.figures.figure import Telling

    if lacking:
        say(lacking)
        return
    say(f"{summary.setup}, {what}:")
    if what == "facts":
        for line in facts:
            say(f"  {line}")
    elif what == "impedance" and summary.impedance is not None:
        _say_impedance(summary.impedance)
    elif what == "directivity" and summary.directivity is not None:
        _say_directivity(summary.directivity)
    elif isinstance(data, Telling):
        for line in data.sentences():
            say(f"  {line}")
    elif what != "difference":
        say("  its numbers: --json; its picture: --out FILE.svg")


def say_summary(summary: CurveSummary, measured: SetupCurves) -> None:
    """How many directions or curves there are, and what the axis, the angles and the impedance come to."""
    from ..measured.most_alike import passed_over
    from ..measured.sweep_levels import louder_of

    if measured.is_loop:
        say(f"{summary.setup}: measured through a line loop.")
        return
    if summary.directions or not measured.everything:
        say(f"{summary.setup}: {counted(len(summary.directions), 'direction')} measured.")
    else:
        say(f"{summary.setup}: {counted(len(measured.everything), 'curve')}, no on-axis curve.")
    if summary.on_axis is not None:
        _say_axis(summary.on_axis)
        several = measured.on_axis and passed_over("on axis", measured.on_axis, measured.all_on_axis)
        for words in (several, louder_of(measured)):
            if words:
                say(f"  {words}")
    if summary.directivity is not None:
        _say_directivity(summary.directivity)
    if summary.impedance is not None:
        _say_impedance(summary.impedance)
    for part, why in summary.unread.items():
        say(f"  no numbers of the {part}: {why}")


def _say_axis(axis: OnAxis) -> None:
    from ..measured.conditions import where_in_words

    low, high = axis.valid_hz
    gate_ms = axis.conditions.gate_ms
    gated = f" (gate {gate_ms:.1f} ms: nothing below {1000 / gate_ms:.0f} Hz is valid)" if gate_ms else ""
    say(f"  {where_in_words(axis.direction)} valid from {low:.0f} to {high:.0f} Hz{gated}")
    if axis.curve.is_few:
        say(f"  {axis.curve.lacks}, and nothing is judged by them")
    if axis.sensitivity_db is not None:
        part = (
            f", from {axis.sensitivity_hz[0]:.0f} to {axis.sensitivity_hz[1]:.0f} Hz only"
            if axis.sensitivity_hz
            else ""
        )
        say(f"  sensitivity {axis.sensitivity_db:.1f} dB SPL for 2.83 V at 1 m{part}")
    for end in axis.ends.ends if axis.ends else ():
        places = [f"{hz:.0f} Hz" for hz in (end.low_hz, end.high_hz) if hz]
        if places:
            say(f"  {end.db} dB below its mean at {' and '.join(places)}")


def _say_directivity(found: Directivity) -> None:
    if found.session:
        say(f"  angles: {found.session}")
    if found.in_room is not None:
        say(
            f"  in-room estimate: {found.in_room.slope_db_per_octave:+.2f} dB an octave, "
            f"bumps of {found.in_room.bumpiness_db:.2f} dB"
        )
    if (balance := found.balance) is not None:
        say(
            f"  early reflections less listening window from {balance.low_hz:.0f} to {balance.high_hz:.0f} Hz: "
            f"{balance.slope_db_per_octave:+.2f} dB an octave ({balance.widest_db:+.1f} dB by {balance.widest_hz:.0f} "
            f"Hz); after that slope is taken out they keep one balance within {balance.departure_db:.2f} dB (one "
            "standard deviation)"
        )
    for name, why in found.lacking.items():
        say(f"  no {name}: it {why}")


def _say_impedance(found: Impedance) -> None:
    from ..measured.rating import least_in_words, rating

    say(f"  impedance: least {least_in_words(found)} at {found.minimum_hz:.0f} Hz, {rating(found)} (IEC 60268-5)")
    if found.hardest_ohm:
        say(f"  as hard on an amplifier as {found.hardest_ohm:.1f} ohm at {found.hardest_hz:.0f} Hz (peak dissipation)")


def say_comparison(comparison: CurveComparison) -> None:
    """Where two differ most, by how much, and what was measured differently."""
    from ..measured import compared_in_words

    first, *further = compared_in_words.lines(comparison)
    say(first)
    for line in further:
        say(f"  {line}")
