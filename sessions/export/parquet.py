"""Tables as Parquet. The only module that imports pyarrow, which comes with the extra `pool`."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import Any

from ..errors import ExportError
from .tables import Table

BATCH = 50_000  # rows in memory at once
LACKING = (
    "Parquet needs the extra that is not installed here: install earwitness with it "
    "(pipx install '.[pool]'), or export as csv or json"
)


def write_parquet(table: Table, path: Path) -> int:
    """A table as Parquet; each column carries its meaning and unit. Gives how many rows it has.

    Raises
    ------
    ExportError
        If the library is not installed.
    """
    arrow, files = _library()
    types = {"text": arrow.string(), "whole number": arrow.int64(), "number": arrow.float64()}
    fields = [
        arrow.field(column.name, types[column.type], metadata={"meaning": column.meaning, "unit": column.unit})
        for column in table.columns
    ]
    schema, number = arrow.schema(fields), 0
    with files.ParquetWriter(path, schema, compression="zstd") as writer:
        for rows in _batches(table.rows()):
            columns = zip(*rows, strict=True)
            arrays = [arrow.array(list(values), one.type) for values, one in zip(columns, schema, strict=True)]
            writer.write_table(arrow.Table.from_arrays(arrays, schema=schema))
            number += len(rows)
    return number


def where(files: Sequence[Path], sessions: Sequence[str]) -> dict[str, Counter[str]]:
    """In which files some sessions stand, each with how many answers; read in parts, so that little is in memory.

    Raises
    ------
    ExportError
        If the library is not installed.
    """
    _library()
    import pyarrow.dataset as data

    found: dict[str, Counter[str]] = {}
    scanned = data.dataset([str(file) for file in files], format="parquet").to_batches(
        columns=["session_id", "__filename"], filter=data.field("session_id").isin(list(sessions))
    )
    for batch in scanned:
        pairs = zip(batch["session_id"].to_pylist(), batch["__filename"].to_pylist(), strict=True)
        for (session, file), answers in Counter(pairs).items():
            found.setdefault(session, Counter())[file] += answers
    return found


def check_installed() -> None:
    """Nothing, if Parquet can be written here.

    Raises
    ------
    ExportError
        If not.
    """
    _library()


def _batches(rows: Iterable[Sequence[Any]]) -> Iterator[list[Sequence[Any]]]:
    left = iter(rows)
    while batch := list(islice(left, BATCH)):
        yield batch


def _library() -> tuple[Any, Any]:
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError as error:
        raise ExportError(LACKING) from error
    return pyarrow, pyarrow.parquet
