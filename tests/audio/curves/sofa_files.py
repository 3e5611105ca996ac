"""SOFA files of any convention, for tests, with levels that tell the left from the right."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import h5py
import numpy as np

HZ = np.array([100.0, 1000.0, 10_000.0])
RATE_HZ = 48_000
AXES = {"Data.IR": "MRN", "Data.Real": "MRN", "Data.Imag": "MRN", "ReceiverPosition": "RCI", "EmitterPosition": "ECI"}


def write(path: Path, convention: str, named: bool = True, kinds: dict[str, str] | None = None, **held: Any) -> Path:
    """A file with these variables; positions as x, y, z in metres, or in `kinds`; dimensions named if asked for."""
    whole = {
        **({"N": held.pop("N")} if "N" in held else {}),
        "ListenerPosition": np.zeros((1, 3)), "SourcePosition": np.zeros((1, 3)),
        "ReceiverPosition": np.zeros((1, 3, 1)), "EmitterPosition": np.zeros((1, 3, 1)),
        **{name.replace("_", "."): value for name, value in held.items() if name != "axes"},
    }  # fmt: skip
    axes = AXES | held.get("axes", {})
    with h5py.File(path, "w") as file:
        file.attrs["SOFAConventions"] = convention
        for name, value in whole.items():
            file[name] = value
            file[name].attrs["Type"] = (kinds or {}).get(name, "cartesian")
            if not named:
                continue
            for place, axis in enumerate(axes.get(name, "")):
                if axis not in file:
                    file[axis] = np.zeros(np.shape(value)[place])
                    file[axis].make_scale(axis)
                elif not file[axis].is_scale:
                    file[axis].make_scale(axis)
                file[name].dims[place].attach_scale(file[axis])
    return path


def around(azimuth_deg: np.ndarray, away_m: float = 1.0) -> np.ndarray:
    """Places on a horizontal circle, counter-clockwise from the front."""
    a = np.radians(azimuth_deg)
    return away_m * np.stack([np.cos(a), np.sin(a), 0 * a], axis=1)


def louder_left(azimuth_deg: np.ndarray) -> np.ndarray:
    """6 dB at 90° counter-clockwise, -6 dB at the other side."""
    return np.asarray(10 ** (6 * np.sin(np.radians(azimuth_deg)) / 20))


def impulses(levels: np.ndarray) -> np.ndarray:
    """Shape (len(levels), 64): one sample of that size each."""
    made = np.zeros((len(levels), 64))
    made[:, 8] = levels
    return made


AZIMUTH = np.arange(-170.0, 181.0, 10.0)
