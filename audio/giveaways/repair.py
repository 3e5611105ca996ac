"""From findings to repairs: one mend a setup, of all that can be mended. Pure."""

from __future__ import annotations

from collections.abc import Iterable

from audio.giveaways.findings import Finding
from audio.mend import Mend


def propose(findings: Iterable[Finding], *, polarity: bool = False) -> dict[str, Mend]:
    """The repair for each setup that has one: offset and drift always, polarity when asked for.

    Length needs none of its own: with the offset mended, passages are cut to the same length.
    """
    mends: dict[str, Mend] = {}
    for found in findings:
        if found.mend is None or (found.mend.invert and not polarity):
            continue
        so_far = mends.get(found.setup, Mend())
        mends[found.setup] = Mend(
            delay_s=so_far.delay_s + found.mend.delay_s,
            invert=so_far.invert != found.mend.invert,
            stretch_ppm=so_far.stretch_ppm + found.mend.stretch_ppm,
        )
    return mends
