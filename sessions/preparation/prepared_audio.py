"""The prepared audio of a casebook, found by the hash that a plan seals."""

from __future__ import annotations

from pathlib import Path

from audio.files import reading

from ..casebook.store import Casebook
from ..errors import ListenError


def file_of(casebook: Casebook, sealed: str, passage: str) -> Path:
    """The prepared file of that hash.

    Raises
    ------
    ListenError
        If it is missing, or not what was sealed.
    """
    for path in sorted(casebook.prepared.glob("*.wav")):
        if reading.sha256(path) == sealed:
            return path
    raise ListenError(
        f"the prepared audio of passage {passage!r} is missing or not what was sealed; "
        "rebuild it from the recordings with the settings of its match sheet: earwitness match files"
    )
