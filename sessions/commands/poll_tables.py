"""Votes on a soundtrack, as a table: counts for each trial, or a line for each vote. No statistics here."""

from __future__ import annotations

from pathlib import Path

from audio.typed_numbers import whole

from ..errors import ViewersError
from ..plans.viewers_test import ViewersTest
from . import text_table


def votes(path: Path, test: ViewersTest) -> dict[int, tuple[int, int]]:
    """How many voted for each answer, by trial.

    Raises
    ------
    CatalogueError, ViewersError
        If the table cannot be read, lacks a column or holds what does not fit; the message says where.
    """
    first, second = (answer.lower() for answer in test.answers)
    rows = text_table.rows(path, ["trial"])
    if "answer" in rows[0][1]:
        found = dict.fromkeys(range(1, test.trials + 1), (0, 0))
        for where, cells in rows:
            trial, said = _count(where, cells, "trial"), cells.get("answer", "").lower()
            if said not in (first, second) or trial not in found:
                raise ViewersError(
                    f"{where}: trial {trial}, answer {cells.get('answer', '')!r}; the soundtrack has trials 1 to "
                    f"{test.trials}, and the answers are {' and '.join(test.answers)}"
                )
            one, two = found[trial]
            found[trial] = (one + (said == first), two + (said == second))
        return found
    counts: dict[int, tuple[int, int]] = {}
    for where, cells in rows:
        trial = _count(where, cells, "trial")
        if trial in counts:
            raise ViewersError(f"{where}: trial {trial} stands there twice; add its votes up in one line")
        counts[trial] = (_count(where, cells, first), _count(where, cells, second))
    return counts


def _count(where: str, cells: dict[str, str], column: str) -> int:
    value = whole(cells.get(column, ""))
    if value is None or value < 0:
        raise ViewersError(f"{where}: {cells.get(column, '')!r} under {column!r} is no count; give a whole number")
    return value
