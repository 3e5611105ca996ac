"""Which one of several curves a curve is: a driver, a side, a place, a seating, a quantity at the end of a loop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

Role = Literal["tweeter", "midrange", "woofer", "port", "sum"]
Side = Literal["left", "right"]
Quantity = Literal["noise", "tone", "crosstalk"]
ROLES: tuple[Role, ...] = get_args(Role)
SIDES: tuple[Side, ...] = get_args(Side)


@dataclass(frozen=True)
class Member:
    """What was said of a curve that is one of several; empty or 0 where nothing was.

    Attributes
    ----------
    role
        The driver that played alone, or ``sum``: all of them, measured beside the drivers.
    side
        Of a pair of loudspeakers, of headphones, of two channels.
    place
        Where in the room the microphone stood, of several places around the chair.
    coupler, seating
        What headphones sat on, and which seating it was, from 1.
    quantity
        What was read at the end of a line loop, where it is no response: the spectrum of its noise, that of a tone, or
        what the other channel gives of this one.
    tone_hz, tone_dbfs
        Of such a tone as it was played, its peak against full scale; 0 where none was.
    """

    role: Role | Literal[""] = ""
    side: Side | Literal[""] = ""
    place: str = ""
    coupler: str = ""
    seating: int = 0
    quantity: Quantity | Literal[""] = ""
    tone_hz: float = 0.0
    tone_dbfs: float = 0.0

    @property
    def whole(self) -> bool:
        """Whether it is what all drivers give on the axis itself: not one driver's, nor at a place, nor of noise."""
        return not (self.role or self.place or self.quantity)

    @property
    def alone(self) -> bool:
        """Whether the curve stands for its setup: one side, a seating on a coupler or a place in the room does not."""
        return self.whole and not (self.side or self.coupler)

    @property
    def words(self) -> str:
        """All of it in few words."""
        parts = [
            self.role,
            self.side,
            f"at {self.place}" if self.place else "",
            f"on {self.coupler}" if self.coupler else "",
            f"seating {self.seating}" if self.seating else "",
            self.quantity,
            f"{self.tone_hz:g} Hz at {self.tone_dbfs:g} dBFS" if self.tone_hz else "",
        ]
        return ", ".join(part for part in parts if part)


ALONE = Member()
