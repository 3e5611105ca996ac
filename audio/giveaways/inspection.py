"""One passage through all its setups: every cue beyond its limit, by kind. The one entry to the family.

The first setup is the reference; findings name the other. Clips that are out of step are brought into step
before the rest is compared, so that one cue does not show as another; clips of unlike rate or length are compared as
far as both go.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np

from ..clip import Clip
from ..errors import MeasureError, PassageError
from ..files.file_info import FileInfo
from ..levels.weighting import By
from ..match import SHORTEST_S
from . import clipping, pair, production
from .findings import KINDS, Finding


def inspect(
    passage: str,
    clips: Mapping[str, Clip],
    infos: Mapping[str, FileInfo] | None = None,
    *,
    by: By = "bs1770",
    rate_mended: Collection[str] = (),
    sources: Mapping[str, Clip] | None = None,
    fine: bool = False,
) -> list[Finding]:
    """The giveaways of a passage, in the order of the setups, then of `KINDS`.

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
    sources
        The same stretches as they lie in the files, for clipping: a mend between samples or a new rate rounds flat tops
        off. None: clipping is looked for in `clips`.
    fine
        Only what can be mended is looked for, offsets and drifts below their limits too, from what can be measured on.

    Raises
    ------
    MeasureError
        If there are fewer than two setups, or samples that are not numbers.
    PassageError
        If the passage is shorter than 1 s, or silent in every setup.
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
    if all(pair.silent(clip) for clip in clips.values()):
        raise PassageError(f"passage {passage!r} is silent in every setup; choose one with music in it")
    reference, *others = clips
    found: list[Finding] = []
    for name in others:
        if infos is not None:
            production_cues = production.source_files(passage, name, infos[reference], infos[name])
            found += [each for each in production_cues if not (each.mend and each.mend.rate_hz and name in rate_mended)]
        both = clips[reference], clips[name]
        found += pair.between(passage, name, *both, by, fine=fine)
        if fine:
            continue
        raw = both if sources is None else (sources[reference], sources[name])
        tops = [] if pair.silent(both[0]) or pair.silent(both[1]) else clipping.clipping(passage, name, *raw)
        if tops:  # flat as they lie in the file: the same is not told once more of their height
            found = [each for each in found if each.setup != name or each.kind not in ("clipping", "limiter")]
        found += tops
    order = {setup: place for place, setup in enumerate(clips)}
    return sorted(found, key=lambda each: (order[each.setup], KINDS.index(each.kind)))
