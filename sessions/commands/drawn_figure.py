"""Figures that a command draws into a file: the options that say how, and what is said where a frame cut something."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from audio.curves.picture import Look

Command = TypeVar("Command", bound=Callable[..., Any])


def drawing_options(command: Command) -> Command:
    """Adds ``--out``, ``--size``, ``--dark`` and ``--transparent``."""
    for option in (
        click.option("--transparent", is_flag=True, help="On no paper."),
        click.option("--dark", is_flag=True, help="Light on dark paper."),
        click.option("--size", default="", metavar="SIZE", help="1920x1080, 3840x2160, square or page."),
        click.option("--out", type=click.Path(path_type=Path), help="Draw it there, as .svg or .png."),
    ):
        command = option(command)
    return command


def draw(figure: Any, out: Path, look: Look) -> str:
    """Write a figure; a sentence with the whole of what its frame cut, or nothing.

    Raises
    ------
    FileError
        If it cannot be written, or no picture ends so.
    """
    from audio.curves import frame, picture

    picture.write(figure, out, look)
    cut = frame.CUT.get(figure, "")
    if not cut:
        return ""
    what = "table" if figure in frame.TABLES else "caption"
    told = "; ".join(cut.split("\n"))
    return f"  its {what} is cut there, so that type can be read on a telephone; the whole: {told}"
