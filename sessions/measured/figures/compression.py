"""The figure of compression: the same sweep at rising levels, against the quietest. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from audio.curves import draw
from audio.curves.curve import Curve, difference

from ..frequency_response import points, response_of, shown
from .figure import Subject, signed
from .members import AtLevel

SPAN_DB = 10.0
LOWEST_HZ, HIGHEST_HZ = 20.0, 20_000.0


@dataclass(frozen=True, eq=False)
class Compression:
    """By level: how much less (negative) is heard than the rise of the level promises, dB against the quietest."""

    name: str
    note: str
    reference: AtLevel
    changes: Mapping[str, Curve]
    levels: Mapping[str, AtLevel]

    def to_document(self) -> dict[str, Any]:
        """The numbers by level."""
        return {
            "against": {"level": self.reference.words, "id": self.reference.record.id},
            "levels": {
                words: {
                    "id": self.levels[words].record.id,
                    "rise_db": round(self.levels[words].level_db - self.reference.level_db, 3),
                    **points(change),
                }
                for words, change in self.changes.items()
            },
        }

    def sentences(self) -> list[str]:
        """By level, the most that is missing and where."""
        found = []
        for words, change in self.changes.items():
            inside = change.valid() & (change.hz >= LOWEST_HZ) & (change.hz <= HIGHEST_HZ)
            if not inside.any():
                continue
            at = int(np.argmin(np.where(inside, change.level_db, np.inf)))
            rise = self.levels[words].level_db - self.reference.level_db
            found.append(
                f"{words}, {rise:.1f} dB above {self.reference.words}: "
                f"{signed(change.level_db[at])} dB at {change.hz[at]:.0f} Hz, the most that is missing"
            )
        return found

    def drawn(self) -> Any:
        """One line a level; below 0 dB less is heard than the level promises."""
        title = f"{self.name}: compression against {self.reference.words}"
        return draw.responses(self.changes, title=title, note=self.note, span_db=SPAN_DB)


def compression(found: Sequence[AtLevel], subject: Subject) -> Compression:
    """Each louder response less the quietest, and less the rise of the level where the curves are in dB SPL."""
    quietest = shown(response_of(found[0].record), subject.smoothing)
    changes = {}
    for one in found[1:]:
        rise = one.level_db - found[0].level_db if one.record.conditions.spl else 0.0
        louder = shown(response_of(one.record), subject.smoothing)
        changes[one.words] = difference(louder, quietest, louder.hz).shifted(-rise)
    levels = {one.words: one for one in found}
    note = subject.caption_of(
        {words: one.record for words, one in levels.items()}, subject.smoothing_note, but_for=("drive",)
    )
    return Compression(subject.name, note, found[0], changes, levels)
