"""A take of sweeps in one stream: markers around them, silence before each; and what its recording says. Pure.

One stream plays and records everything, so that its averages share one clock. The two markers, short sweeps in the
middle of the band, and the sweeps' own part in that band tell when and how loud each of them was heard: a clock that
runs unlike, frames that were lost, a level that drifts and an average unlike the others show there.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..errors import MeasureError
from . import band_levels, disturbances, noise_floor
from .curve import Numbers
from .disturbances import Hum
from .noise_floor import Silence
from .sweep import Deconvolved, Sweep, inverse, parted, sweep, whole_response

LEAD_S = 0.4
SILENCE_S = 0.5  # before each sweep, for the noise
AFTER_S = 1.0  # after each sweep, for the room to die away
GUARD_S = 0.02  # of a silence's end is left out: a sweep's band limits ring a little ahead
MARKER_S, MARKER_HZ = 0.3, (300.0, 6000.0)
AROUND_S = 0.25  # of a marker's response, before and after it
SAME_FRAMES = 0.15  # events that lie so near each other came at one time
MOST_PPM = 500.0  # two crystals differ less; above it frames were lost
CLOCK_PPM = 1.0  # from here on a clock's offset is told
LEVEL_SAID_DB, LEVEL_OUT_DB, DRIFT_OUT_DB = 0.2, 0.5, 1.0  # said; an average left out; the take refused: our choices
FLAT = "its tops are flat: something before the converter clips; lower the level or a gain"
HEARD = 0.5  # correlation from which on a marker counts as heard


@dataclass(frozen=True)
class Layout:
    """Where everything lies in the signal of a take, in frames."""

    made: Sweep
    averages: int

    @cached_property
    def marker(self) -> Sweep:
        """The short sweep before and after, within the band that is swept."""
        made = self.made
        low = max(made.low_hz, min(MARKER_HZ[0], made.high_hz / 2))
        return sweep(low, min(made.high_hz, max(2 * low, MARKER_HZ[1])), MARKER_S, made.rate_hz, made.amplitude)

    def _frames(self, seconds: float) -> int:
        return round(seconds * self.made.rate_hz)

    @property
    def sweep_frames(self) -> int:
        """The length of one sweep."""
        return self.made.frames

    @property
    def starts(self) -> tuple[int, ...]:
        """Where each sweep begins."""
        first = self._frames(LEAD_S + AFTER_S + SILENCE_S) + self.marker.frames
        each = self.sweep_frames + self._frames(AFTER_S + SILENCE_S)
        return tuple(first + place * each for place in range(self.averages))

    @property
    def markers(self) -> tuple[int, int]:
        """Where the two markers begin."""
        return self._frames(LEAD_S), self.starts[-1] + self.sweep_frames + self._frames(AFTER_S + SILENCE_S)

    def signal(self) -> Numbers:
        """The whole signal, shape (frames,)."""
        marker, played = self.marker.samples(), self.made.samples()
        made = np.zeros(self.markers[1] + len(marker) + self._frames(AFTER_S))
        for start in self.markers:
            made[start : start + len(marker)] = marker
        for start in self.starts:
            made[start : start + len(played)] = played
        return made


@dataclass(frozen=True, eq=False)
class TakeReading:
    """What a take comes to.

    Attributes
    ----------
    response
        Of the averages used, by a sweep on the recorder's clock: `made`.
    silence, hum
        The noise before the sweeps, and the mains hum in it; None where there is none.
    used
        Which averages were used, from 1.
    clock_ppm, drift_db
        How much faster the recorder's clock runs; the level's change from first to last.
    said
        What disturbed the take, a sentence each.
    """

    response: Deconvolved
    made: Sweep
    silence: Silence
    hum: Hum | None
    used: tuple[int, ...]
    clock_ppm: float
    drift_db: float
    said: tuple[str, ...]


def read_take(layout: Layout, heard: Numbers) -> TakeReading:
    """The response behind the recording of a take, and everything that disturbed it.

    Parameters
    ----------
    heard
        Shape (frames,), from the signal's first frame on.

    Raises
    ------
    MeasureError
        If no average can be used; the message says why.
    """
    reach = layout.sweep_frames + round((AFTER_S + SILENCE_S) * layout.made.rate_hz)
    flat = {
        place for place, start in enumerate(layout.starts) if disturbances.flat_topped(heard[start : start + reach])
    }
    if len(flat) == layout.averages:
        raise _disturbed(layout, FLAT)
    first = whole_response(layout.made, heard[layout.starts[0] : layout.starts[0] + reach])
    arrival = int(np.argmax(np.abs(first[: reach - layout.sweep_frames])))
    events = _Events.of(layout, heard, arrival)
    out, said = dict.fromkeys(flat, FLAT), list[str]()
    events.judge(out, said)
    made = layout.made.stretched(events.clock)

    def cuts_of(samples: Numbers) -> list[Numbers]:
        return [_cut(layout, samples, place, events.lags[place], arrival) for place in range(layout.averages)]

    cuts = cuts_of(heard)
    quiet = noise_floor.silence(silences(layout, heard, arrival), layout.made.rate_hz)
    mains = disturbances.mains_hum(quiet)
    still = cuts_of(disturbances.without_hum(heard, mains, layout.made.rate_hz)) if mains else cuts
    _judge_between(made, cuts, still, arrival, quiet, out)
    left = [place for place in range(layout.averages) if place not in out]
    if not left:
        raise _disturbed(layout, next(iter(out.values())))
    said += [f"average {place + 1} of {layout.averages} was left out: {why}" for place, why in sorted(out.items())]
    mean = np.mean([cuts[place] for place in left], axis=0)
    response = parted(made, whole_response(made, mean), len(mean) - layout.sweep_frames)
    said += disturbances.hum(mains, float(np.sqrt(np.mean(np.square(mean[arrival : arrival + layout.sweep_frames])))))
    used = tuple(place + 1 for place in left)
    return TakeReading(response, made, quiet, mains, used, 1e6 * events.clock, events.drift_db, tuple(said))


def _disturbed(layout: Layout, why: str) -> MeasureError:
    which = "the sweep" if layout.averages == 1 else "each of the averages"
    return MeasureError(f"{which} was disturbed and nothing is kept: {why}; sweep again")


def _judge_between(
    made: Sweep, cuts: list[Numbers], still: list[Numbers], arrival: int, quiet: Silence, out: dict[int, str]
) -> None:
    """Which averages hold what others do not: a noise, or another level in some band, which is no noise.

    Noises are looked for in the averages without hum (`still`), bands compared as they are, hum counted as noise.
    Whoever differs from the others is in the minority: where most differ nothing tells which are right.
    """
    compared = len(cuts) - len(out)
    apart = band_levels.differing(made, cuts, arrival, quiet, set(out))
    noises = disturbances.bursts(made, still, arrival, set(out))
    plain = {place for place in noises if place in apart and not disturbances.has_more(made, still[place], arrival)}
    out.update({place: why for place, why in noises.items() if place not in plain})
    left = {place: found for place, found in apart.items() if place not in out}
    if compared > 2 and 2 * len(left) > compared:
        hz, db = max(left.values(), key=lambda found: abs(found[1]))
        raise MeasureError(
            f"the averages do not agree: around {hz} Hz most of them differ, by up to {abs(db):.1f} dB, and nothing "
            "tells which are right; let gear and room come to rest, and sweep again"
        )
    for place, (hz, db) in left.items():
        if len(apart) == len(cuts) == 2 and len(left) == 2:
            out[place] = f"around {hz} Hz the two averages differ by {abs(db):.1f} dB, and nothing tells which is right"
        elif len(cuts) > 2:
            out[place] = f"around {hz} Hz its level differs by {db:+.1f} dB from the others"


@dataclass(frozen=True, eq=False)
class _Events:
    """When (frames, against the first marker) and how loud (dB) the markers and sweeps were heard.

    `lags` and `levels_db` are the sweeps' own; `marks` holds the last marker's time and level.
    """

    layout: Layout
    lags: list[float]
    levels_db: list[float]
    last: tuple[float, float]
    clock: float
    lost: bool
    seen: bool

    @classmethod
    def of(cls, layout: Layout, heard: Numbers, arrival: int) -> _Events:
        first, last = (_in_band(layout, heard, start + arrival, layout.marker) for start in layout.markers)
        ends = _against(first, last)
        clock = ends.lag / (layout.markers[1] - layout.markers[0]) if abs(ends.lag) > SAME_FRAMES / 2 else 0.0
        seen = ends.alike >= HEARD
        for tried in (clock, 0.0):
            own, mark = layout.made.stretched(tried), layout.marker.stretched(tried)
            first, last = (_in_band(layout, heard, start + arrival, mark) for start in layout.markers)
            ends = _against(first, last)
            found = [_against(first, _in_band(layout, heard, start + arrival, own)) for start in layout.starts]
            wanted = [tried * (start - layout.markers[0]) for start in layout.starts]
            apart = [abs(one.lag - there) for one, there in zip(found, wanted, strict=True)]
            fits = max(apart) <= SAME_FRAMES and abs(ends.lag - tried * (layout.markers[1] - layout.markers[0])) < 1
            if fits and abs(tried) <= MOST_PPM * 1e-6:
                return cls(
                    layout, wanted, [one.level_db for one in found], (ends.lag, ends.level_db), tried, False, seen
                )
        lags = [one.lag for one in found]
        return cls(layout, lags, [one.level_db for one in found], (ends.lag, ends.level_db), 0.0, seen, seen)

    @property
    def drift_db(self) -> float:
        """The level of the last marker less that of the first."""
        return self.last[1]

    def judge(self, out: dict[int, str], said: list[str]) -> None:
        """Which averages cannot be used, and what is to be said of the take."""
        if not self.seen:
            said.append("the markers around the sweeps were not heard clearly: clock and level could not be checked")
            self.lags[:] = [0.0 for _ in self.lags]
            return
        if self.lost:
            self._lost_frames(out)
        if abs(self.clock) * 1e6 >= CLOCK_PPM:
            said.append(
                f"the recorder's clock runs {abs(self.clock) * 1e6:.0f} ppm {'faster' if self.clock > 0 else 'slower'} "
                "than the player's; that was allowed for"
            )
        levels = [0.0, *self.levels_db, self.last[1]]
        middle = float(np.median(levels))
        if abs(self.drift_db) > DRIFT_OUT_DB:
            raise MeasureError(
                f"the level drifted by {self.drift_db:+.1f} dB during the take; let the gear warm up, switch automatic "
                "gain off, and sweep again"
            )
        if abs(self.drift_db) > LEVEL_SAID_DB:
            said.append(f"the level drifted by {self.drift_db:+.1f} dB from the first to the last marker")
        differ = {place: level - middle for place, level in enumerate(self.levels_db)
                  if abs(level - middle) > LEVEL_OUT_DB}  # fmt: skip
        if len(levels) > 4 and 2 * len(differ) > len(self.levels_db):
            worst = max(abs(db) for db in differ.values())
            raise MeasureError(
                f"the averages do not agree: the level of most of them differs, by up to {worst:.1f} dB, and nothing "
                "tells which are right; let the gear warm up, switch automatic gain off, and sweep again"
            )
        for place, db in differ.items():
            out.setdefault(place, f"its level differs by {db:+.1f} dB from the rest of the take")

    def _lost_frames(self, out: dict[int, str]) -> None:
        """Leave out every sweep next to a jump in time: it may lie within it."""
        times = [0.0, *self.lags, self.last[0]]
        jumps = np.diff(times)
        worst = float(jumps[np.argmax(np.abs(jumps))])
        for place in range(len(self.lags)):
            if max(abs(jumps[place]), abs(jumps[place + 1])) > SAME_FRAMES:
                word = "lost" if worst < 0 else "inserted"
                many = "1 frame was" if round(abs(worst)) == 1 else f"{abs(worst):.0f} frames were"
                out[place] = f"{many} {word} near it; close other programs or ask for larger blocks"


@dataclass(frozen=True)
class _Likeness:
    lag: float
    level_db: float
    alike: float


def _in_band(layout: Layout, heard: Numbers, start: int, made: Sweep) -> Numbers:
    """The response in the markers' band, by a sweep heard from `start` on: `AROUND_S` before and after that moment."""
    rate, frames = made.rate_hz, made.frames
    around = round(AROUND_S * rate)
    cut = heard[max(0, start - around) : start + frames + around]
    size = 1 << int(np.ceil(np.log2(2 * frames + 2 * around)))
    both = np.fft.rfft(cut, size) * inverse(made, size)
    hz = np.fft.rfftfreq(size, 1 / rate)
    low, high = layout.marker.low_hz, layout.marker.high_hz
    both *= np.clip(4 * np.log2(np.maximum(hz, 1e-3) / low), 0, 1) * np.clip(
        4 * np.log2(high / np.maximum(hz, 1)), 0, 1
    )
    return np.asarray(np.fft.irfft(both, size)[: 2 * around])


def _against(first: Numbers, other: Numbers) -> _Likeness:
    """How much later, how much louder, and how like the first response another is.

    The noise's energy, read from before the response, is taken off: it is no level.
    """
    size = 4 * len(first)
    product = np.conj(np.fft.rfft(first, size)) * np.fft.rfft(other, size)
    product = np.concatenate([product, np.zeros(7 * (size // 2))])  # eight points a frame
    correlation = np.fft.irfft(product, 8 * size) * 8
    at = int(np.argmax(np.abs(correlation)))
    before, here, after = (abs(float(correlation[(at + step) % (8 * size)])) for step in (-1, 0, 1))
    bend = before - 2 * here + after
    fine = at + (0.5 * (before - after) / bend if bend else 0.0)
    lag = (fine if at < 4 * size else fine - 8 * size) / 8
    quiet = len(first) // 5
    own, theirs = (float(np.sum(one**2) - len(one) * np.mean(one[:quiet] ** 2)) for one in (first, other))
    if own <= 0 or theirs <= 0:
        return _Likeness(0.0, -300.0, 0.0)
    return _Likeness(lag, 20 * float(np.log10(max(here / own, 1e-15))), here / (own * theirs) ** 0.5)


def _cut(layout: Layout, heard: Numbers, place: int, lag: float, arrival: int) -> Numbers:
    """One sweep's recording, from when it was played; laid on the others to a fraction of a frame."""
    whole = round(lag)
    start = layout.starts[place] + whole
    frames = layout.sweep_frames + arrival + round(AFTER_S * layout.made.rate_hz)
    cut = np.zeros(frames)
    found = heard[start : start + frames]
    cut[: len(found)] = found
    rest = lag - whole
    if abs(rest) < 0.005:
        return cut
    size = 1 << int(np.ceil(np.log2(frames + 1024)))
    turn = np.exp(2j * np.pi * np.fft.rfftfreq(size) * rest)
    return np.asarray(np.fft.irfft(np.fft.rfft(cut, size) * turn, size)[:frames])


def silences(layout: Layout, heard: Numbers, arrival: int) -> list[Numbers]:
    """The quiet stretch before each sweep was heard."""
    frames, guard = (round(seconds * layout.made.rate_hz) for seconds in (SILENCE_S - 2 * GUARD_S, GUARD_S))
    return [heard[start + arrival - guard - frames : start + arrival - guard] for start in layout.starts]
