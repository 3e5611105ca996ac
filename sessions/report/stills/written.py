"""Stills as files: named after what they show, in one look or both, whole or built up in steps."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from audio.curves import still
from audio.curves.still import Still

UNSAFE = re.compile(r"[^\w.+-]+")


@dataclass(frozen=True)
class Wanted:
    """How stills are given out.

    Attributes
    ----------
    folder, size
        Where they go, and the frame: one of `still.FRAMES`.
    looks
        Light, dark, or both.
    opaque
        On paper instead of nothing.
    in_steps
        Built up, one after the other, as numbered files; what has nothing to build up is drawn whole.
    """

    folder: Path
    size: str
    looks: Sequence[str] = ("light",)
    opaque: bool = False
    in_steps: bool = False


def write(name: str, make: Callable[[], Still], wanted: Wanted) -> list[Path]:
    """Write a still in each look; the files, in their order.

    Raises
    ------
    FileError
        If one cannot be written.
    """
    files = []
    for look in wanted.looks:
        dark = look == "dark"
        made = still.dressed(make(), dark=dark, opaque=wanted.opaque)
        stem = f"{UNSAFE.sub('-', name).strip('-')}{'-dark' if dark else ''}"
        if not (wanted.in_steps and made.groups):  # a card of a verdict is one thing: nothing of it comes by itself
            files.append(wanted.folder / f"{stem}.png")
            still.write(made, files[-1], wanted.size, opaque=wanted.opaque)
            continue
        digits = len(str(len(made.groups)))
        for number in still.steps(made):
            files.append(wanted.folder / f"{stem}-{number:0{max(digits, 2)}d}.png")
            still.write(made, files[-1], wanted.size, opaque=wanted.opaque)
    return files
