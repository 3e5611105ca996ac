"""The guided entry of voltmeter readings for `match volts`: cautions, tones, questions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import click

from audio.errors import MeasureError
from audio.room import voltmeter
from audio.room.voltmeter import Volts

from ..casebook.playback_chain import PlaybackChain
from ..preparation.selection import Selection
from ..preparation.volt_readings import Readings
from .context import say
from .plain_text import plain

TONE_S = 6.0


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
