"""Which start of which machine this is, in a text that can be kept. The only user of psutil."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path

BOOT_ID = Path("/proc/sys/kernel/random/boot_id")
SAME_WITHIN_S = 300  # a start told by the clock moves with the clock: two that are nearer are taken for one


def this_boot(casebook_id: str, boot_id: Path = BOOT_ID) -> str:
    """Which start of this machine it is: Linux numbers it (kept as a hash of the casebook), others tell its time."""
    try:
        numbered = boot_id.read_text(encoding="ascii").strip()
    except OSError:
        import psutil

        return datetime.fromtimestamp(psutil.boot_time(), UTC).isoformat(timespec="seconds")
    return hashlib.sha256(f"{casebook_id}|{numbered}".encode()).hexdigest()[:16]


def different(boots: Iterable[str]) -> int:
    """How many starts of machines these are.

    >>> different(["3f", "3f", "a0"])
    2
    >>> different(["2026-01-01T20:00:00+00:00", "2026-01-01T20:04:00+00:00", "2026-01-02T08:00:00+00:00"])
    2
    """
    known: set[str] = set()
    for boot in boots:
        if boot not in known and not any(_same(boot, one) for one in known):
            known.add(boot)
    return len(known)


def _same(one: str, two: str) -> bool:
    try:
        apart = datetime.fromisoformat(one) - datetime.fromisoformat(two)
    except (TypeError, ValueError):  # numbered starts
        return False
    return abs(apart.total_seconds()) <= SAME_WITHIN_S
