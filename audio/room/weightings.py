"""By which weighting a level is read. Plain names: records hold them, and reading those loads no arithmetic."""

from __future__ import annotations

from typing import Literal

Weighting = Literal["bs1770", "a", "c", "z", "band"]
WEIGHTINGS: dict[Weighting, str] = {
    "bs1770": "K-weighted (BS.1770)",
    "a": "A-weighted",
    "c": "C-weighted",
    "z": "unweighted 20 Hz to 20 kHz",
    "band": "500 to 2000 Hz",
}
