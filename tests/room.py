"""An imaginary room, by arithmetic: what is played by planted loudspeakers is heard at its microphones.

Each loudspeaker has a level, a delay and a response of its own; noise, a calibrator's tone and an automatic gain come
on top, and the microphone's input clips. `Room` is a recorder in the test's own process; `tests.jack_room` puts the
same arithmetic behind a real sound server.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.signal import butter, lfilter

from audio.engine.devices import Device, choose
from audio.engine.orders import StreamFaults
from audio.engine.recording import LATENCY_S, Recording
from audio.engine.routes import Route

RATE_HZ = 48_000
PERIOD = 1024
TAIL_S = 0.7  # recorded after the signal


@dataclass(frozen=True)
class Speaker:
    """What one channel's way to the microphone does; `low_cut_hz` 0 for a flat response."""

    gain_db: float = -20.0
    delay_ms: float = 3.0
    low_cut_hz: float = 0.0


@dataclass
class Room:
    """A room with one loudspeaker for each channel, and a recorder in it.

    Attributes
    ----------
    at
        Which of the microphones hears it.
    tone_dbfs
        A calibrator's, RMS.
    agc
        Whether something follows the level.
    others
        Whether the other inputs hear some of the noise.
    latency_frames
        Of the way there and back, beside the loudspeakers' own delays.
    stumbles
        How many recordings stumble before one is clean; `stumbles_below`: blocks smaller than this stumble always.
    made
        The latencies asked for, one for each recording made.
    """

    speakers: list[Speaker]
    mics: int = 2
    at: int = 0
    noise_dbfs: float = -80.0
    tone_dbfs: float = -400.0
    mic_gain_db: float = 0.0
    agc: bool = False
    others: bool = True
    seed: int = 1
    latency_frames: int = PERIOD
    stumbles: int = 0
    stumbles_below: int = 0
    made: list[float] = field(default_factory=list)

    def record(
        self,
        signal: np.ndarray,
        route: Route,
        source: Route,
        rate_hz: int,
        *,
        latency_s: float = LATENCY_S,
        block: int = 0,
    ) -> Recording:
        """Play and record, as `audio.engine.recording.Recorder` says."""
        device = Device("room", "arithmetic", len(self.speakers), self.mics, RATE_HZ, True, True)
        assert choose([device], route.device) == choose([device], source.device, "input") == device
        assert max(route.channels) < len(self.speakers)
        assert max(source.channels) < self.mics
        whole = np.zeros((signal.shape[0] + self.latency_frames + round(TAIL_S * rate_hz), len(self.speakers)))
        whole[self.latency_frames : self.latency_frames + signal.shape[0], list(route.channels)] = signal
        air = Air(self, rate_hz)
        blocks = [air.carry(whole[start : start + PERIOD]) for start in range(0, whole.shape[0], PERIOD)]
        stumbled = len(self.made) < self.stumbles or 0 < block < self.stumbles_below
        self.made.append(latency_s)
        heard = np.concatenate(blocks).astype(np.float32)
        return Recording(heard, rate_hz, latency_s, device.full_name, device.full_name, StreamFaults(int(stumbled)))


class Air:
    """The way from a room's loudspeakers to its microphones, block by block."""

    def __init__(self, room: Room, rate_hz: int) -> None:
        rng = np.random.default_rng(room.seed)
        self._room = room
        self._place = 0
        self._agc = 1.0
        self._noise = _amplitude(room.noise_dbfs) * rng.standard_normal(8 * rate_hz)
        tone = 2**0.5 * _amplitude(room.tone_dbfs)
        self._noise += tone * np.sin(2 * np.pi * 1000 * np.arange(8 * rate_hz) / rate_hz)
        self._ways = [_Way(speaker, rate_hz) for speaker in room.speakers]

    def carry(self, played: np.ndarray) -> np.ndarray:
        """What the microphones hear, shape (frames, mics), of what is played, shape (frames, speakers)."""
        room, frames = self._room, played.shape[0]
        places = (self._place + np.arange(frames)) % self._noise.size
        self._place += frames
        total = self._noise[places].copy()
        for way, channel in zip(self._ways, played.T, strict=True):
            total += way.carry(channel)
        if room.agc:
            power = float(np.mean(total**2)) + 1e-12
            self._agc += 0.2 * (min(3.0, 0.002 / power**0.5) - self._agc)
            total *= self._agc
        heard = np.zeros((frames, room.mics))
        if room.others:
            heard[:] = 0.1 * self._noise[places][:, None]
        heard[:, room.at] = np.clip(total * 10 ** (room.mic_gain_db / 20), -1, 1)
        return heard


class _Way:
    """One loudspeaker's way: a delay with a gain, then its low cut."""

    def __init__(self, speaker: Speaker, rate_hz: int) -> None:
        self._gain = 10 ** (speaker.gain_db / 20)
        self._late = np.zeros(round(speaker.delay_ms * rate_hz / 1000))
        self._filter = butter(2, speaker.low_cut_hz, "high", fs=rate_hz) if speaker.low_cut_hz else None
        self._state = np.zeros(2)

    def carry(self, sound: np.ndarray) -> np.ndarray:
        waiting = np.concatenate([self._late, sound])
        out, self._late = self._gain * waiting[: sound.size], waiting[sound.size :]
        if self._filter is not None:
            out, self._state = lfilter(*self._filter, out, zi=self._state)
        return out


def _amplitude(level_dbfs: float) -> float:
    return 10 ** (level_dbfs / 20) if level_dbfs > -300 else 0.0
