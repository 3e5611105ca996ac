"""Figures of electronics measured through a line loop: its numbers, its spectra, its crosstalk. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from shlex import quote
from typing import Any

import numpy as np

from audio.curves import draw, line_spectrum, noise_floor, statement_table
from audio.curves.curve import Curve, difference, farthest
from audio.curves.line_spectrum import BAND_HZ, LineSpectrum, ToneReading

from ...errors import CatalogueError
from ..curve_records import CurveRecord
from ..frequency_response import only_valid, points, response_of, shown
from ..member import SIDES
from .figure import Subject, columns, signed
from .needs import NotMeasured

CHANNEL = "channel"  # of a loop with one
NOISE = "noise"
WIDE_PT, THIN_PT = 3.6, 1.0  # lines of the first channel and of the other, which lie on each other
READ_HZ = (100.0, 1000.0, 10_000.0)
REFERENCE_HZ = 1000.0
BAND_WORDS = "20 Hz to 20 kHz"
REFERENCE_WORDS = "relative to the whole signal"


@dataclass(frozen=True, eq=False)
class LoopChannel:
    """What was kept of one channel of a run; the crosstalk is None where there was but one channel."""

    response: CurveRecord
    noise: CurveRecord
    tone: CurveRecord
    crosstalk: CurveRecord | None


def loop(subject: Subject, figure: str) -> Mapping[str, LoopChannel]:
    """The newest run of the loop, by channel."""
    tones = [one for one in subject.measured.everything if one.conditions.one_of.quantity == "tone"]
    if not tones:
        name = subject.name
        raise NotMeasured(
            f"{name!r} was not measured through a line loop yet: earwitness curve loop {quote(name)} --into …"
        )
    run = [one for one in subject.measured.everything if one.measurement_id == tones[-1].measurement_id]
    found = {}
    for side in ("", *SIDES):
        own = [one for one in run if one.conditions.one_of.side == side]
        parts = {one.conditions.one_of.quantity or one.kind: one for one in own}
        if {"impulse", "noise", "tone"} <= set(parts):
            found[side or CHANNEL] = LoopChannel(
                parts["impulse"], parts["noise"], parts["tone"], parts.get("crosstalk")
            )
    if not found:
        raise NotMeasured(f"parts of the newest loop of {subject.name!r} were withdrawn; measure it again")
    return found


@dataclass(frozen=True, eq=False)
class ChannelNumbers:
    """What one channel comes to. Levels in dBFS: 0 is a sine that reaches full scale at the loop's input."""

    played_hz: float
    played_dbfs: float
    response: Curve
    against_hz: float
    noise_dbfs: float
    noise_a_dbfs: float
    tone: ToneReading
    crosstalk_db: Mapping[float, float | None]
    crosstalk_floor_db: Mapping[float, float]
    volts: float | None

    @property
    def noise_volts(self) -> tuple[float, float] | None:
        """The noise in volts, unweighted and A-weighted, where the tone's volts at the output were stated."""
        if self.volts is None:
            return None
        full_scale = self.volts * 10 ** (-self.tone.level_db / 20)
        return full_scale * 10 ** (self.noise_dbfs / 20), full_scale * 10 ** (self.noise_a_dbfs / 20)

    @property
    def flat_db(self) -> tuple[float, float]:
        """The least and the most of the response against that at `against_hz`, 20 Hz to 20 kHz, as far as valid."""
        curve = self.response
        inside = curve.valid() & (curve.hz >= BAND_HZ[0]) & (curve.hz <= BAND_HZ[1])
        return float(curve.level_db[inside].min()), float(curve.level_db[inside].max())

    def to_document(self) -> dict[str, Any]:
        """The numbers by name, each with its bandwidth and weighting."""
        tone = self.tone
        least, most = self.flat_db
        found: dict[str, Any] = {
            "played": {"hz": self.played_hz, "dbfs": self.played_dbfs},
            "response": {"against_hz": self.against_hz, "least_db": round(least, 3), "most_db": round(most, 3),
                         **points(self.response)},
            "noise": {
                "band_hz": list(BAND_HZ),
                "unweighted_dbfs": round(self.noise_dbfs, 2),
                "a_weighted_dbfs": round(self.noise_a_dbfs, 2),
                "below_the_tone_db": round(tone.level_db - self.noise_dbfs, 2),
                "below_the_tone_a_weighted_db": round(tone.level_db - self.noise_a_dbfs, 2),
            },
            "tone": {
                "hz": round(tone.hz, 2),
                "level_dbfs": round(tone.level_db, 3),
                "band_hz": list(tone.band_hz),
                "relative_to": "whole signal",
                "thd_percent": round(100 * tone.thd, 6),
                "thd_floor_percent": round(100 * tone.thd_floor, 6),
                "thd_n_percent": round(100 * tone.thd_n, 6),
                "thd_n_db": round(20 * float(np.log10(max(tone.thd_n, 1e-12))), 2),
                "harmonics_percent": {str(order): round(100 * one, 6) for order, one in tone.harmonics.items()},
            },
        }  # fmt: skip
        if self.noise_volts is not None:
            found["noise"] |= dict(zip(("unweighted_v", "a_weighted_v"), self.noise_volts, strict=True))
        if self.crosstalk_floor_db:
            found["crosstalk_db"] = {f"{hz:g}": value for hz, value in self.crosstalk_db.items()}
            found["crosstalk_floor_db"] = {f"{hz:g}": value for hz, value in self.crosstalk_floor_db.items()}
        return found


@dataclass(frozen=True, eq=False)
class Electronics:
    """All channels of a run, and left less right where there are two."""

    name: str
    conditions: str
    note: str
    channels: Mapping[str, ChannelNumbers]
    balance: Curve | None
    smoothing: str = ""

    @property
    def largest_balance(self) -> tuple[float, float, float, float] | None:
        """Left less right at 1 kHz (or at the tone), Hz and dB, and where it is largest within 20 Hz to 20 kHz."""
        if self.balance is None:
            return None
        inside = self.balance.valid() & (self.balance.hz >= BAND_HZ[0]) & (self.balance.hz <= BAND_HZ[1])
        at = farthest(self.balance.level_db, inside)
        at_hz = next(iter(self.channels.values())).against_hz
        here = float(self.balance.at(np.array([at_hz]))[0])
        return at_hz, here, float(self.balance.hz[at]), float(self.balance.level_db[at])

    def to_document(self) -> dict[str, Any]:
        """The numbers by channel."""
        found: dict[str, Any] = {name: one.to_document() for name, one in self.channels.items()}
        if self.balance is not None and self.largest_balance is not None:
            at_hz, here, hz, db = self.largest_balance
            found["balance"] = {"at_hz": at_hz, "at_1_khz_db": round(here, 3) if at_hz == REFERENCE_HZ else None,
                                "at_db": round(here, 3), "largest_db": round(db, 3), "largest_hz": round(hz, 1),
                                **points(self.balance)}  # fmt: skip
        return found | {"conditions": self.conditions}

    def rows(self) -> list[tuple[str, str, str, str]]:
        """What, which channel, how, and the value."""
        found = []
        for name, one in self.channels.items():
            tone, (least, most) = one.tone, one.flat_db
            played = f"{one.played_hz:g} Hz at {one.played_dbfs:g} dBFS, {BAND_WORDS}, {REFERENCE_WORDS}"
            found += [
                ("level read", name, f"{one.played_hz:g} Hz at {one.played_dbfs:g} dBFS", f"{tone.level_db:.2f} dBFS"),
                (
                    "response",
                    name,
                    f"{_band(one.response)}, against {one.against_hz:g} Hz; {self.smoothing}",
                    f"{signed(least)} to {signed(most)} dB",
                ),
                ("noise floor", name, f"{BAND_WORDS}, unweighted", _noise(one, 0)),
                ("noise floor", name, f"{BAND_WORDS}, A-weighted", _noise(one, 1)),
                ("THD", name, played, _percent(tone.thd) if tone.thd else f"below {_percent(tone.thd_floor)}"),
                ("THD+N", name, f"{played}, unweighted", _percent(tone.thd_n)),
            ]
            found += [
                ("crosstalk", f"{name} into the other", f"at {hz:g} Hz", _crosstalk(value, one.crosstalk_floor_db[hz]))
                for hz, value in one.crosstalk_db.items()
            ]
        if self.balance is not None and self.largest_balance is not None:
            at_hz, here, hz, db = self.largest_balance
            words = f"{signed(here)} dB at {at_hz:g} Hz, {signed(db)} dB at {hz:.0f} Hz"
            how = f"{_band(self.balance)}; {self.smoothing}: at {at_hz:g} Hz, and the largest"
            found.append(("channel balance", "left less right", how, words))
        return found

    def sentences(self) -> list[str]:
        """A line for each number."""
        told = [f"{what}, {channel} ({how}): {value}" for what, channel, how, value in self.rows()]
        return [self.conditions, *told] if self.conditions else told

    def drawn(self) -> Any:
        """One row a number, a column a channel: half as high as a row for each would be."""
        by_number: dict[tuple[str, str], dict[str, str]] = {}
        for what, channel, how, value in self.rows():
            name = next((one for one in self.channels if channel in (one, f"{one} into the other")), "")
            told = what + {f"{name} into the other": " into the other"}.get(channel, "" if name else f", {channel}")
            by_number.setdefault((told, how), {})[name] = value
        rows = []
        for number, values in by_number.items():
            of_all = values.get("", "")  # what is told of both stands in the first
            rows.append((*number, *(values.get(name, "" if at else of_all) for at, name in enumerate(self.channels))))
        headings = ("measured", "how", *self.channels)
        title = f"{self.name}: line loop"
        return statement_table.statements(
            headings, rows, title=title, note=self.note, bold=len(self.channels), spare=(1,)
        )


@dataclass(frozen=True, eq=False)
class LoopLines:
    """Lines against frequency by name: spectra, or crosstalk."""

    title: str
    note: str
    unit: str
    span_db: float
    curves: Mapping[str, Curve]
    told: Sequence[str] = ()
    widths: Mapping[str, float] = field(default_factory=dict)

    def to_document(self) -> dict[str, Any]:
        """Level against frequency, every line of it."""
        return {name: columns(("hz", "db"), curve.hz, curve.level_db) for name, curve in self.curves.items()}

    def sentences(self) -> list[str]:
        """What is to be read from the lines, a channel each."""
        return list(self.told)

    def drawn(self) -> Any:
        """One line each."""
        return draw.responses(
            self.curves, title=self.title, note=self.note, unit=self.unit, span_db=self.span_db, widths=self.widths
        )


def electronics(found: Mapping[str, LoopChannel], subject: Subject) -> Electronics:
    """The numbers of the newest run."""
    channels = {name: _numbers(one, subject.smoothing) for name, one in found.items()}
    first = next(iter(found.values())).tone
    balance = None
    if set(SIDES) <= set(found):
        left, right = (_response(found[side].response, subject.smoothing) for side in SIDES)
        balance = difference(left, right, left.hz)
    stated = replace(first.conditions, member=None).in_words()
    swept = {name: one.response for name, one in found.items()}
    note = f"response: {subject.caption_of(swept, subject.smoothing_note)}; noise and tone: not gated"
    return Electronics(subject.name, stated, note, channels, balance, subject.smoothing_note)


def spectrum(found: Mapping[str, LoopChannel], subject: Subject) -> LoopLines:
    """Noise and tone of each channel; the first one's lines are wide, so that they show under the other's."""
    first, *others = found
    kept, widths = {}, dict[str, float]()
    for name, one in found.items():
        for what, record in ((NOISE, one.noise), ("tone", one.tone)):
            kept[f"{name}, {what}"] = record
            widths[f"{name}, {what}"] = WIDE_PT if others and name == first else THIN_PT
    curves = {name: Curve(one.hz, one.values, None, one.conditions.valid_hz) for name, one in kept.items()}
    spacing = next(iter(curves.values())).hz
    over = f"{others[0]} is drawn thin over {first}" if others else ""
    note = subject.caption_of(kept, f"power of each line, {spacing[1] - spacing[0]:.2f} Hz apart", over)
    told = []
    for name, one in found.items():
        own = _numbers(one, subject.smoothing)
        lines = {order: ratio for order, ratio in own.tone.harmonics.items() if ratio}
        harmonics = ", ".join(f"{order}: {20 * np.log10(ratio):.1f} dB" for order, ratio in lines.items())
        told.append(
            f"{name}: tone {own.tone.level_db:.2f} dBFS at {own.tone.hz:.1f} Hz, "
            f"{f'harmonics {harmonics}' if harmonics else 'no harmonic above the noise'}; noise {own.noise_dbfs:.1f} "
            f"dBFS, A-weighted {own.noise_a_dbfs:.1f} dBFS, {BAND_WORDS}"
        )
    return LoopLines(f"{subject.name}: noise and tone", note, "dBFS", 160.0, curves, told, widths)


def crosstalk(found: Mapping[str, LoopChannel], subject: Subject) -> LoopLines:
    """What each channel gives to the other, where it stands clear of noise."""
    curves = {}
    for name, one in found.items():
        if one.crosstalk is None:
            raise NotMeasured(f"crosstalk needs both channels of {subject.name!r}: curve loop --into DEVICE:1,2")
        curve, floor = _crosstalk_of(one.crosstalk)
        clear = noise_floor.clear_band(curve, floor, curve.valid_hz)
        if clear is not None:
            curves[f"{name} into the other"] = shown(replace(curve, valid_hz=clear), subject.smoothing)
        curves[f"noise, {name}"] = replace(floor, valid_hz=curve.valid_hz)
    kept = {name: one.crosstalk for name, one in found.items() if one.crosstalk is not None}
    how = "relative to the channel that plays, where it exceeds the noise by 10 dB"
    note = subject.caption_of(kept, how, subject.smoothing_note)
    told = []
    for name, record in kept.items():
        values, floors = _crosstalk_read(record)
        read = ", ".join(f"{_crosstalk(value, floors[hz])} at {hz:g} Hz" for hz, value in values.items())
        told.append(f"{name} into the other: {read}")
    return LoopLines(f"{subject.name}: crosstalk", note, "dB", 100.0, curves, told)


def _numbers(one: LoopChannel, smoothing: float) -> ChannelNumbers:
    noise = LineSpectrum.of_levels(one.noise.hz, one.noise.values)
    tone = line_spectrum.tone_reading(LineSpectrum.of_levels(one.tone.hz, one.tone.values), noise)
    curve = _response(one.response, smoothing)
    member = one.tone.conditions.one_of
    low, high = curve.band
    against_hz = REFERENCE_HZ if low <= REFERENCE_HZ <= high else member.tone_hz
    across, floors = _crosstalk_read(one.crosstalk)
    return ChannelNumbers(
        member.tone_hz,
        member.tone_dbfs,
        curve.shifted(-float(curve.at(np.array([against_hz]))[0])),
        against_hz,
        line_spectrum.noise_db(noise),
        line_spectrum.noise_db(noise, a_weighted=True),
        tone,
        across,
        floors,
        one.tone.conditions.drive_volts,
    )


def _response(record: CurveRecord, smoothing: float) -> Curve:
    """A channel's response, of what was swept alone: smoothing takes in nothing beyond the sweep's ends."""
    return shown(only_valid(response_of(record)), smoothing)


def _band(curve: Curve) -> str:
    """The part of 20 Hz to 20 kHz in which a response is valid."""
    low, high = max(curve.valid_hz[0], BAND_HZ[0]), min(curve.valid_hz[1], BAND_HZ[1])
    return BAND_WORDS if low <= BAND_HZ[0] * 1.01 and high >= BAND_HZ[1] / 1.01 else f"{low:.0f} to {high:.0f} Hz"


def _crosstalk_of(record: CurveRecord) -> tuple[Curve, Curve]:
    """The crosstalk as it was read, and what noise alone would show."""
    taken = record.conditions.taken
    if taken is None or taken.floor is None:
        raise CatalogueError(f"{record.id} was kept without its noise floor, so it tells no crosstalk")
    return Curve(record.hz, record.values, None, record.conditions.valid_hz), taken.floor


def _crosstalk_read(record: CurveRecord | None) -> tuple[dict[float, float | None], dict[float, float]]:
    """The crosstalk at some frequencies (None: not clear of noise), a mean over 1/3 octave, and the noise there."""
    if record is None:
        return {}, {}
    curve, floor = _crosstalk_of(record)
    low, high = noise_floor.clear_band(curve, floor, curve.valid_hz) or (np.inf, 0.0)
    level = shown(curve, 3.0)
    read_hz = [hz for hz in READ_HZ if curve.band[0] <= hz <= curve.band[1]]
    values = {hz: round(float(level.at(np.array([hz]))[0]), 2) if low <= hz <= high else None for hz in read_hz}
    return values, {hz: round(float(floor.at(np.array([hz]))[0]), 2) for hz in read_hz}


def _percent(ratio: float) -> str:
    return f"{100 * ratio:.2g} % ({20 * np.log10(max(ratio, 1e-12)):.1f} dB)"


def _noise(one: ChannelNumbers, place: int) -> str:
    volts = f", {1e6 * one.noise_volts[place]:.3g} µV" if one.noise_volts else ""
    return f"{(one.noise_dbfs, one.noise_a_dbfs)[place]:.1f} dBFS{volts}"


def _crosstalk(value: float | None, floor: float) -> str:
    return f"below {floor + noise_floor.CLEAR_DB:.0f} dB" if value is None else f"{value:.1f} dB"
