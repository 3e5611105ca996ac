"""One passage through all its setups: every cue beyond its limit, by kind. The one entry to the family.

The first setup is the reference; findings name the other. Clips of unlike rate or length are compared as far as both
go, and their rate or length is a finding.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np

from ..clip import Clip
from ..errors import MeasureError, PassageError
from ..files import FileInfo
from ..match import SHORTEST_S
from ..resample import resample
from ..weighting import By
from . import blemishes, levels, production, timing
from .findings import KINDS, Finding


def inspect(
    passage: str,
    clips: Mapping[str, Clip],
    infos: Mapping[str, FileInfo] | None = None,
    *,
    by: By = "bs1770",
    rate_mended: Collection[str] = (),
) -> list[Finding]:
    """The giveaways of a passage, in the order of `KINDS`.

    Parameters
    ----------
    clips
        The passage through each setup, two or more.
    infos
        The files they come from; None leaves rate and word length of files unchecked.
    by
        The measure in which levels were matched.
    rate_mended
        Setups whose files have another rate and were brought to the reference's, on record.

    Raises
    ------
    MeasureError
        If there are fewer than two setups, or samples that are not numbers.
    PassageError
        If the passage is shorter than 1 s.
    """
    if len(clips) < 2:
        raise MeasureError(f"passage {passage!r}: giveaways show between two setups or more; got {len(clips)}")
    for name, clip in clips.items():
        if clip.length_s < SHORTEST_S:
            raise PassageError(f"passage {passage!r} is {clip.length_s:.2f} s long; choose at least {SHORTEST_S:g} s")
        if not np.isfinite(clip.samples).all():
            raise MeasureError(
                f"passage {passage!r} of {name!r} holds samples that are not numbers; export the file again"
            )
    reference, *others = clips
    found: list[Finding] = []
    for name in others:
        first, second = clips[reference], clips[name]
        if infos is not None:
            sources = production.source_files(passage, name, infos[reference], infos[name])
            found += [each for each in sources if not (each.mend and each.mend.rate_hz and name in rate_mended)]
        if first.rate_hz != second.rate_hz:
            second = resample(second, first.rate_hz)
        found += timing.timing(passage, name, first, second)
        frames = min(first.frames, second.frames)
        first = Clip(first.samples[:frames], first.rate_hz)
        second = Clip(second.samples[:frames], first.rate_hz)
        found += levels.levels(passage, name, first, second, by)
        found += blemishes.blemishes(passage, name, first, second)
        found += production.bandwidth(passage, name, first, second)
    order = {setup: place for place, setup in enumerate(clips)}
    return sorted(found, key=lambda each: (order[each.setup], KINDS.index(each.kind)))
