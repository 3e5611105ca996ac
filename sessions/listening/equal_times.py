"""Equal times: what is asked for is there a fixed time later, however long the work behind it took.

Whoever times how long a trial takes to appear would otherwise learn how much was read for it, or how the copying fell
out. The work is the same for every key (see `trial_runner`); what still differs from time to time is covered here.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from ..plans.plan import Plan

READY_S = 1.0  # to fall silent, to write and to read the casebook, and once more as much; our choice
ANSWERED_S = 0.05  # from an answer to its being kept: a commit took 1 to 25 ms on a disk shared by several
OPENING_S = 2.5  # besides, where the playback engine starts: 1.3 s were measured with the processor shared by 17
# To read, hash, decode, copy and hand on: 40 ns a frame and file on an idle machine, 220 ns on the one shared by 17.
FRAME_S = 200e-9
PANEL_S = 0.25  # of READY_S: what others of a panel answered in the same moment is kept before trials are brought
STEP_S = 0.5  # times are whole multiples of it, so that they are easy to state


@dataclass(frozen=True)
class EqualTimes:
    """A clock, and how to wait by it."""

    monotonic: Callable[[], float] = time.monotonic
    sleep: Callable[[float], object] = time.sleep

    @contextmanager
    def lasting(self, seconds: float, before_s: float = 0.0) -> Iterator[None]:
        """Let what is done inside last so long, or twice, three times … so long if the work takes longer.

        `before_s` of it pass before the work is begun. An error passes at once: none depends on a key, since all that a
        key could touch is touched for every key.
        """
        begun = self.monotonic()
        if before_s:
            self.sleep(before_s)
        yield
        took = self.monotonic() - begun
        self.sleep(seconds * max(1, math.ceil(took / seconds)) - took)


def appears_s(plan: Plan) -> float:
    """How long a trial of a plan takes to appear, in seconds: by what the plan's longest passage asks for at most."""
    frames = max(passage.frames for passage in plan.passages)
    work_s = FRAME_S * frames * (len(plan.places) + len(plan.method.stimuli))
    return STEP_S * math.ceil((READY_S + work_s) / STEP_S)
