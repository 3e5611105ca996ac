"""Everything that leaves a casebook as data, in one new folder: tables, their dictionary, figures' numbers."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from ..casebook import whole_folder
from ..casebook.store import Casebook
from . import figure_numbers, parquet, tables, text_files
from .tables import Table

DICTIONARY = ("table", "column", "type", "unit", "meaning")
WRITERS: Mapping[str, Callable[[Table, Path], int]] = {
    "csv": text_files.write_csv,
    "json": text_files.write_json,
    "parquet": parquet.write_parquet,
}


@dataclass(frozen=True)
class Exported:
    """What was written: how many tables, rows and figures; how many pairs of setups are in no figure."""

    tables: int
    rows: int
    figures: int
    pairs_left_out: int = 0


def write(casebook: Casebook, folder: Path, form: str) -> Exported:
    """Write the folder; the casebook is read as it stands at one moment.

    Raises
    ------
    CasebookError
        If the folder is there already or cannot be written.
    ExportError
        If what the form needs is not installed.
    """
    if form == "parquet":
        parquet.check_installed()
    with whole_folder.new_folder(folder, casebook.folder) as part, casebook.snapshot() as now:
        figures = _figures(now, part / "figures")
        every = [*tables.every(now), figure_numbers.table(figures)]
        rows = sum(WRITERS[form](table, part / f"{table.name}.{form}") for table in every)
        text_files.write_rows(part / "dictionary.csv", DICTIONARY, tables.dictionary_rows(every))
        return Exported(len(every), rows, len(figures), figure_numbers.pairs(now).left_out)


def _figures(casebook: Casebook, folder: Path) -> list[Path]:
    """Write each figure's numbers into a file of its own."""
    written = []
    for one in figure_numbers.every(casebook):
        folder.mkdir(exist_ok=True)
        about = f"{one.setup} {one.beside}" if one.beside else one.setup
        path = _free(folder, f"{_safe(about)}.{one.figure}")
        path.write_text(json.dumps(one.document, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
        written.append(path)
    return written


def _safe(name: str) -> str:
    """A name as a file may have it on every system."""
    return re.sub(r"[^\w-]+", "-", name)


def _free(folder: Path, stem: str) -> Path:
    """A path that nothing has yet: names that differ in signs alone may come to the same."""
    path, number = folder / f"{stem}.json", 2
    while path.exists():
        path, number = folder / f"{stem}-{number}.json", number + 1
    return path
