"""Sets of impulse responses from SOFA files (AES69): directions, responses and rate. The one importer of h5py."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..errors import FileError
from .curve import Numbers

NEAR_DEG = 2.6  # how far a measured direction may lie from the one asked for


@dataclass(frozen=True, eq=False)
class Directions:
    """Impulse responses by direction.

    Attributes
    ----------
    azimuth_deg, elevation_deg
        Shape (m,): azimuth counter-clockwise from the front, as AES69 counts it; elevation upwards.
    impulses
        Shape (m, receivers, frames).
    """

    convention: str
    azimuth_deg: Numbers
    elevation_deg: Numbers
    impulses: Numbers
    rate_hz: int

    def nearest(self, azimuth_deg: float, elevation_deg: float = 0.0) -> int:
        """The measurement nearest to a direction.

        Raises
        ------
        FileError
            If none lies within some degrees of it.
        """
        wanted, known = _unit(np.array([azimuth_deg]), np.array([elevation_deg])), _unit(
            self.azimuth_deg, self.elevation_deg
        )  # fmt: skip
        apart = np.degrees(np.arccos(np.clip(known @ wanted[0], -1, 1)))
        best = int(np.argmin(apart))
        if apart[best] > NEAR_DEG:
            raise FileError(
                f"no response lies within {NEAR_DEG:g}° of azimuth {azimuth_deg:g}°, elevation {elevation_deg:g}°"
            )
        return best


def read_sofa(path: Path) -> Directions:
    """The directions and impulse responses of a SOFA file.

    Raises
    ------
    FileError
        If it cannot be read, or holds no finite impulse responses.
    """
    import h5py

    try:
        with h5py.File(path, "r") as file:
            convention = _text(file.attrs.get("SOFAConventions", b"unknown"))
            if "Data.IR" not in file or "Data.SamplingRate" not in file:
                raise FileError(f"{path} holds no impulse responses (Data.IR); only those become curves")
            impulses = np.asarray(file["Data.IR"], float)
            rate = round(float(np.ravel(file["Data.SamplingRate"])[0]))
            place = "SourcePosition" if len(file["SourcePosition"]) == len(impulses) else "ReceiverPosition"
            position = np.asarray(file[place], float)
            kind = _text(file[place].attrs.get("Type", b"spherical"))
    except OSError as error:
        raise FileError(f"cannot read {path} as a SOFA file: {str(error)[:80]}; check that it is whole") from error
    except KeyError as error:
        raise FileError(f"{path} lacks {error}, which AES69 asks for") from error
    if len(position) != len(impulses) or position.shape[1] < 2:
        raise FileError(f"{path}: {len(impulses)} responses and {len(position)} positions do not belong together")
    if kind == "cartesian":
        x, y, z = position[:, 0], position[:, 1], position[:, 2]
        azimuth, elevation = np.degrees(np.arctan2(y, x)), np.degrees(np.arctan2(z, np.hypot(x, y)))
    else:
        azimuth, elevation = position[:, 0], position[:, 1]
    return Directions(convention, azimuth, elevation, impulses, rate)


def _unit(azimuth: Numbers, elevation: Numbers) -> Numbers:
    a, e = np.radians(azimuth), np.radians(elevation)
    return np.stack([np.cos(a) * np.cos(e), np.sin(a) * np.cos(e), np.sin(e)], axis=1)


def _text(value: object) -> str:
    return value.decode() if isinstance(value, bytes) else str(value)
