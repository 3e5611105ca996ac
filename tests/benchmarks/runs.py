"""Programs run and measured: how long they took, and how much memory they held at most, with their own processes.

On a busy machine the clock tells little; the processor time that a program and its processes took is told beside it.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import sysconfig
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from sessions.casebook import user_folders

CACHE = "cache"
EARWITNESS = [sys.executable, str(Path(sysconfig.get_path("scripts")) / "earwitness")]


@dataclass(frozen=True)
class Row:
    """A line of the table: what was measured, what came out, what was aimed at, and whether that was reached."""

    what: str
    found: str
    goal: str
    met: bool


@dataclass(frozen=True)
class Taken:
    """Seconds by the clock, and seconds of processors."""

    clock_s: float
    processor_s: float


def taken(command: Sequence[str], folder: Path) -> Taken:
    """What a program takes; one that fails ends the benchmark with what it said."""
    return _timed(lambda: _run(command, folder))


def taken_by_all(commands: Sequence[Sequence[str]], folder: Path, at_once: int) -> Taken:
    """What many programs take, so many at once."""
    with ThreadPoolExecutor(at_once) as pool:
        return _timed(lambda: list(pool.map(lambda command: _run(command, folder), commands)))


def _timed(work: Callable[[], object]) -> Taken:
    begun, used = time.perf_counter(), _used_by_children()
    work()
    return Taken(time.perf_counter() - begun, _used_by_children() - used)


def _used_by_children() -> float:
    times = os.times()
    return times.children_user + times.children_system


def _run(command: Sequence[str], folder: Path) -> None:
    done = subprocess.run(
        command, cwd=folder, capture_output=True, text=True, stdin=subprocess.DEVNULL, env=_as_installed(folder)
    )
    if done.returncode not in (0, 1):  # 1: the answer is no
        raise SystemExit(f"{' '.join(command)} failed:\n{done.stderr}")


def _as_installed(folder: Path) -> dict[str, str]:
    """The environment of a program that was installed: its modules are compiled once and not by every run.

    What it keeps for the next run, it keeps in the benchmark's folder.
    """
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return kept | {"PYTHONPYCACHEPREFIX": str(folder / "bytecode"), user_folders.CACHE: str(folder / CACHE)}


def medians(works: Mapping[str, Callable[[], Taken]], times: int) -> dict[str, Taken]:
    """The medians of what each work takes, one after the other in turn, so that a busy machine is busy for all."""
    runs: dict[str, list[Taken]] = {name: [] for name in works}
    for _ in range(times):
        for name, work in works.items():
            runs[name].append(work())
    return {
        name: Taken(statistics.median(run.clock_s for run in own), statistics.median(run.processor_s for run in own))
        for name, own in runs.items()
    }


def most_megabytes(command: Sequence[str], folder: Path) -> float:
    """The most memory that a program and its children held together, in MB, looked at every 20 ms (Linux)."""
    child = subprocess.Popen(command, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
    most, ended = [0.0], threading.Event()

    def watch() -> None:
        while not ended.wait(0.02):
            most[0] = max(most[0], sum(_resident_mb(process) for process in _family(child.pid)))

    watcher = threading.Thread(target=watch)
    watcher.start()
    _, said = child.communicate()
    ended.set()
    watcher.join()
    if child.returncode not in (0, 1):
        raise SystemExit(f"{' '.join(command)} failed:\n{said}")
    return most[0]


def _family(process: int) -> list[int]:
    found = [process]
    try:
        children = Path(f"/proc/{process}/task/{process}/children").read_text().split()
    except OSError:
        return found
    return found + [one for child in children for one in _family(int(child))]


def _resident_mb(process: int) -> float:
    try:
        pages = int(Path(f"/proc/{process}/statm").read_text().split()[1])
    except OSError:
        return 0.0
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6
