"""A channel that is late against the others, by how much later than in the reference. Pure."""

from __future__ import annotations

import numpy as np

from .findings import LIMITS, Finding, finding
from .wiring import PLAIN, Wiring


def channel_delay(passage: str, setup: str, found: Wiring) -> list[Finding]:
    """What gives the other away by channels out of step with each other; nothing where it cannot be told.

    Each channel is compared with the reference's same channel, so that what a recording itself has between its
    channels counts for nothing.
    """
    told = [place for place, known in enumerate(found.known) if known]
    if len(told) < 2:
        return []
    skews_ms = 1000 * np.array([found.skews_s[place] for place in told])
    latest, earliest = told[int(np.argmax(skews_ms))], told[int(np.argmin(skews_ms))]
    apart_ms = float(np.ptp(skews_ms))
    if apart_ms < LIMITS["channel-delay"].value:
        return []
    late, early = found.order[latest], found.order[earliest]  # as the other numbers them
    share = min(found.told[latest], found.told[earliest])
    by = "" if share >= PLAIN else f", by the direct sound, which {100 * share:.0f} % of the spectrum follows"
    what = (
        f"channel {late + 1} of {setup} comes {apart_ms:.3f} ms later against channel {early + 1} than in the "
        f"reference{by}; which of the two is out of step cannot be told; record it again"
    )
    return [finding("channel-delay", setup, passage, apart_ms if late > early else -apart_ms, what)]
