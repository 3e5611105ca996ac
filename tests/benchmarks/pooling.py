"""Pools of many casebooks, run by hand: time and memory with DuckDB, and the same numbers from Spark.

    python -m tests.benchmarks.pooling [--casebooks 1000] [--answers 10000000] [--threads 2]
    python -m tests.benchmarks.pooling --spark --casebooks 40 --answers 400000

The second needs pyspark and Java; it compares every number of both engines and says where they differ.
"""

from __future__ import annotations

import argparse
import math
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from sessions.export import engine
from sessions.export.pool import Pool, pool
from tests.many_answers import EACH, write_casebook

FURTHER = (["question"], ["passage_id"], ["casebook"], ["listener_id"])


def pooled(home: Path, threads: int, further: list[str]) -> None:
    """Pool them in this process, and say what it took."""
    began = time.perf_counter()
    found = pool([home], further, lambda folder: engine.duckdb(folder, threads=threads))
    taken = time.perf_counter() - began
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    first = found.groups[0]
    print(
        f"by {', '.join(further) or 'method and setups'}: {found.pooled} of {found.answers} answers, "
        f"{len(found.groups)} groups, {taken:.1f} s, at most {most:.0f} MB; first: {first.by}, "
        f"{first.counts.right} of {first.counts.trials}, dispersion {first.counts.dispersion}"
    )


def differing(one: Pool, other: Pool) -> list[str]:
    """Where two engines come to other numbers."""
    if [group.by for group in one.groups] != [group.by for group in other.groups]:
        return ["other groups"]
    found = [] if _totals(one) == _totals(other) else ["other totals"]
    for mine, theirs in zip(one.groups, other.groups, strict=True):
        a, b = mine.counts, theirs.counts
        if (a.right, a.trials, a.listeners) != (b.right, b.trials, b.listeners) or not math.isclose(
            a.dispersion or 0, b.dispersion or 0, rel_tol=1e-9
        ):
            found.append(f"{mine.by}: {a} against {b}")
    return found


def _totals(found: Pool) -> tuple[object, ...]:
    return found.answers, found.pooled, found.counted_once


def main() -> None:
    """Write them, pool them."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--casebooks", type=int, default=1000)
    parser.add_argument("--answers", type=int, default=10_000_000)
    parser.add_argument("--threads", type=int, default=2)
    parser.add_argument("--spark", action="store_true")
    parser.add_argument("--of", type=Path, help="pool what lies here already, in this process")
    parser.add_argument("--by", nargs="*", default=[])
    asked = parser.parse_args()
    if asked.of:
        pooled(asked.of, asked.threads, asked.by)
        return
    home = Path(tempfile.mkdtemp())
    try:
        began = time.perf_counter()
        for number in range(asked.casebooks):
            write_casebook(home, number, asked.answers // asked.casebooks // EACH)
        size = sum(one.stat().st_size for one in home.rglob("*.parquet"))
        print(
            f"{asked.casebooks} files, {size / 1e6:.0f} MB, written in {time.perf_counter() - began:.0f} s", flush=True
        )
        if asked.spark:
            shutil.copytree(home / "casebook-0", home / "its copy")  # counted once, by both engines
            for further in ([], *FURTHER):
                own = pool([home], further, lambda folder: engine.duckdb(folder, threads=asked.threads))
                other = pool([home], further, lambda _: engine.spark())
                once = own.counted_once[0][1]
                print(f"by {further}: {len(own.groups)} groups, {once} answers counted once", flush=True)
                print(f"  differing: {differing(own, other) or 'none'}", flush=True)
            return
        for further in ([], *FURTHER):  # each in a process of its own, so that its memory is its own
            command = [sys.executable, "-m", "tests.benchmarks.pooling", "--of", str(home), "--by", *further]
            subprocess.run([*command, "--threads", str(asked.threads)], check=True)
    finally:
        shutil.rmtree(home)


if __name__ == "__main__":
    main()
