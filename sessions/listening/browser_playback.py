"""Playback in the listener's browser: the files of a trial, and what the page tells of what was heard. No network here.

It stands where a `Player` stands: a trial runner gives it each trial's stimuli, one copy a label. Each becomes a file
of its own: resampled to the browser's rate, with fresh dither, of one size, under a name that follows from a secret
which never leaves this process. The work is the same whatever the key. Names and files end with their trial.

The page plays by itself (`browser/trial_sound.js`), so that a switch waits for no network; it tells what it did. By
content X is the same sound as A or B, as it must be: whoever opens the browser's tools can compare the sounds, as they
could with a cable. What is excluded is to know it from names, sizes, bytes that are alike, or time.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import ceil
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from audio import browser_sound
from audio.browser_sound import BrowserSound, Reading
from audio.clip import Clip
from audio.engine.playback import Audition, Faults, Position
from audio.errors import DeviceError, MeasureError
from audio.files.wav_bytes import HEADER_BYTES
from audio.levels.k_weighting import k_weighting

from ..errors import ListenError
from ..plans.plan import Plan
from .browser_records import BrowserOutput, BrowserReport, BrowserTrial
from .spool import Spool, Stretch

PAUSE_S = 0.5  # as the engine's (audio/engine/player)
FADE_S = 0.005
START_RAMP_S = 1.0  # the first sound of a page comes up from nothing, in case the volume is up; our choice
SECRET_BYTES = 32
NAME_DIGITS = 32  # of a file's name, hexadecimal: 128 bits


@dataclass(frozen=True)
class PageTimes:
    """How any page plays at its rate: pause, fade and ramp in frames; the K-weighting by which it reads its sounds."""

    pause: int
    fade: int
    ramp: int
    weighting: tuple[tuple[float, ...], ...]

    @classmethod
    def at(cls, rate_hz: int) -> PageTimes:
        """Those at a rate."""
        weighting = tuple(tuple(map(float, one)) for one in k_weighting(rate_hz))
        return cls(ceil(PAUSE_S * rate_hz), round(FADE_S * rate_hz), round(START_RAMP_S * rate_hz), weighting)


def check(plan: Plan) -> None:
    """Nothing, if a plan can be heard through a browser.

    Raises
    ------
    ListenError
        If its setups are real gear, which plays where it stands.
    """
    if any(setup.chain is not None for setup in plan.setups):
        raise ListenError(
            f"the setups of plan {plan.name!r} are real gear; a browser cannot play them; leave --sound out"
        )


@dataclass(frozen=True)
class _Held:
    """A sound of the trial: a minute takes 17 MB, which lie on disk."""

    rate_hz: int
    frames: int
    channels: int
    crc32: int
    body: Stretch | bytes = field(repr=False)


@dataclass
class _Loaded:
    """The trial on offer."""

    trial: BrowserTrial
    rate_hz: int
    frames: int
    sounds: dict[str, _Held] = field(repr=False)
    exact: bool | None = None  # None: not read by the browser yet


class BrowserPlayback:
    """A `Playback` whose sound comes from a browser. One caller at a time.

    Parameters
    ----------
    secret
        For names and dither; None: a fresh one.
    folder
        On whose disk a trial's files lie.
    """

    def __init__(self, *, secret: bytes | None = None, folder: Path | None = None) -> None:
        self._spool = Spool(folder)
        self._secret = secrets.token_bytes(SECRET_BYTES) if secret is None else secret
        self._output: BrowserOutput | None = None
        self._number = 0
        self._loaded: _Loaded | None = None
        self._part = (0, 0)
        self._position = Position(None, 0, False)
        self._past, self._faults = Faults(), Faults()
        self._trouble = ""
        self._told, self._hidden = 0, 0
        self._unread: list[Audition] = []

    def __enter__(self) -> BrowserPlayback:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    # -- for the page ------------------------------------------------------------------------------------------------
    def open(self, output: BrowserOutput) -> None:
        """Take note of the output that the page plays on; what was loaded for another rate must be loaded again."""
        if self._output is not None and self._output.rate_hz != output.rate_hz:
            self._loaded = None
        self._output = output

    @property
    def output(self) -> BrowserOutput | None:
        """The output that the page plays on; None before it told."""
        return self._output

    @property
    def hidden(self) -> int:
        """How often the page was put away while this trial played."""
        return self._hidden

    @property
    def trial(self) -> BrowserTrial | None:
        """What the page is given of the trial on offer; None where there is none."""
        return None if self._loaded is None else self._loaded.trial

    def file(self, name: str) -> bytes | None:
        """The bytes of a file of the trial on offer; None where there is none of this name."""
        sound = None if self._loaded is None else self._loaded.sounds.get(name)
        return None if sound is None else self._spool.get(sound.body)

    def read(self, trial: int, readings: Sequence[Reading]) -> bool:
        """Take what the page read of the sounds as it plays them; whether all are there to the bit.

        A page that was loaded again reads them again, and tells from then on what was heard since.

        Raises
        ------
        DeviceError
            If it plays something else than it was given; the message says what.
        """
        loaded = self._current(trial)
        if len(readings) != len(loaded.trial.names):
            raise DeviceError(f"the page read {len(readings)} sounds of {len(loaded.trial.names)}; load it again")
        try:
            found = [
                self._is_played(loaded.sounds[name], read)
                for name, read in zip(loaded.trial.names, readings, strict=True)
            ]
        except MeasureError as error:
            raise DeviceError(str(error)) from error
        loaded.exact = all(found)
        self._count_anew()
        return loaded.exact

    def told(self, report: BrowserReport) -> None:
        """Take a report of the page. One of an earlier trial says nothing of this one.

        Raises
        ------
        DeviceError
            If it tells of what cannot be: a stimulus that there is not, sounds that were not read yet.
        """
        loaded = self._loaded
        if loaded is None or report.trial != loaded.trial.number:
            return
        heard = [Audition(*one) for one in report.auditions[max(0, self._told - report.told_before) :]]
        indices = {report.stimulus, *(one.stimulus for one in heard)} - {-1}
        if loaded.exact is None or not indices <= set(range(len(loaded.trial.names))):
            raise DeviceError("the page tells of sounds that it was not given; load it again")
        if report.told_before > self._told:
            raise DeviceError("the page left out what was heard before; load it again")
        self._unread += [self._in_passage(one) for one in heard]
        self._told += len(heard)
        sounds = report.playing and report.stimulus >= 0
        self._position = Position(report.stimulus if sounds else None, self._frame(report.frame), report.playing)
        self._faults = Faults(
            underruns=max(self._faults.underruns, report.underruns), stalls=max(self._faults.stalls, report.stalls)
        )
        self._hidden = max(self._hidden, report.hidden)
        self._trouble = report.trouble

    # -- for the trial runner ----------------------------------------------------------------------------------------
    def load(self, stimuli: Sequence[NDArray[np.float32]], rate_hz: int, places: Sequence[int] = ()) -> None:
        """Make the files of a trial: one for each stimulus, whichever are alike; `places` are not looked at.

        Raises
        ------
        DeviceError
            If the page has not told its output yet, or cannot play this.
        """
        if self._output is None:
            raise DeviceError("the page has not started its sound yet; touch «start the sound» on it")
        if self._output.channels == 1 and stimuli[0].shape[1] == 2:
            raise DeviceError(
                "the browser plays on one channel and would mix both into it; use headphones or stereo loudspeakers, "
                "and load the page again"
            )
        self._number += 1
        self._count_anew()
        self._unread = []
        own_hz = self._output.rate_hz
        self._loaded = None
        self._spool.clear()
        sounds = {
            self._drawn("name", label).hex()[:NAME_DIGITS]: self._held(
                browser_sound.made(
                    Clip(np.asarray(sound, np.float64), rate_hz),
                    own_hz,
                    int.from_bytes(self._drawn("dither", label), "big"),
                )
            )
            for label, sound in enumerate(stimuli)
        }
        first = next(iter(sounds.values()))
        if len({(sound.frames, sound.channels) for sound in sounds.values()}) != 1:
            raise ValueError("the stimuli of a trial are equally long and have the same channels")
        times = PageTimes.at(own_hz)
        trial = BrowserTrial(
            self._number, own_hz, first.frames, first.channels, times.pause, times.fade, times.ramp,
            0, first.frames, tuple(sounds), times.weighting,
        )  # fmt: skip
        self._loaded = _Loaded(trial, rate_hz, stimuli[0].shape[0], sounds)

    def loop(self, start: int, end: int) -> None:
        """Let the page be told to keep to a part of the passage, by its first frame and the one after its last."""
        if self._loaded is not None:
            trial, loaded = self._loaded.trial, self._loaded
            last = trial.frames if end >= loaded.frames else round(end * trial.rate_hz / loaded.rate_hz)
            self._loaded = replace(
                loaded, trial=replace(trial, first=round(start * trial.rate_hz / loaded.rate_hz), end=last)
            )

    def play(self, index: int) -> None:
        """Nothing: the page has switched by itself when it says so."""

    def play_from(self, index: int, frame: int) -> None:
        """Nothing, as `play`."""

    def restart(self) -> None:
        """Nothing, as `play`."""

    def pause(self) -> None:
        """Nothing, as `play`."""

    def resume(self) -> None:
        """Nothing, as `play`."""

    def stop(self) -> None:
        """Take it that nothing sounds: the page falls silent before it sends an answer, and says what was heard."""
        self._position = Position(None, self._position.frame, False)

    def close(self) -> None:
        """Forget the trial's files."""
        self._loaded = None
        self._spool.close()

    def position(self) -> Position:
        """What the page last told."""
        return self._position

    def faults(self) -> Faults:
        """The faults that the page told of so far."""
        past, now = self._past, self._faults
        return Faults(underruns=past.underruns + now.underruns, stalls=past.stalls + now.stalls)

    def trouble(self) -> str:
        """What the page saw of its last fault."""
        return self._trouble

    def auditions(self) -> list[Audition]:
        """What was heard since the last call, in frames of the passage."""
        heard, self._unread = self._unread, []
        return heard

    def _count_anew(self) -> None:
        """Keep the faults so far, and begin to count what the page tells."""
        self._past, self._faults = self.faults(), Faults()
        self._trouble, self._told, self._hidden = "", 0, 0
        self._position = Position(None, 0, False)

    def _current(self, trial: int) -> _Loaded:
        if self._loaded is None or self._loaded.trial.number != trial:
            raise DeviceError("the page tells of a trial that is not on offer; load it again")
        return self._loaded

    def _held(self, sound: BrowserSound) -> _Held:
        crc32 = zlib.crc32(memoryview(sound.body)[HEADER_BYTES:])
        return _Held(sound.rate_hz, sound.frames, sound.channels, crc32, self._spool.put(sound.body))

    def _is_played(self, held: _Held, read: Reading) -> bool:
        """Whether the page plays a sound to the bit; False if it differs by no more than the tolerance."""
        given = held.rate_hz, held.frames, held.channels
        if (read.rate_hz, read.frames, read.channels, read.crc32) == (*given, held.crc32):
            return True
        return browser_sound.check(BrowserSound(*given, self._spool.get(held.body)), read)

    def _drawn(self, what: str, label: int) -> bytes:
        """Bytes that follow from the secret, the trial and the label alone."""
        return hmac.digest(self._secret, f"{what}|{self._number}|{label}".encode(), hashlib.sha256)

    def _frame(self, frame: int) -> int:
        """A frame at the browser's rate as one of the passage."""
        loaded = self._loaded
        if loaded is None:
            return 0
        return min(loaded.frames, max(0, round(frame * loaded.rate_hz / loaded.trial.rate_hz)))

    def _in_passage(self, heard: Audition) -> Audition:
        return Audition(heard.stimulus, self._frame(heard.from_frame), self._frame(heard.to_frame))
