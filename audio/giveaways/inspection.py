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
from ..resample import resample
from . import blemishes, coding, hum, level_cues, noise, performance, production, timing
from .findings import KINDS, Finding, finding

SILENT = 10 ** (-90 / 20)  # no sample beyond −90 dBFS


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
        Whether offsets and drifts are told below their limits too, from what can be measured on: to be mended.

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
    if all(_silent(clip) for clip in clips.values()):
        raise PassageError(f"passage {passage!r} is silent in every setup; choose one with music in it")
    reference, *others = clips
    found: list[Finding] = []
    for name in others:
        if infos is not None:
            production_cues = production.source_files(passage, name, infos[reference], infos[name])
            found += [each for each in production_cues if not (each.mend and each.mend.rate_hz and name in rate_mended)]
        pair = clips[reference], clips[name]
        found += _between(passage, name, *pair, by, fine)
        raw = pair if sources is None else (sources[reference], sources[name])
        found += [] if _silent(pair[0]) or _silent(pair[1]) else blemishes.clipping(passage, name, *raw)
    order = {setup: place for place, setup in enumerate(clips)}
    return sorted(found, key=lambda each: (order[each.setup], KINDS.index(each.kind)))


def _between(passage: str, setup: str, reference: Clip, other: Clip, by: By, fine: bool) -> list[Finding]:
    found: list[Finding] = []
    if _silent(reference) != _silent(other):
        who = f"{setup} is silent" if _silent(other) else f"{setup} sounds where the reference is silent"
        return [*found, finding("channels-missing", setup, passage, _peaks_apart_db(reference, other), who)]
    if _silent(reference):
        return found
    if reference.rate_hz != other.rate_hz:
        other = resample(other, reference.rate_hz)
    step = timing.in_step(reference, other)
    delay_s = 0.0 if step is None else step.wiring.delay_s
    first, second = timing.aligned(reference, other, delay_s)
    apart = [] if step is None else timing.timing(passage, setup, reference, other, step, fine=fine)
    if step is not None:
        played = performance.performance(passage, setup, *timing.evened(reference, other, step), step.wiring.pair)
        if played:  # nothing else can be compared between unlike music, and what is turned may sound unlike by that
            return found + played + [each for each in apart if each.kind == "polarity"]
    missing = level_cues.missing(passage, setup, first, second)
    if missing:
        return found + apart + missing
    apart += timing.length(passage, setup, first, second, other.length_s - reference.length_s)
    louder = True
    if apart:  # else all the rest is compared as it is played, every frame of it
        louder = bool(level_cues.overall(passage, setup, reference, other, by))
        reference, other = timing.without_bare_ends(first, second)
    rest = level_cues.levels(passage, setup, reference, other, None if step is None else step.wiring, by)
    # stretches apart in time differ in level of themselves: it counts if it is heard as played and in step
    found += apart + [each for each in rest if each.kind != "level" or louder]
    found += blemishes.offset(passage, setup, reference, other)
    found += noise.noise(passage, setup, reference, other) + hum.hum(passage, setup, reference, other)
    found += coding.coding(passage, setup, reference, other)
    return found + production.bandwidth(passage, setup, reference, other)


def _silent(clip: Clip) -> bool:
    return float(np.abs(clip.samples).max(initial=0.0)) < SILENT


def _peaks_apart_db(reference: Clip, other: Clip) -> float:
    one, two = (max(float(np.abs(clip.samples).max(initial=0.0)), 1e-10) for clip in (reference, other))
    return abs(20 * float(np.log10(two / one)))
