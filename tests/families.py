"""Pieces of music made from events, and what lies between two recordings of one: the families that the measures of the
same performance at the same place are designed and judged on.

A piece is a list of events (instrument, onset, pitch, strength), so that another take of it is the same events, each
at another moment. Instruments are fixed sounds, which makes another take as like the first as it can be.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, fftconvolve, sosfilt

RATE_HZ = 24_000  # holds the band that is compared
Signal = NDArray[np.float64]
INSTRUMENTS = ("kick", "snare", "hat", "pluck", "bass", "pad", "voice")


@dataclass(frozen=True)
class Event:
    """One note or stroke: when, in seconds, which pitch in Hz, how strong, and how long it is held."""

    instrument: str
    at_s: float
    pitch_hz: float
    strength: float
    held_s: float


def score(rng: np.random.Generator, length_s: float, *, drums: bool = True, tonal: bool = True) -> list[Event]:
    """A piece: strokes on a grid with gaps, a bass, chords and a melody, all drawn at random."""
    beat = 60 / float(rng.uniform(70, 140))
    root = float(rng.uniform(90, 180))
    scale = [0, 2, 3, 5, 7, 8, 10] if rng.random() < 0.5 else [0, 2, 4, 5, 7, 9, 11]
    events: list[Event] = []
    steps = int(length_s / (beat / 2))
    for step in range(steps):
        at = step * beat / 2
        if drums:
            if step % 4 == 0 or rng.random() < 0.1:
                events.append(Event("kick", at, 55.0, float(rng.uniform(0.7, 1)), 0.2))
            if step % 4 == 2:
                events.append(Event("snare", at, 190.0, float(rng.uniform(0.6, 0.9)), 0.2))
            if rng.random() < 0.8:
                events.append(Event("hat", at, 8000.0, float(rng.uniform(0.1, 0.3)), 0.05))
        if tonal:
            if step % 2 == 0:
                note = root / 2 * 2 ** (int(rng.choice(scale)) / 12)
                events.append(Event("bass", at, note, float(rng.uniform(0.4, 0.6)), beat))
            if step % 8 == 0:
                for degree in (0, 2, 4):
                    shifted = scale[(int(rng.integers(0, 4)) + degree) % 7]
                    events.append(Event("pad", at, 2 * root * 2 ** (shifted / 12), 0.12, 4 * beat))
            if rng.random() < 0.6:
                pitch = 4 * root * 2 ** (int(rng.choice(scale)) / 12)
                kind = "voice" if rng.random() < 0.5 else "pluck"
                events.append(
                    Event(kind, at, pitch, float(rng.uniform(0.2, 0.5)), float(rng.choice([0.5, 1, 2])) * beat)
                )
    return events


def another_take(rng: np.random.Generator, events: list[Event], jitter_s: float) -> list[Event]:
    """The same events, each a little earlier or later (standard deviation `jitter_s`) and stronger or weaker."""
    return [
        replace(
            each,
            at_s=max(0.0, each.at_s + float(rng.normal(0, jitter_s))),
            strength=each.strength * float(np.exp(rng.normal(0, 0.1))),
        )
        for each in events
    ]


def played(events: list[Event], length_s: float, rate_hz: int = RATE_HZ) -> Signal:
    """The events as sound, shape (frames, 2): each instrument at its own place between the channels."""
    frames = round(length_s * rate_hz)
    result = np.zeros((frames, 2))
    made: dict[Event, Signal] = {}  # strokes and notes that come again
    for each in events:
        alike = replace(each, at_s=0.0, strength=1.0)
        if alike not in made:
            made[alike] = _sound(alike, rate_hz)
        sound = each.strength * made[alike]
        left = {"kick": 0.5, "snare": 0.6, "hat": 0.35, "pluck": 0.3, "bass": 0.5, "pad": 0.65, "voice": 0.5}
        share = left[each.instrument]
        start = each.at_s * rate_hz
        whole = int(start)
        part = start - whole
        sound = np.concatenate([(1 - part) * sound, [0.0]]) + np.concatenate([[0.0], part * sound])
        end = min(frames, whole + sound.size)
        if end > whole:
            result[whole:end] += sound[: end - whole, None] * np.sqrt([share, 1 - share])
    peak = float(np.abs(result).max())
    return result * (0.5 / peak) if peak > 0 else result


def _sound(event: Event, rate_hz: int) -> Signal:
    rng = np.random.default_rng(INSTRUMENTS.index(event.instrument))
    t = np.arange(round((event.held_s + 0.3) * rate_hz)) / rate_hz
    noise = rng.standard_normal(t.size)
    if event.instrument == "kick":
        return np.sin(2 * np.pi * (50 * t + 6 * (1 - np.exp(-t / 0.02)))) * np.exp(-t / 0.1)
    if event.instrument == "snare":
        return (0.5 * np.sin(2 * np.pi * 190 * t) + 0.5 * noise) * np.exp(-t / 0.06)
    if event.instrument == "hat":
        return np.diff(noise, prepend=0.0) * np.exp(-t / 0.02)
    harmonics = np.arange(1, 1 + min(12, int(0.45 * rate_hz / event.pitch_hz)))
    slope = {"pluck": 1.0, "bass": 1.3, "pad": 1.0, "voice": 0.8}[event.instrument]
    phase = 2 * np.pi * event.pitch_hz * t
    if event.instrument == "voice":
        phase = phase + 0.6 * np.sin(2 * np.pi * 5.5 * t) * event.pitch_hz / 150
    tone = _harmonics(phase, harmonics.size, slope)
    attack = np.minimum(1.0, t / (0.005 if event.instrument in ("pluck", "bass") else 0.05))
    if event.instrument in ("pluck", "bass"):
        return tone * attack * np.exp(-t / (0.4 * event.held_s + 0.05))
    return tone * attack * np.clip((event.held_s + 0.25 - t) / 0.25, 0, 1)


def _harmonics(phase: Signal, count: int, slope: float) -> Signal:
    """The sum of sin(h phase) / h^slope, each by the two before: sin((h+1)x) = 2 cos(x) sin(hx) - sin((h-1)x)."""
    twice_cos, below, this = 2 * np.cos(phase), np.zeros_like(phase), np.sin(phase)
    tone = np.zeros_like(phase)
    for h in range(1, count + 1):
        tone += this / h**slope
        below, this = this, twice_cos * this - below
    return tone


def organ(rng: np.random.Generator, length_s: float, rate_hz: int = RATE_HZ) -> Signal:
    """Chords of an organ's stops, held for some seconds each, the next one where the last ends; two channels."""
    t = np.arange(round(length_s * rate_hz)) / rate_hz
    made = np.zeros((t.size, 2))
    begins_s = 0.0
    while begins_s < length_s:
        ends_s = min(begins_s + float(rng.uniform(2.5, 5)), length_s)
        sounding = np.clip(np.minimum((t - begins_s) / 0.04, (ends_s - t) / 0.08), 0, 1)
        root_hz = 110 * 2 ** (rng.integers(0, 12) / 12)
        for ratio in (1, 5 / 4, 3 / 2, 2):
            hz = root_hz * ratio * (1 + 1e-4 * rng.standard_normal())
            stops = ((1, 1.0), (2, 0.6), (3, 0.3), (4, 0.25), (6, 0.1))
            tone = sum(np.sin(2 * np.pi * hz * times * t + rng.uniform(0, 6)) * size for times, size in stops)
            left = rng.uniform(0.3, 0.7)
            made += (sounding * tone)[:, None] * [left, 1 - left]
        begins_s = ends_s
    return made * 0.4 / np.abs(made).max()


def equaliser(rng: np.random.Generator, samples: Signal, rate_hz: int = RATE_HZ) -> Signal:
    """Six resonances of up to 8 dB, and bass and treble as of another loudspeaker."""
    from demo_tracks.biquads import Biquad, apply

    filters = [Biquad("high-pass", float(rng.uniform(30, 90)), q=float(rng.uniform(0.5, 1.0)))]
    for freq_hz in np.exp(rng.uniform(np.log(80), np.log(0.4 * rate_hz), 6)):
        filters.append(
            Biquad("peaking", float(freq_hz), gain_db=float(rng.uniform(-8, 8)), q=float(rng.uniform(0.5, 6)))
        )
    filters.append(Biquad("high-shelf", 5000.0, gain_db=float(rng.uniform(-6, 6)), q=0.7))
    return np.asarray(apply(tuple(filters), samples, rate_hz))


def crossover(rng: np.random.Generator, samples: Signal, rate_hz: int = RATE_HZ) -> Signal:
    """A crossover of fourth order between 200 and 5000 Hz: its sum turns the phase once round."""
    cut_hz = float(np.exp(rng.uniform(np.log(200), np.log(5000))))
    low, high = (butter(2, cut_hz, kind, fs=rate_hz, output="sos") for kind in ("low", "high"))
    return np.asarray(sosfilt(np.repeat(low, 2, 0), samples, axis=0) + sosfilt(np.repeat(high, 2, 0), samples, axis=0))


def room(
    rng: np.random.Generator, samples: Signal, reverberation_s: float, direct_db: float, rate_hz: int = RATE_HZ
) -> Signal:
    """A room: direct sound, and a diffuse decay `direct_db` below (or, negative, above) it; each channel its own."""
    t = np.arange(round(1.2 * reverberation_s * rate_hz)) / rate_hz
    result = np.empty_like(samples)
    for channel in range(samples.shape[1]):
        tail = rng.standard_normal(t.size) * 10 ** (-3 * t / reverberation_s)
        tail = sosfilt(butter(1, 6000, fs=rate_hz, output="sos"), tail)
        tail *= 10 ** (-direct_db / 20) / np.sqrt(np.sum(np.square(tail)))
        tail[0] += 1.0
        result[:, channel] = fftconvolve(samples[:, channel], tail)[: len(samples)]
    return result


def compressed(samples: Signal, ratio: float, rate_hz: int = RATE_HZ) -> Signal:
    """A compressor: 5 ms up, 120 ms down, all above 20 dB below the loudest."""
    level = np.max(np.abs(samples), axis=1)
    block = rate_hz // 1000
    envelope, held = np.empty(len(level)), 0.0
    up, down = np.exp(-1 / 5), np.exp(-1 / 120)
    for start in range(0, len(level), block):
        now = float(level[start : start + block].max())
        held = max(now, held * down) if now < held else now + (held - now) * up
        envelope[start : start + block] = held
    over = np.maximum(envelope / (0.1 * envelope.max()), 1.0)
    return samples * (over ** (1 / ratio - 1))[:, None]


def remastered(rng: np.random.Generator, samples: Signal, rate_hz: int = RATE_HZ) -> Signal:
    """A remaster: equalised, compressed, driven into a soft limiter by 6 dB, another width."""
    made = compressed(equaliser(rng, samples, rate_hz), 2.0, rate_hz)
    middle, side = made.mean(axis=1, keepdims=True), (made[:, :1] - made[:, 1:]) / 2
    made = middle + float(rng.uniform(0.6, 1.5)) * side * np.array([1.0, -1.0])
    return np.tanh(2 * made / np.abs(made).max())


def noisy(rng: np.random.Generator, samples: Signal, below_db: float = 45.0) -> Signal:
    """With a recorder's own noise."""
    return samples + rng.normal(0, 10 ** (-below_db / 20) * float(samples.std()), samples.shape)
