"""What a listener's page shows at a moment. A record; nothing in it depends on the key of a trial."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from ..listening.now import Now

Asking = Literal["question", "coming", "hear", "disturbed", "device", "busy", "end", "stopped"]
"""What is asked: to begin, to wait, to listen and answer, to try again, to wait for device or casebook; or nothing."""


@dataclass(frozen=True)
class View:
    """The trial as it may be shown.

    Attributes
    ----------
    trial_id
        The trial and its offer, as answers name it; empty before the first.
    heard
        The labels heard so far, in their order.
    track_ms
        Where in the track the music is, for a word.
    said
        What there is to say, one sentence each.
    sound
        By what a page that plays by itself knows the trial's sounds; empty where they come from elsewhere.
    """

    asking: Asking
    answered: int
    trial_id: str = ""
    trial: int = 0
    passage: str = ""
    playing: str | None = None
    heard: tuple[str, ...] = ()
    position_s: float = 0.0
    length_s: float = 0.0
    loop_s: tuple[float, float] | None = None
    track_ms: int = 0
    paused: bool = False
    rest_due: bool = False
    said: tuple[str, ...] = ()
    sound: str = ""


def hearing(
    asking: Asking, answered: int, trial_id: str, now: Now, labels: Sequence[str], track_ms: int, said: Sequence[str]
) -> View:
    """The view of a trial on offer."""
    return View(
        asking,
        answered,
        trial_id,
        now.trial,
        now.passage,
        now.playing,
        tuple(label for label in labels if label in now.heard),
        round(now.position_s, 2),
        round(now.length_s, 2),
        now.loop_s,
        track_ms,
        now.paused,
        now.rest_due,
        tuple(one for one in said if one),
    )
