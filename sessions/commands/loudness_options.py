"""What `match` asks about loudness by ISO 532-1: whether it is told, at which level it is heard, what is lacking."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import click

from ..errors import CatalogueError
from .context import say
from .number_types import NUMBER

if TYPE_CHECKING:
    from ..preparation.match_sheet import MatchSheet

STATED_LOUDNESS = re.compile(r"zwicker(-n5)?@([4-9]\d|1\d\d)")
CHAIR_SPL_DB = 75.0  # a common level for critical listening at home; our choice
LOUDNESS = ("zwicker", "zwicker-n5")  # by ISO 532-1, with an extra to install

CHAIR_LEVEL_OF_MUSIC = click.option(
    "--chair-level",
    type=NUMBER,
    metavar="DB_SPL",
    help="For ISO 532-1: how loud the loudest passage plays at the chair.  [default: 75, taken for granted]",
)
TELL_LOUDNESS = click.option(
    "--iso-532/--no-iso-532",
    "iso_532",
    default=None,
    help="Tell what loudness by ISO 532-1 would have given too: some 0.4 s of work for each second of each file.  "
    "[default: where its library is installed]",
)


class Measure(click.Choice[str]):
    """What equal means: one of the names, or one of `LOUDNESS` with the level of full scale that a sheet took."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The measure; refused is what names none."""
        return value if STATED_LOUDNESS.fullmatch(str(value)) else super().convert(value, param, ctx)


def tells_loudness(wanted: bool | None) -> bool:
    """Whether the sheet is to tell loudness by ISO 532-1; where nobody said, if it can."""
    from audio.levels import zwicker

    return zwicker.is_installed() if wanted is None else wanted


def heard_at(chair_level: float | None, wanted: bool | None) -> float | None:
    """At which level the loudest passage is taken to play; None where loudness by ISO 532-1 is not told.

    Raises
    ------
    CatalogueError
        If the level cannot be meant.
    """
    tells = tells_loudness(wanted)
    check_chair_level(chair_level, heard=tells)
    return (CHAIR_SPL_DB if chair_level is None else chair_level) if tells else None


def check_chair_level(level: float | None, *, heard: bool) -> None:
    """Nothing, if a stated level can be meant and something hears it.

    Raises
    ------
    CatalogueError
        If not.
    """
    if level is None:
        return
    if not heard:
        raise CatalogueError(
            "--chair-level goes with --by zwicker or --iso-532; no other meaning of equal hears how loud it plays"
        )
    if not 40 <= level <= 100:  # not-a-number too
        raise CatalogueError(f"--chair-level {level:g} is out of range; give 40 to 100 dB SPL")


def tell_lacking(sheet: MatchSheet, wanted: bool | None) -> None:
    """Say that ISO 532-1 is not among the meanings, where it could be and the choice moves more than the tolerance."""
    from audio.levels import zwicker

    from ..preparation.meanings import meanings

    found = meanings(sheet)
    if wanted is None and found is not None and found.most_db > sheet.tolerance_lu and not zwicker.is_installed():
        say("  Loudness by ISO 532-1 is not among them: not computed, its extra 'loudness' is not installed.")
