"""One passage through all its setups: every cue beyond its limit, by kind. The one entry to the family.

The first setup is the reference; findings name the other. Clips that are out of step are brought into step
before the rest is compared, so that one cue does not show as another; clips of unlike rate or length are compared as
far as both go.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

import numpy as np

from ..clip import Clip
from ..errors import MeasureError, PassageError
from ..files.file_info import FileInfo
from ..levels.weighting import By
from ..match import SHORTEST_S
from ..resample import resample
from . import (
    blemishes,
    channel_delay,
    clipping,
    dynamics,
    edits,
    gain_course,
    interruptions,
    level_cues,
    performance,
    production,
    timing,
    width,
)
from .findings import KINDS, Finding, finding

FOLLOWS_FROM_AN_EDIT = ("onset", "level", "length")
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
        if fine:
            continue
        raw = pair if sources is None else (sources[reference], sources[name])
        tops = [] if _silent(pair[0]) or _silent(pair[1]) else clipping.clipping(passage, name, *raw)
        if tops:  # flat as they lie in the file: the same is not told once more of their height
            found = [each for each in found if each.setup != name or each.kind not in ("clipping", "limiter")]
        found += tops
    order = {setup: place for place, setup in enumerate(clips)}
    return sorted(found, key=lambda each: (order[each.setup], KINDS.index(each.kind)))


def _between(
    passage: str, setup: str, reference: Clip, other: Clip, by: By, fine: bool, *, whole: bool = True
) -> list[Finding]:
    found: list[Finding] = []
    if _silent(reference) != _silent(other):
        who = f"{setup} is silent" if _silent(other) else f"{setup} sounds where the reference is silent"
        return [*found, finding("channels-missing", setup, passage, _peaks_apart_db(reference, other), who)]
    if _silent(reference):
        return found
    if reference.rate_hz != other.rate_hz:
        other = resample(other, reference.rate_hz)
    near = timing.nearest(reference, other)
    if near is not None and reference.channels == other.channels and whole:
        jumps = edits.jumps(reference, other, near.delay_s, list(enumerate(near.order)))
        if jumps:
            found += edits.edits(passage, setup, jumps)
            run = edits.longest_run(reference, other, near.delay_s, jumps, near.pair)
            rest = [] if run is None else _between(passage, setup, *run, by, fine, whole=False)
            return found + [replace(each, mend=None) for each in rest if each.kind not in FOLLOWS_FROM_AN_EDIT]
    step = timing.in_step(reference, other, near)
    skewed = [] if step is None else channel_delay.channel_delay(passage, setup, step.wiring)
    if skewed and step is not None:
        other = timing.channels_in_step(other, step.wiring)
    delay_s = 0.0 if step is None else step.wiring.delay_s
    first, second = timing.aligned(reference, other, delay_s)
    apart = [] if step is None else skewed + timing.timing(passage, setup, reference, other, step, fine=fine)
    if step is not None:
        even = timing.evened(reference, other, step)
        played = performance.performance(passage, setup, *even, step.wiring.pair)
        if played:  # nothing else can be compared between unlike music, and what is turned may sound unlike by that
            return found + played + [each for each in apart if each.kind == "polarity"]
    if fine:
        return found + apart
    missing = level_cues.missing(passage, setup, first, second)
    if missing:
        return found + apart + missing
    broken: list[interruptions.Moment] = []
    if step is not None:
        told, broken = interruptions.interruptions(passage, setup, *even, step.wiring.order, max(0.0, -delay_s))
        found += told
    apart += timing.length(passage, setup, first, second, other.length_s - reference.length_s)
    louder = True
    if broken:
        reference, other = (interruptions.left_out(each, broken) for each in (first, second))
    elif apart:  # else all the rest is compared as it is played, every frame of it
        louder = bool(level_cues.overall(passage, setup, reference, other, by))
        reference, other = timing.without_bare_ends(first, second)
    spectra = None if step is None else gain_course.both(*even)
    wide = [] if spectra is None else width.width(passage, setup, *spectra)
    wider_db = wide[0].measured if wide else 0.0
    rest = level_cues.levels(passage, setup, reference, other, None if step is None else step.wiring, by, wider_db)
    # stretches apart in time differ in level of themselves: it counts if it is heard as played and in step
    found += apart + [each for each in rest if each.kind != "level" or louder]
    if step is not None and not any(each.kind == "channels" for each in rest):
        even = (even[0], width.with_width(even[1], -wider_db)) if wide else even
        found += wide + dynamics.dynamics(passage, setup, even, gain_course.both(*even) if wide else spectra)
    found += blemishes.blemishes(passage, setup, reference, other)
    return found + production.bandwidth(passage, setup, reference, other)


def _silent(clip: Clip) -> bool:
    return float(np.abs(clip.samples).max(initial=0.0)) < SILENT


def _peaks_apart_db(reference: Clip, other: Clip) -> float:
    one, two = (max(float(np.abs(clip.samples).max(initial=0.0)), 1e-10) for clip in (reference, other))
    return abs(20 * float(np.log10(two / one)))
