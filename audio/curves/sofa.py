"""Sets of responses by direction from SOFA files (AES69): impulses and transfer functions. The one user of h5py.

Conventions differ in what moves. Where sources stand around a listener, a direction is that of the source as the
listener looks; where microphones stand around a source, or the source or the microphone is moved, it is that of the
microphone as the source faces. Conventions, variables and dimensions are those of AES69 as its readers know them (from
memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ..errors import FileError
from .curve import Numbers

if TYPE_CHECKING:
    from collections.abc import Mapping

NEAR_DEG = 2.6  # how far a measured direction may lie from the one asked for
SAME_DEG = 0.05  # directions nearer than this are one
LEAST_AROUND = 3  # so many receivers stand around a source; fewer are ears or a pair of microphones
ORDERS = {4: "MRNE", 3: "MRN"}  # of dimensions that are not named; the older FIRE has its emitters before the samples
OLDER = "MREN"
MOST_DELAY_FRAMES = 1_000_000  # beside a response; more is no delay of sound


@dataclass(frozen=True, eq=False)
class Directions:
    """Responses by direction.

    Attributes
    ----------
    azimuth_deg, elevation_deg
        Shape (m,): azimuth counter-clockwise from the front, as AES69 counts it; elevation upwards.
    data
        Shape (m, channels, n): samples at `rate_hz`, or complex pressures at the frequencies `hz`.
    channels
        What the channels are: receivers, or measurements where the receivers are the directions.
    delay_frames
        How much later each response is than its samples stand there, shape (m, channels), none below 0; None where the
        file states no delay. Where it states some below 0 all are counted from the earliest.
    """

    convention: str
    azimuth_deg: Numbers
    elevation_deg: Numbers
    data: NDArray[Any]
    rate_hz: int
    hz: Numbers | None = None
    channels: str = "receivers"
    delay_frames: Numbers | None = None

    def nearest(self, azimuth_deg: float, elevation_deg: float = 0.0) -> int:
        """The response nearest to a direction, the first of those measured there.

        Raises
        ------
        FileError
            If none lies within some degrees of it.
        """
        apart = self._apart_deg(azimuth_deg, elevation_deg)
        best = int(np.argmax(apart <= apart.min() + SAME_DEG))
        if apart[best] > NEAR_DEG:
            raise FileError(
                f"no response lies within {NEAR_DEG:g}° of azimuth {azimuth_deg:g}°, elevation {elevation_deg:g}°"
            )
        return best

    def how_often(self, place: int) -> int:
        """How many responses there are of the direction of one."""
        return int((self._apart_deg(self.azimuth_deg[place], self.elevation_deg[place]) <= SAME_DEG).sum())

    def _apart_deg(self, azimuth_deg: float, elevation_deg: float) -> Numbers:
        wanted = _unit(np.array([azimuth_deg]), np.array([elevation_deg]))[0]
        # by the chord, which small angles do not lose in rounding
        chord = np.linalg.norm(_unit(self.azimuth_deg, self.elevation_deg) - wanted, axis=1)
        return np.asarray(2 * np.degrees(np.arcsin(np.clip(chord / 2, 0, 1))))


def read_sofa(path: Path, emitter: int | None = None) -> Directions:
    """The directions and responses of a SOFA file.

    Parameters
    ----------
    emitter
        Which of several, counted from 1.

    Raises
    ------
    FileError
        If it cannot be read, holds neither impulse responses nor transfer functions, has several emitters and none is
        named, or measurements that differ in no position.
    """
    import h5py

    try:
        with h5py.File(path, "r") as file:
            held = {name: _Variable.of(file[name]) for name in file if isinstance(file[name], h5py.Dataset)}
            convention = _text(file.attrs.get("SOFAConventions", b"unknown"))
    except OSError as error:
        raise FileError(f"cannot read {path} as a SOFA file: {str(error)[:80]}; check that it is whole") from error
    try:
        return _directions(path, held, convention, emitter)
    except KeyError as error:
        raise FileError(f"{path} lacks {error}, which AES69 asks for") from error


@dataclass(frozen=True, eq=False)
class _Variable:
    """A variable of the file: numbers, the names of its dimensions (empty where not given), type and units in words."""

    values: NDArray[Any]
    dimensions: str
    kind: str
    units: str

    @classmethod
    def of(cls, dataset: Any) -> _Variable:
        names = [scale.name.strip("/") for axis in dataset.dims for scale in axis.values()[:1]]
        whole = len(names) == dataset.ndim and all(len(name) == 1 for name in names)
        values = np.asarray(dataset) if dataset.dtype.kind in "fiu" else np.zeros(0)
        kind, units = (_text(dataset.attrs.get(name, b"")).lower() for name in ("Type", "Units"))
        return cls(values, "".join(names) if whole else "", kind, units)

    def places(self, measurements: int) -> Numbers:
        """Positions in cartesian coordinates, shape (measurements, own, 3); of listener and source `own` is 1."""
        held = self.values.astype(float)
        if held.ndim == 2:
            held = held[:, None, :]
        elif held.ndim == 3:  # receivers and emitters: (own, 3, measurements)
            held = np.moveaxis(held, 2, 0)
        if self.kind == "spherical":
            turn = 1.0 if "rad" in self.units else np.pi / 180
            azimuth, elevation, away = held[..., 0] * turn, held[..., 1] * turn, held[..., 2]
            flat = away * np.cos(elevation)
            held = np.stack([flat * np.cos(azimuth), flat * np.sin(azimuth), away * np.sin(elevation)], axis=-1)
        return np.broadcast_to(held, (measurements, *held.shape[1:])) if len(held) == 1 else held


def _directions(path: Path, held: Mapping[str, _Variable], convention: str, emitter: int | None) -> Directions:
    for name in ("EmitterPosition", "ReceiverPosition"):
        if "harmonics" in held[name].kind:
            raise FileError(f"{path} holds spherical harmonics; save the responses by direction")
    found, rate_hz, hz = _responses(path, held)
    data = _of_emitter(path, found, held, convention, emitter)
    measurements, receivers = data.shape[:2]
    towards, by_receiver = _towards(path, held, measurements, receivers, convention)
    delays = _delays(path, held, (measurements, receivers), emitter) if hz is None else None
    if by_receiver:
        data = np.swapaxes(data, 0, 1)
        delays = None if delays is None else delays.T
    if len(towards) != len(data):
        raise FileError(f"{path}: {len(data)} responses and {len(towards)} positions do not belong together")
    flat = np.hypot(towards[:, 0], towards[:, 1])
    azimuth, elevation = np.arctan2(towards[:, 1], towards[:, 0]), np.arctan2(towards[:, 2], flat)
    channels = "measurements" if by_receiver else "receivers"
    return Directions(convention, np.degrees(azimuth), np.degrees(elevation), data, rate_hz, hz, channels, delays)


def _delays(path: Path, held: Mapping[str, _Variable], shape: tuple[int, int], emitter: int | None) -> Numbers | None:
    """How much later each response is than it stands there, in samples: Data.Delay, one for all or for each.

    Its dimensions are those of the responses without the samples; its first may be one for all measurements.
    """
    found = held.get("Data.Delay")
    if found is None or not found.values.size:
        return None
    values = found.values.astype(float)
    own = values if values.ndim < 3 else values[:, :, min((emitter or 1) - 1, values.shape[2] - 1)]
    measurements, receivers = shape
    if own.ndim != 2 or own.shape[0] not in (1, measurements) or own.shape[1] not in (1, receivers):
        given = " × ".join(str(size) for size in values.shape)
        raise FileError(
            f"{path}: {given} delays (Data.Delay) do not belong to {measurements} measurements of {receivers} receivers"
        )
    if not (np.abs(own) <= MOST_DELAY_FRAMES).all():
        raise FileError(f"{path} states a delay of more than {MOST_DELAY_FRAMES} samples, or none that is a number")
    if not own.any():
        return None
    return np.broadcast_to(own - min(0.0, float(own.min())), shape)


def _responses(path: Path, held: Mapping[str, _Variable]) -> tuple[_Variable, int, Numbers | None]:
    """The responses with their dimensions; their rate, or the frequencies of transfer functions."""
    if "Data.IR" in held and "Data.SamplingRate" in held:
        found, rate_hz, hz = held["Data.IR"], round(float(np.ravel(held["Data.SamplingRate"].values)[0])), None
    elif "Data.Real" in held and "Data.Imag" in held:
        real, imaginary = held["Data.Real"], held["Data.Imag"]
        if real.values.shape != imaginary.values.shape:
            raise FileError(f"{path}: its real and imaginary parts differ in shape; check that it is whole")
        found = _Variable(real.values + 1j * imaginary.values, real.dimensions, "", "")
        rate_hz, hz = 0, held["N"].values.astype(float)
    else:
        raise FileError(
            f"{path} holds neither impulse responses (Data.IR) nor transfer functions (Data.Real, Data.Imag)"
        )
    if not np.isfinite(found.values).all():
        raise FileError(f"{path} holds something that is not a number among its responses")
    return found, rate_hz, hz


def _of_emitter(
    path: Path, found: _Variable, held: Mapping[str, _Variable], convention: str, emitter: int | None
) -> NDArray[Any]:
    """The responses of one emitter, shape (measurements, receivers, n)."""
    data = found.values
    order = found.dimensions if len(found.dimensions) == data.ndim else ORDERS.get(data.ndim, "")
    if not found.dimensions and data.ndim == 4:
        emitters = len(held["EmitterPosition"].values)
        if (data.shape[3] != emitters and data.shape[2] == emitters) or convention.endswith(("FIRE", "BRIR")):
            order = OLDER
    if sorted(order) not in (sorted("MRN"), sorted("MRNE")):
        raise FileError(f"{path}: its responses have the dimensions {order or data.shape}, which are none of AES69's")
    data = np.transpose(data, [order.index(axis) for axis in ("MRNE" if "E" in order else "MRN")])
    count = data.shape[3] if "E" in order else 1
    if count > 1 and emitter is None:
        raise FileError(f"{path} has {count} emitters; say which with --emitter 1 … {count}")
    if not 1 <= (emitter or 1) <= count:
        raise FileError(f"{path} has {count} emitters; --emitter {emitter} is not among them")
    return np.asarray(data[..., (emitter or 1) - 1] if "E" in order else data)


def _towards(
    path: Path, held: Mapping[str, _Variable], measurements: int, receivers: int, convention: str
) -> tuple[Numbers, bool]:
    """Vectors of the directions, shape (m, 3), x to the front, y to the left, z up; whether they are the receivers'."""
    source, listener = (held[name].places(measurements)[:, 0] for name in ("SourcePosition", "ListenerPosition"))
    ears = held["ReceiverPosition"].places(measurements)
    from_source, from_listener = _facing(held, "Source", measurements), _facing(held, "Listener", measurements)
    around = receivers >= LEAST_AROUND and not _varies(source, listener)
    if around or "Directivity" in convention:
        # where each microphone stands, in the room, and from there as the source faces
        stands = listener[:1] + np.einsum("rj,jk->rk", ears[0], from_listener[0])
        return (stands - source[:1]) @ from_source[0].T, True
    if _varies(listener, from_source) and not _varies(source, from_listener):
        return np.einsum("mij,mj->mi", from_source, listener + ears.mean(axis=1) * (receivers == 1) - source), False
    if measurements > 1 and not _varies(source, listener, from_source, from_listener):
        raise FileError(f"{path}: its {measurements} measurements differ in no position; nothing says their directions")
    return np.einsum("mij,mj->mi", from_listener, source - listener), False


def _varies(*held: Numbers) -> bool:
    return any(len(one) > 1 and not np.allclose(one, one[:1], atol=1e-6) for one in held)


def _facing(held: Mapping[str, _Variable], who: str, measurements: int) -> Numbers:
    """Matrices from the room to how source or listener face, shape (measurements, 3, 3); none turned where not said."""
    if f"{who}View" not in held:
        return np.broadcast_to(np.eye(3), (measurements, 3, 3))
    front = held[f"{who}View"].places(measurements)[:, 0]
    up = held[f"{who}Up"].places(measurements)[:, 0] if f"{who}Up" in held else np.array([[0.0, 0.0, 1.0]])
    front = front / np.linalg.norm(front, axis=1, keepdims=True)
    left = np.cross(up, front)
    left = left / np.linalg.norm(left, axis=1, keepdims=True)
    return np.stack([front, left, np.cross(front, left)], axis=1)


def _unit(azimuth: Numbers, elevation: Numbers) -> Numbers:
    a, e = np.radians(azimuth), np.radians(elevation)
    return np.stack([np.cos(a) * np.cos(e), np.sin(a) * np.cos(e), np.sin(e)], axis=1)


def _text(value: object) -> str:
    return value.decode() if isinstance(value, bytes) else str(value)
