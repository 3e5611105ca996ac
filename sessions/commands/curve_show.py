"""`curve show`: one setup's measured data in numbers, two side by side, and figures of them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from .context import Context, give, json_option, say
from .curve_options import given
from .curve_words import of_several, say_comparison, say_figure, say_summary
from .drawn_figure import draw, drawing_options
from .number_types import NUMBER, NumberRange

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ..measured.curve_comparison import CurveComparison
    from ..measured.curve_records import CurveRecord, SetupCurves
    from ..measured.figures.figure import Labelled


DEFAULT = "response"


class FigureOption(click.Option):
    """The option that names a figure; its help lists the table's names, which are loaded only when it is asked for."""

    def get_help_record(self, ctx: click.Context) -> tuple[str, str] | None:
        """The option's line in the help."""
        from ..measured.figures.figure_table import FIGURES

        self.help = f"Also: {', '.join(name for name in FIGURES if name != self.default)}."
        return super().get_help_record(ctx)


@click.command("show")
@click.argument("setup", required=False)
@click.option("--against", help="A second setup: both on one set of axes, and their difference.")
@click.option("--what", cls=FigureOption, default=DEFAULT, show_default=True)
@click.option("--curve", "curve_id", help="A curve by its identifier (curve list), instead of the newest on axis.")
@click.option("--against-curve", "other_id", help="The curve to compare it with: another room, place or channel.")
@click.option("--with", "beside", multiple=True, metavar="ID", help="A further curve on the same axes; again for more.")
@click.option("--one-calibration", is_flag=True, help="They share microphone, gain and drive.")
@click.option("--target", type=click.Path(path_type=Path), help="What a mean is to be: text columns, Hz and dB.")
@click.option("--smooth", type=NumberRange(0, 96), default=12.0, show_default=True, help="1/n octave; 0 for none.")
@click.option("--band", type=(NUMBER, NUMBER), default=(300.0, 3000.0), show_default=True, help="Set level in it, Hz.")
@click.option(
    "--look-for",
    type=click.Choice(["drivers", "cabinet"]),
    default="drivers",
    show_default=True,
    help="What a decay is to show: a cabinet rings for up to 200 ms.",
)
@drawing_options
@json_option
@click.pass_obj
def show(
    context: Context,
    setup: str | None,
    *,
    against: str | None,
    what: str,
    curve_id: str | None,
    other_id: str | None,
    beside: tuple[str, ...],
    one_calibration: bool,
    target: Path | None,
    smooth: float,
    band: tuple[float, float],
    look_for: str,
    out: Path | None,
    size: str,
    dark: bool,
    transparent: bool,
    as_json: bool,
) -> None:
    """Show SETUP's measured data (or one curve's, by --curve) in numbers, and draw them with --out."""
    from ..measured import curve_records, curve_summary, makers_facts
    from ..measured.figures import figure_table
    from ..measured.figures.figure import Subject, Telling
    from ..measured.figures.needs import NotMeasured
    from ..measured.target import read_target
    from . import kept_run_told

    figure = figure_table.named(what)
    options = {
        "--against": bool(against or other_id),
        "--with": bool(beside),
        "--one-calibration": one_calibration,
        "--target": target is not None,
    }
    figure_table.check_takes(figure, [option for option, is_there in options.items() if is_there])
    if beside and (against or other_id):
        raise CatalogueError("--with puts curves beside one; a comparison has its own two, so leave --against out")
    wanted = read_target(target) if target is not None else None
    if curve_id and against and not other_id:
        raise CatalogueError(
            "one curve is compared with another by --curve ID and --against-curve ID, without --against"
        )
    with context.open() as casebook:
        holds = kept_run_told.tell_if_edited(casebook, as_json)
        measured, own = _measured(casebook, setup, curve_id, with_another=other_id is not None)
        facts = makers_facts.of_setup(casebook, own)
        alone = curve_records.listed(casebook, curve_id) if curve_id and not other_id else []
        comparison = _of_setups(casebook, own, against, band, smooth) if against else None
        if other_id:
            comparison = _of_curves(casebook, curve_id, other_id, band, smooth)
        others = _beside(casebook, beside)
    summary = curve_summary.summary(measured, smooth)
    for one in alone:
        gone = f"; withdrawn: {one.withdrawn}" if one.withdrawn else ""
        say(f"{one.id} alone: {one.kind}, {one.direction}, {one.conditions.when or one.at[:10]}{gone}", as_json)
    for one in [*(record for _, record in others), *(comparison.records if other_id and comparison else ())]:
        if one.withdrawn:
            say(f"{one.id} is withdrawn: {one.withdrawn}", as_json)
    data, lacking, cut = None, "", ""
    if as_json or out is not None or what != DEFAULT or beside:
        try:
            data = figure.of(
                Subject(measured, smooth, comparison, facts, others, band, one_calibration, wanted, looked_for=look_for)
            )
        except NotMeasured as error:  # then there are no numbers, and nothing to draw
            if out is not None:
                raise
            lacking = str(error)
    if out is not None and data is not None:
        from audio.curves.picture import Look

        cut = draw(data.drawn(), out, Look(size, dark, transparent))
    if as_json:
        document = summary.to_document() | ({"compared": _compared(comparison)} if comparison else {})
        document |= {"curve": alone[0].to_document()} if alone else {}
        give(document | {"figure": what, "numbers": data.to_document() if data else {}, "record_holds": holds})
    elif given("what") and what != DEFAULT:
        say_figure(what, summary, data, lacking, [fact.sentence for fact in facts])
        if comparison is not None:
            say_comparison(comparison)
    else:
        say_summary(summary, measured)
        for fact in facts:
            say(f"  {fact.sentence}")
        for line in [*of_several(measured, smooth), *(data.sentences() if isinstance(data, Telling) else [])]:
            say(f"  {line}")
        if comparison is not None:
            say_comparison(comparison)
    if out is not None:
        say(f"Drawn: {out}", as_json)
        if cut:
            say(cut, as_json)


def _measured(
    casebook: Casebook, setup: str | None, curve_id: str | None, *, with_another: bool
) -> tuple[SetupCurves, Setup]:
    """What is to be shown: a setup's newest curves, or one curve alone, where it is not compared with another."""
    from ..measured import curve_records

    if setup is None and curve_id is None:
        raise CatalogueError("name a setup, or one curve with --curve ID; see earwitness curve list")
    own = catalogue.find(casebook, Setup, setup) if setup else None
    if own is not None and (curve_id is None or with_another):
        return curve_records.of_setup(casebook, own), own
    found = curve_records.alone(casebook, curve_records.by_id(casebook, str(curve_id)))
    if own is not None and own.id != found.setup.id:
        raise CatalogueError(f"{curve_id} is a curve of {found.setup.name!r}, not of {own.name!r}")
    return found, found.setup


def _beside(casebook: Casebook, ids: Sequence[str]) -> list[Labelled]:
    """Curves named to stand beside others, each called by its setup."""
    from ..measured import curve_records

    names = {one.id: one.setup for one in curve_records.listed(casebook)} if ids else {}
    return [(names[one.id], one) for one in (curve_records.by_id(casebook, name) for name in ids)]


def _of_setups(
    casebook: Casebook, own: Setup, against: str, band: tuple[float, float], smooth: float
) -> CurveComparison:
    from ..measured import curve_records
    from ..measured.curve_comparison import compare_setups

    other = catalogue.find(casebook, Setup, against)
    found = compare_setups(casebook, own, other, band_hz=band, smoothing=smooth)
    if found is None:
        lacking = [
            curve_records.no_axis(measured)
            for measured in (curve_records.of_setup(casebook, one) for one in (own, other))
            if measured.on_axis is None
        ]
        raise CatalogueError(f"{own.name!r} and {against!r} need a curve on axis each: {'; '.join(lacking)}")
    return found


def _of_curves(
    casebook: Casebook, one: str | None, other: str | None, band: tuple[float, float], smooth: float
) -> CurveComparison:
    from ..measured import curve_records
    from ..measured.curve_comparison import compare_curves

    if not one or not other:
        raise CatalogueError("two curves are compared by --curve ID and --against-curve ID; see earwitness curve list")
    records = curve_records.by_id(casebook, one), curve_records.by_id(casebook, other)
    return compare_curves(_told_apart(casebook, records), records, band_hz=band, smoothing=smooth)


def _told_apart(casebook: Casebook, records: tuple[CurveRecord, CurveRecord]) -> tuple[str, str]:
    """What two curves are called side by side: their setups, with what tells them apart; never their identifiers."""
    from ..measured import curve_records
    from ..measured.figures.figure import told

    setups = {one.id: one.setup for one in curve_records.listed(casebook)}
    own = [
        (setups[one.id], one.conditions.one_of.words, str(one.direction), one.conditions.room, one.conditions.when)
        for one in records
    ]
    differ = [place for place in range(1, len(own[0])) if own[0][place] != own[1][place]]
    if own[0][0] != own[1][0]:  # their setups tell them apart already
        differ = []
    apart = [", ".join(filter(None, (parts[place] for place in differ))) for parts in own]
    first, second = (f"{parts[0]} ({how})" if how else parts[0] for parts, how in zip(own, apart, strict=True))
    first, second = told(first, records[0]), told(second, records[1])
    return (f"{first}, first", f"{second}, second") if first == second else (first, second)


def _compared(comparison: CurveComparison) -> dict[str, Any]:
    """The comparison's numbers, with the identifiers of its curves."""
    return comparison.to_document() | {"curves": [record.id for record in comparison.records]}
