"""Tables as CSV (RFC 4180) and JSON, written row by row.

CSV: UTF-8, a heading, commas, CRLF. Text stands in quotes; an empty cell without them is no value. Text that
a spreadsheet would run is guarded as `casebook.spreadsheet_text` says.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from itertools import chain
from pathlib import Path
from typing import Any

from ..casebook.spreadsheet_text import guarded
from .tables import Table


def write_csv(table: Table, path: Path) -> int:
    """A table as CSV; gives how many rows it has."""
    return write_rows(path, [column.name for column in table.columns], table.rows())


def write_rows(path: Path, headings: Sequence[str], rows: Iterable[Sequence[Any]]) -> int:
    """Rows as CSV under their headings; gives how many there are."""
    number = -1  # the headings are none
    with path.open("w", encoding="utf-8", newline="") as file:
        for row in chain([headings], rows):
            file.write(",".join(map(cell, row)) + "\r\n")
            number += 1
    return number


def cell(value: Any) -> str:
    """A value as it stands in CSV.

    >>> print(cell(3), cell(None), cell("bright"), cell('an "ah" too'), cell("=1+1"))
    3  "bright" "an ""ah"" too" "'=1+1"
    """
    if value is None:
        return ""
    if not isinstance(value, str):
        return str(value)
    return '"' + guarded(value).replace('"', '""') + '"'


def write_json(table: Table, path: Path) -> int:
    """A table as a JSON array of objects, one a line; what is kept as JSON stays the text that was hashed.

    Gives how many rows it has.
    """
    names, number = [column.name for column in table.columns], 0
    with path.open("w", encoding="utf-8") as file:
        file.write("[")
        for number, row in enumerate(table.rows(), 1):
            file.write(",\n" if number > 1 else "\n")
            file.write(json.dumps(dict(zip(names, row, strict=True)), ensure_ascii=False))
        file.write("\n]\n")
    return number
