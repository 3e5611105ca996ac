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
    help="Tell what loudness by ISO 532-1 would have given too, as a steady sound and (slow: some 0.4 s of work for "
    "each second of each file) exceeded in 5 % of the time.  [default: as a steady sound, where its library is "
    "installed]",
)


class Measure(click.Choice[str]):
    """What equal means: one of the names, or one of `LOUDNESS` with the level of full scale that a sheet took."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The measure; refused is what names none."""
        return value if STATED_LOUDNESS.fullmatch(str(value)) else super().convert(value, param, ctx)


def tells_loudness(wanted: bool | None) -> tuple[str, ...]:
    """Of which methods of ISO 532-1 the sheet is to tell; where nobody said, of the quick one, if it can."""
    from audio.levels import zwicker

    if wanted is None:
        return LOUDNESS[:1] if zwicker.is_installed() else ()
    return LOUDNESS if wanted else ()


def heard_at(chair_level: float | None, tells: tuple[str, ...]) -> float | None:
    """At which level the loudest passage is taken to play; None where no loudness by ISO 532-1 is told.

    Raises
    ------
    CatalogueError
        If the level cannot be meant.
    """
    check_chair_level(chair_level, heard=bool(tells))
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
    """Say what of ISO 532-1 is not among the meanings, where the choice moves a setup by more than the tolerance."""
    from audio.levels import zwicker

    from ..preparation.meanings import meanings

    found = meanings(sheet)
    if wanted is not None or found is None or found.most_db <= sheet.tolerance_lu:
        return
    if not zwicker.is_installed():
        say("  Loudness by ISO 532-1 is not among them: not computed, its extra 'loudness' is not installed.")
    elif not any(one.by.startswith(f"{LOUDNESS[1]}@") for one in found.given):
        say("  For the loudness by ISO 532-1 that is exceeded in 5 % of the time, which is slow: add --iso-532.")
