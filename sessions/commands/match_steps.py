"""What somebody does or answers while real gear is matched: the microphone's file, its place, a switched setup."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..errors import CatalogueError
from .plain_text import plain

if TYPE_CHECKING:
    from ..preparation.selection import Selection


def calibration_of(path: Path | None, meaning: str | None, zero: Any) -> Any:
    """The microphone's file with what its numbers are, which is asked for where nobody said.

    Raises
    ------
    CatalogueError
        If nobody can be asked.
    """
    if path is None:
        return None
    if meaning is None:
        if not sys.stdin.isatty():
            raise CatalogueError(
                "what does the calibration file list? Say --calibration-is response (what the microphone does) or "
                "correction (what to add); suppliers differ"
            )
        meaning = click.prompt(
            "Does the file list the microphone's own response (taken off), or a correction (added)?",
            type=click.Choice(["response", "correction"]),
            err=True,
        )
    return path, meaning, zero or ""


def leader(casebook: Casebook, selection: Selection) -> Callable[[Setup], None]:
    """What leads the sound to a switched setup: its switch, or a person."""
    from ..listening import players
    from ..preparation.selection import check_real

    found = check_real(selection)
    names = [setup.name for setup in selection.setups]
    switches = [chain.switch for chain in found if chain.switch is not None]
    if not switches or switches[0].how == "assistant":
        return lambda setup: wait(f"Lead the sound to {setup.name}, then press Enter")
    switch, hold_s = players.switch_of(switches), switches[0].hold_ms / 1000

    def lead(setup: Setup) -> None:
        switch.to(names.index(setup.name), hold_s)
        time.sleep(switches[0].settle_ms / 1000)

    return lead


def wait(text: str) -> None:
    """Wait until somebody has done what the words say.

    Raises
    ------
    CatalogueError
        If nobody is there.
    """
    check_person("this step waits for a person; run it in a terminal")
    click.prompt(plain(text), default="", show_default=False, prompt_suffix=" ", err=True)


def check_person(message: str) -> None:
    """Nothing, if somebody is at the terminal.

    Raises
    ------
    CatalogueError
        With this message, if not.
    """
    if not sys.stdin.isatty():
        raise CatalogueError(message)
