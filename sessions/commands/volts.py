"""The guided entry of voltmeter readings for `match volts`: cautions, tones, questions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import click

from audio.errors import MeasureError
from audio.room import voltmeter
from audio.room.voltmeter import Volts

from ..casebook.playback_chain import PlaybackChain
from ..errors import CatalogueError
from ..preparation.selection import Selection
from .context import say
from .plain_text import plain

TONE_S = 6.0
Readings = tuple[dict[str, dict[float, Volts]], dict[str, Volts]]


def given(selection: Selection, readings: Sequence[str], afters: Sequence[str]) -> Readings | None:
    """Readings named as options; None where none is.

    Raises
    ------
    CatalogueError, MeasureError
        If one is not of its form, names an unknown setup, or some are missing.
    """
    if not readings and not afters:
        return None
    names = [setup.name for setup in selection.setups]
    before: dict[str, dict[float, Volts]] = {name: {} for name in names}
    for text in readings:
        who, _, volts = text.rpartition("=")
        name, _, freq = who.rpartition("@")
        _check(name, names, f"--reading takes SETUP@HZ=VOLTS; got {text!r}")
        try:
            before[name][float(freq)] = voltmeter.parse(volts)
        except ValueError as error:
            raise CatalogueError(f"--reading takes SETUP@HZ=VOLTS; got {text!r}") from error
    after = {}
    for text in afters:
        name, _, volts = text.rpartition("=")
        _check(name, names, f"--after takes SETUP=VOLTS; got {text!r}")
        after[name] = voltmeter.parse(volts)
    missing = [name for name in names if name not in after]
    if missing:
        gains = voltmeter.chains(before).gains_db
        trims = ", ".join(f"{name} {gain:+.2f} dB" for name, gain in gains.items())
        raise CatalogueError(
            f"the trims are {trims}; apply them, read {missing[0]} again at 1 kHz and add --after {missing[0]}=VOLTS"
        )
    return before, after


def asked(
    selection: Selection, found: Sequence[PlaybackChain], level_dbfs: float, play: bool, rate_hz: int | None
) -> Readings:
    """Readings asked for one after the other, before and with the trims applied."""
    for caution in voltmeter.CAUTIONS:
        say(f"  {caution}", as_json=True)
    click.confirm("Is the meter set to AC volts, on a range that fits, and will it stay there?", abort=True, err=True)
    names = [setup.name for setup in selection.setups]
    before: dict[str, dict[float, Volts]] = {name: {} for name in names}
    for name, chain in zip(names, found, strict=True):
        for freq in voltmeter.FREQUENCIES_HZ:
            before[name][freq] = _asked(name, chain, freq, level_dbfs, play, rate_hz)
    gains = voltmeter.chains(before).gains_db
    after = {}
    for name, chain in zip(names, found, strict=True):
        say(f"{name} with its trim of {gains[name]:+.2f} dB:", as_json=True)
        after[name] = _asked(name, chain, voltmeter.MATCH_HZ, level_dbfs + gains[name], play, rate_hz)
    return before, after


def _asked(
    name: str, chain: PlaybackChain, freq_hz: float, level_dbfs: float, play: bool, rate_hz: int | None
) -> Volts:
    while True:
        if play:
            click.prompt(
                plain(f"{name}, {freq_hz:g} Hz: connect the meter, then Enter plays the tone for {TONE_S:g} s"),
                default="",
                show_default=False,
                prompt_suffix=" ",
                err=True,
            )
            _tone(chain, freq_hz, level_dbfs, rate_hz or 48_000)
        answer: Any = click.prompt(plain(f"{name}, {freq_hz:g} Hz at {level_dbfs:.2f} dBFS: volts"), err=True)
        try:
            return voltmeter.parse(answer)
        except MeasureError as error:
            say(str(error), as_json=True)


def _tone(chain: PlaybackChain, freq_hz: float, level_dbfs: float, rate_hz: int) -> None:
    from audio.engine.player import Player
    from audio.room.tones import tone

    route = chain.route
    with Player(route.device, routes=[route.channels]) as player:
        player.load([tone(freq_hz, level_dbfs, TONE_S, rate_hz)], rate_hz, [0])
        player.play_through(0)


def _check(name: str, names: Sequence[str], message: str) -> None:
    if name not in names:
        raise CatalogueError(f"{message}; the setups are {', '.join(names)}")
