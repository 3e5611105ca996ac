"""The data dictionary: what each column of each table means, and in which unit. It stands beside the schema, as a file.

A row for a column of one table goes before a row for that column of every table (`*`).
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files as package_files

from ..errors import CasebookError

FILE = "data_dictionary.csv"
EVERY = "*"  # instead of a table's name
NEVER_TOLD = ("secrets",)
"""Tables that hold nothing but secrets of plans under way, in casebooks of before: no entry, and they never leave."""


@dataclass(frozen=True)
class Entry:
    """What a column means; its unit is empty where it has none."""

    meaning: str
    unit: str


@cache
def entries() -> Mapping[tuple[str, str], Entry]:
    """Every row of the dictionary, by table and column."""
    text = (package_files(__package__) / FILE).read_text(encoding="utf-8")
    return {
        (row["table"], row["column"]): Entry(row["meaning"], row["unit"]) for row in csv.DictReader(text.splitlines())
    }


def entry(table: str, column: str) -> Entry:
    """What a column of a table means.

    Raises
    ------
    CasebookError
        If the dictionary does not say.
    """
    found = entries().get((table, column)) or entries().get((EVERY, column))
    if found is None:
        raise CasebookError(f"the data dictionary has no entry for {table}.{column}; add it to {FILE}")
    return found
