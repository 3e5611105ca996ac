"""`loudness`: what files measure by ITU-R BS.1770-5 and EBU Tech 3341/3342."""

from __future__ import annotations

from pathlib import Path

import click

from .context import counted, decimals, give, json_option, progress, say, table


@click.command()
@click.argument("paths", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path))
@json_option
def loudness(paths: tuple[Path, ...], as_json: bool) -> None:
    """Loudness, range, maxima and peaks of each FILE; a value that does not exist is named with its reason."""
    from audio.levels.loudness import measure_files

    documents, rows, notes = [], [], []
    progress(f"measuring {counted(len(paths), 'file')} …")
    for path, (info, measured) in zip(paths, measure_files(paths), strict=True):
        progress(f"measured {path}")
        numbers = {
            "integrated_lufs": measured.integrated_lufs,
            "range_lu": measured.range_lu,
            "momentary_max_lufs": measured.momentary_max_lufs,
            "short_term_max_lufs": measured.short_term_max_lufs,
            "true_peak_dbtp": measured.true_peak_dbtp,
            "sample_peak_dbfs": measured.sample_peak_dbfs,
        }
        about: dict[str, object] = {"rate_hz": info.rate_hz, "channels": info.channels, "length_s": info.length_s}
        documents.append({"file": str(path)} | about | numbers)
        rows.append([str(path), f"{info.length_s:.2f}", *(decimals(number, 1) for number in numbers.values())])
        notes += [f"{path}: no {name}: {reason}" for name, reason in measured.missing.items()]
    if as_json:
        give({"files": documents})
    else:
        say(table(["file", "length s", "I LUFS", "LRA LU", "M max", "S max", "TP dBTP", "peak dBFS"], rows))
    for note in notes:
        say(note, as_json=True)


COMMANDS = {"loudness": loudness}
