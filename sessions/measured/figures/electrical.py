"""The figure of a setup's impedance: modulus and phase. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audio.curves import draw
from audio.curves.impedance import read_impedance

from ..curve_records import CurveRecord
from .figure import Subject, columns


@dataclass(frozen=True, eq=False)
class ImpedanceCurve:
    """Modulus in ohm and phase in degrees (None: not measured) against frequency."""

    name: str
    hz: NDArray[np.float64]
    ohm: NDArray[np.float64]
    phase_deg: NDArray[np.float64] | None
    note: str = ""

    def to_document(self) -> dict[str, Any]:
        """Modulus and phase against frequency."""
        return columns(("hz", "ohm", "phase_deg"), self.hz, self.ohm, self.phase_deg)

    @property
    def rating_ohm(self) -> int | None:
        """The rating whose 80 % the minimum reaches, of those that loudspeakers are sold by."""
        found = read_impedance(self.hz, self.ohm, self.phase_deg)
        return found.usual_ohm or found.supports_ohm

    def drawn(self) -> Any:
        """Two lines on two axes."""
        return draw.impedance(
            self.hz,
            self.ohm,
            self.phase_deg,
            title=f"{self.name}: impedance",
            note=self.note,
            rating_ohm=self.rating_ohm,
        )


def impedance(found: CurveRecord, subject: Subject) -> ImpedanceCurve:
    """The impedance as it was measured."""
    return ImpedanceCurve(subject.name, found.hz, found.values, found.phase_deg, subject.caption(found))
