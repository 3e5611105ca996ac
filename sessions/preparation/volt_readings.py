"""Voltmeter readings as they are typed, ``SETUP@HZ=VOLTS`` before the trims and ``SETUP=VOLTS`` with them. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from audio.room import voltmeter
from audio.room.voltmeter import Volts

from ..errors import CatalogueError
from .selection import Selection

Readings = tuple[dict[str, dict[float, Volts]], dict[str, Volts]]
"""Each setup's at each frequency (Hz), and each setup's at 1 kHz with its trim on."""


def given(selection: Selection, readings: Sequence[str], afters: Sequence[str]) -> Readings | None:
    """Readings of both kinds; None where none is named.

    Raises
    ------
    CatalogueError, MeasureError
        If one is not of its form, names an unknown setup, or some are missing.
    """
    if not readings and not afters:
        return None
    names = [setup.name for setup in selection.setups]
    before = read_before(names, readings)
    after = {}
    for text in afters:
        name, _, volts = text.rpartition("=")
        _check(name, names, f"--after takes SETUP=VOLTS; got {text!r}")
        after[name] = voltmeter.parse(volts)
    missing = [name for name in names if name not in after]
    if missing:
        raise CatalogueError(
            f"the trims are {trims_in_words(before)}; earwitness plays so by itself, so leave the amplifiers as they "
            f"are; play the tone at 1 kHz with {missing[0]}'s trim, read it and add --after {missing[0]}=VOLTS"
        )
    return before, after


def read_before(names: Sequence[str], readings: Sequence[str]) -> dict[str, dict[float, Volts]]:
    """The readings before the trims, by setup and frequency.

    Raises
    ------
    CatalogueError, MeasureError
        If one is not of its form, or names an unknown setup.
    """
    before: dict[str, dict[float, Volts]] = {name: {} for name in names}
    for text in readings:
        who, _, volts = text.rpartition("=")
        name, _, freq = who.rpartition("@")
        _check(name, names, f"--reading takes SETUP@HZ=VOLTS; got {text!r}")
        try:
            before[name][float(freq)] = voltmeter.parse(volts)
        except ValueError as error:
            raise CatalogueError(f"--reading takes SETUP@HZ=VOLTS; got {text!r}") from error
    return before


def trims_in_words(before: dict[str, dict[float, Volts]]) -> str:
    """The trim of each setup, the gain with which it is played so that all are alike, in dB.

    Raises
    ------
    MeasureError
        If a reading is missing.
    """
    return ", ".join(f"{name} {gain:+.2f} dB" for name, gain in voltmeter.chains(before).gains_db.items())


def told(before: Mapping[str, Mapping[float, Volts]]) -> str:
    """Who sets the trims, which is not whoever reads, and with which tone each setup is read again.

    Raises
    ------
    MeasureError
        If a reading is missing.
    """
    gains = voltmeter.chains(before).gains_db
    lower = [f"{name} {-gain:.2f} dB lower" for name, gain in gains.items() if round(gain, 2)]
    if not lower:
        return "All are equally loud as they are. Read the tone at 1 kHz once more through each."
    return (
        f"earwitness itself plays {' and '.join(lower)}, in its own files; leave every amplifier and volume as it is, "
        f"or it would be done twice. To check, play the tone at 1 kHz again, through {' and '.join(lower)} than "
        "before, through any other as before, and read each."
    )


def _check(name: str, names: Sequence[str], message: str) -> None:
    if name not in names:
        raise CatalogueError(f"{message}; the setups are {', '.join(names)}")
