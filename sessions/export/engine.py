"""The engine that a pool is computed by: DuckDB within this process, or one that is there already (Spark).

The only module that imports ibis, which comes with the extra `pool`.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from ..errors import ExportError

MOST_MEMORY = "1GB"  # what does not fit goes to the disk; ours to choose: laptops have 8
LACKING = "pool needs the extra that is not installed here: install earwitness with it (pipx install '.[pool]')"


def duckdb(folder: Path, *, most_memory: str = MOST_MEMORY, threads: int | None = None) -> Any:
    """A DuckDB of this process, which keeps what does not fit into memory in a folder.

    Raises
    ------
    ExportError
        If the library is not installed.
    """
    settings: dict[str, Any] = {"memory_limit": most_memory, "temp_directory": str(folder)}
    if threads is not None:
        settings["threads"] = threads
    return _ibis().duckdb.connect(**settings)


def spark() -> Any:
    """The Spark session that the environment names (`spark-submit`, SPARK_REMOTE), or a local one.

    Raises
    ------
    ExportError
        If its library is not installed.
    """
    try:
        return _ibis().pyspark.connect()
    except ImportError as error:
        raise ExportError("Spark needs pyspark, which is not installed here; install it beside earwitness") from error


def check_installed() -> None:
    """Nothing, if answers can be added up here.

    Raises
    ------
    ExportError
        If not.
    """
    _ibis()


def read(connection: Any, files: Sequence[Path], columns: Sequence[str]) -> Any:
    """The table of several Parquet files, with these columns.

    Raises
    ------
    ExportError
        If a file lacks one of them, or is no Parquet.
    """
    try:
        with _quietly():
            named: Any = [str(file) for file in files]
            if connection.name == "pyspark":  # it takes one path, which may be a pattern
                escaped = [re.sub(r"([\\{},*?\[\]])", r"\\\1", one.lstrip("/")) for one in named]
                named = "/{" + ",".join(escaped) + "}"
            return connection.read_parquet(named).select(list(columns))
    except Exception as error:  # each engine has errors of its own
        first = str(error).strip().splitlines()[0]
        raise ExportError(f"these are no judged trials ({first}); give what export --as parquet wrote") from error


def rows(expression: Any) -> list[dict[str, Any]]:
    """The rows that an expression comes to."""
    with _quietly():
        found: list[dict[str, Any]] = expression.to_pyarrow().to_pylist()
    return found


@contextmanager
def _quietly() -> Iterator[None]:
    """Without what one of these libraries says of the other: ibis 12 calls DuckDB 2 by names that will go."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        warnings.simplefilter("ignore", FutureWarning)
        yield


def _ibis() -> Any:
    try:
        import ibis
    except ImportError as error:
        raise ExportError(LACKING) from error
    return ibis
