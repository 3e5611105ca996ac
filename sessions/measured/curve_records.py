"""Keeping curves in the casebook, and giving them back: raw file, conditions and numbers, all chained."""

from __future__ import annotations

import base64
import hashlib
import json
import zlib
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from audio.curves.curve import Curve

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook, Row
from ..errors import CatalogueError

DIRECTED = ("response", "impulse")
Kind = Literal["response", "impulse", "impedance", "distortion"]


@dataclass(frozen=True)
class Conditions:
    """How a curve was measured; empty or None where nobody said.

    Attributes
    ----------
    distance_m, drive_volts, celsius, gate_ms
        Of the measurement.
    window
        Of the gate.
    axis, room, by, when, note
        In words.
    smoothing
        In the data as they were brought in: n of 1/n octave; 0 for none.
    valid_hz
        The band in which it can be relied on.
    spl
        Whether the levels are dB SPL at the stated distance and drive.
    calibration
        What was done about the microphone's own response, in words.
    harmonic
        The order of a distortion curve; 0 for everything else.
    """

    distance_m: float | None = None
    drive_volts: float | None = None
    gate_ms: float | None = None
    window: str = ""
    axis: str = ""
    room: str = ""
    by: str = ""
    when: str = ""
    note: str = ""
    smoothing: float = 0.0
    valid_hz: tuple[float, float] = (0.0, 1e6)
    spl: bool = False
    calibration: str = ""
    harmonic: int = 0


@dataclass(frozen=True, eq=False)
class Kept:
    """A curve as the casebook holds it.

    `data` has the columns frequency, level (or ohm) and, if there is a third, phase in degrees; of an impulse response
    the samples, shape (frames,), and `rate_hz`.
    """

    row: Row
    kind: Kind
    plane: str
    angle: int
    conditions: Conditions
    data: NDArray[np.float64]
    rate_hz: int

    def curve(self) -> Curve:
        """The frequency response; of an impulse response, gated as its conditions say.

        Raises
        ------
        CatalogueError
            For an impedance.
        """
        if self.kind not in DIRECTED:
            raise CatalogueError(f"{self.row['id']} is {self.kind}, and no frequency response")
        if self.kind == "impulse":
            from audio.curves import gate

            length = (self.conditions.gate_ms or 5.0) / 1000
            made, _ = gate.gated(self.data, self.rate_hz, length, self.conditions.window or "half-tukey")  # type: ignore[arg-type]
            low, high = made.valid_hz
            own = self.conditions.valid_hz
            return Curve(made.hz, made.level_db, made.phase_deg, (max(low, own[0]), min(high, own[1])))
        phase = self.data[:, 2] if self.data.shape[1] > 2 else None
        return Curve(self.data[:, 0], self.data[:, 1], phase, self.conditions.valid_hz)


def keep_file(casebook: Casebook, name: str, content: bytes) -> Row:
    """Keep a raw file once, by its hash."""
    digest = hashlib.sha256(content).hexdigest()
    there = casebook.query("SELECT * FROM measurements WHERE sha256 = ?", [digest])
    if there:
        return there[0]
    return casebook.append("measurements", "measurement", {"name": name, "sha256": digest, "content": _packed(content)})


def keep(
    casebook: Casebook,
    setup: Setup,
    measurement: Row,
    kind: Kind,
    data: NDArray[np.float64],
    conditions: Conditions,
    *,
    plane: str = "horizontal",
    angle: int = 0,
    rate_hz: int = 0,
) -> Row:
    """Keep one curve of a setup."""
    numbers = np.ascontiguousarray(data, dtype="<f8")
    held = {"shape": list(numbers.shape), "rate_hz": rate_hz, "float64": _packed(numbers.tobytes())}
    content = {
        "setup_id": setup.id,
        "measurement_id": measurement["id"],
        "kind": kind,
        "plane": plane,
        "angle": int(angle),
        "conditions": json.dumps(conditions.__dict__, sort_keys=True),
        "data": json.dumps(held, sort_keys=True),
    }
    return casebook.append("curves", "curve", content)


def raw(casebook: Casebook, measurement_id: str) -> bytes:
    """A raw file as it was brought in."""
    rows = casebook.query("SELECT content FROM measurements WHERE id = ?", [measurement_id])
    return zlib.decompress(base64.b64decode(rows[0]["content"]))


def curves_of(casebook: Casebook, setup: Setup, kind: str | None = None) -> list[Kept]:
    """A setup's curves, the newest last."""
    rows = casebook.query("SELECT * FROM curves WHERE setup_id = ? ORDER BY seq", [setup.id])
    return [_kept(row) for row in rows if kind is None or row["kind"] == kind]


def by_angle(casebook: Casebook, setup: Setup) -> dict[tuple[str, int], Kept]:
    """A setup's newest response (or impulse response) in each direction."""
    found: dict[tuple[str, int], Kept] = {}
    for kept in curves_of(casebook, setup):
        if kept.kind in DIRECTED:
            found[kept.plane, kept.angle] = kept
    return found


def newest(casebook: Casebook, setup: Setup, plane: str, angle: int) -> Kept | None:
    """A setup's newest response (or impulse response) in one direction; the others are not unpacked."""
    rows = casebook.query(
        """SELECT * FROM curves WHERE setup_id = ? AND plane = ? AND angle = ? AND kind IN ('response', 'impulse')
           ORDER BY seq DESC LIMIT 1""",
        [setup.id, plane, angle],
    )
    return _kept(rows[0]) if rows else None


def impedance_of(casebook: Casebook, setup: Setup) -> Kept | None:
    """A setup's newest impedance."""
    found = curves_of(casebook, setup, "impedance")
    return found[-1] if found else None


def distortion_of(casebook: Casebook, setup: Setup) -> dict[int, Kept]:
    """A setup's newest distortion curves by the order of the harmonic."""
    return {kept.conditions.harmonic: kept for kept in curves_of(casebook, setup, "distortion")}


def by_id(casebook: Casebook, curve_id: str) -> Kept:
    """The curve of that identifier.

    Raises
    ------
    CatalogueError
        If there is none.
    """
    rows = casebook.query("SELECT * FROM curves WHERE id = ?", [curve_id])
    if not rows:
        raise CatalogueError(f"no curve {curve_id!r} in this casebook; see earwitness curve list")
    return _kept(rows[0])


def _kept(row: Row) -> Kept:
    held = json.loads(row["data"])
    numbers = np.frombuffer(zlib.decompress(base64.b64decode(held["float64"])), dtype="<f8").reshape(held["shape"])
    stated: dict[str, Any] = json.loads(row["conditions"])
    stated["valid_hz"] = tuple(stated["valid_hz"])
    return Kept(row, row["kind"], row["plane"], row["angle"], Conditions(**stated), numbers, held["rate_hz"])


def _packed(content: bytes) -> str:
    return base64.b64encode(zlib.compress(content, 6)).decode("ascii")
