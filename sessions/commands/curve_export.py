"""`curve export`: curves as text that any other tool reads."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from audio.errors import FileError

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from .context import Context, counted, give, json_option, say
from .number_types import NumberRange

if TYPE_CHECKING:
    from ..measured.curve_records import CurveRecord


@click.command("export")
@click.argument("setup", required=False)
@click.option("--curve", "curve_id", help="A curve by its identifier (curve list), instead of the newest on axis.")
@click.option("--smooth", type=NumberRange(0, 96), default=0.0, show_default=True, help="1/n octave; 0 for none.")
@click.option("--out", type=click.Path(path_type=Path), help="The file to write; without it the text is printed.")
@click.option("--folder", type=click.Path(path_type=Path), help="Write all directions there, files named by angle.")
@json_option
@click.pass_obj
def export(
    context: Context,
    setup: str | None,
    *,
    curve_id: str | None,
    smooth: float,
    out: Path | None,
    folder: Path | None,
    as_json: bool,
) -> None:
    """Write SETUP's curve on axis (or any by --curve) as text: Hz, dB, degrees, all there is where it is valid."""
    from ..measured import curve_export, curve_records
    from . import kept_run_told

    if folder and (out or curve_id):
        raise CatalogueError("--folder takes all directions of a setup; leave --curve and --out out")
    if as_json and not (out or folder):
        raise CatalogueError("--json says what was written; name it with --out FILE or --folder FOLDER")
    if smooth and smooth < 1:
        raise CatalogueError(f"smoothing is from 1/1 to 1/96 octave; got 1/{smooth:g}")
    with context.open() as casebook:
        on_screen = not (out or folder)  # then standard output is the curve's alone
        holds = kept_run_told.tell_if_edited(casebook, as_json or on_screen)
        found = _wanted(casebook, setup, curve_id, every=folder is not None)
        listed = {one.id: one for one in curve_records.listed(casebook)}
    texts = [curve_export.as_text(record, listed[record.id], smooth) for record in found]
    if folder is not None:
        paths = [folder / f"{record.direction.plane[:3]} {record.direction.angle:g}.txt" for record in found]
    elif out is None:
        click.echo(texts[0], nl=False)
        return
    else:
        paths = [out]
    _write(paths, texts)
    if as_json:
        give({"curves": [record.id for record in found], "files": [str(path) for path in paths], "record_holds": holds})
    elif folder is not None:
        say(f"Written: {counted(len(paths), 'curve')} into {folder}")
    else:
        say(f"Written: {out}")


def _wanted(casebook: Casebook, setup: str | None, curve_id: str | None, *, every: bool) -> list[CurveRecord]:
    """The curves to be written, at least one."""
    from ..measured import curve_records

    own = catalogue.find(casebook, Setup, setup) if setup else None
    if curve_id is not None:
        record = curve_records.by_id(casebook, curve_id)
        if own is not None and record.setup_id != own.id:
            raise CatalogueError(f"{curve_id} is no curve of {own.name!r}; see earwitness curve list")
        return [record]
    if own is None:
        raise CatalogueError("name a setup, or one curve with --curve ID; see earwitness curve list")
    measured = curve_records.of_setup(casebook, own)
    found = list(measured.directions.values()) if every else [one for one in [measured.on_axis] if one]
    if not found:
        raise CatalogueError(curve_records.no_axis(measured))
    return found


def _write(paths: list[Path], texts: list[str]) -> None:
    """Write the files, none over one that is there."""
    for path in paths:
        if path.exists():
            raise FileError(f"{path} is there already and is not written over; name another place")
    for path, text in zip(paths, texts, strict=True):
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
        except OSError as error:
            raise FileError(f"cannot write {path}: {error.strerror}; name another place") from error
