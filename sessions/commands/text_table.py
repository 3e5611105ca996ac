"""A table kept in a text file: commas, semicolons or tabs between its columns, named by its header, in any order."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from pathlib import Path

from ..errors import CatalogueError

SURPLUS = "\n"  # no column's name: where the reader puts cells beyond the header
SHOWN = 40  # letters of a cell that is refused
MOST_ROWS = 10_000  # of a table; the exact tests go through that many in seconds


def rows(path: Path, columns: Sequence[str]) -> list[tuple[str, dict[str, str]]]:
    """The cells of each line by column (in small letters), with the place where they stand.

    Raises
    ------
    CatalogueError
        If the file cannot be read, lacks one of these columns, has no rows, too many, or cells beyond its header; the
        message says where, and what is wanted.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        what = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
        wanted = ", ".join(columns)
        raise CatalogueError(
            f"cannot read the table {path}: {what}; give a text file with the columns {wanted}"
        ) from error
    header = text.partition("\n")[0]
    between = max(",;\t", key=header.count)
    named = [name.strip().lower() for name in header.split(between)]
    lacking = [column for column in columns if column not in named]
    if lacking:
        raise CatalogueError(f"the table {path} lacks the column {lacking[0]!r}; it needs {', '.join(columns)}")
    table = csv.DictReader(text.splitlines(keepends=True), restkey=SURPLUS, delimiter=between)
    found = [(where, _cells(where, cells)) for where, cells in _lines(path, table)]
    if not found:
        raise CatalogueError(f"the table {path} has a header and no rows")
    if len(found) > MOST_ROWS:
        raise CatalogueError(f"the table {path} has {len(found)} rows; at most {MOST_ROWS} are read at a time")
    return found


def _lines(path: Path, table: csv.DictReader[str]) -> Iterator[tuple[str, dict[str, str]]]:
    try:
        yield from ((f"{path}, line {table.line_num}", cells) for cells in table)
    except csv.Error as error:
        raise CatalogueError(f"{path}, line {table.line_num + 1}: no row of a table ({error})") from error


def _cells(where: str, row: dict[str, str]) -> dict[str, str]:
    if surplus := [cell for cell in row.get(SURPLUS) or [] if cell.strip()]:
        raise CatalogueError(
            f"{where}: more cells than the header has columns (the first is {surplus[0][:SHOWN]!r}); take them out"
        )
    return {(name or "").strip().lower(): value.strip() for name, value in row.items() if isinstance(value, str)}
