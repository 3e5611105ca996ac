"""One passage through all its setups: every cue beyond its limit, by kind. The one entry to the family.

Every pair of setups is compared, since a plan may play any two of them: two that lie either side of a third by less
than a limit are beyond it between them. Of a pair the setup given first is the reference; a finding is kept under the
other's name and says against whom; a fault of one of them under the name of the one that has it. Clips that are out of
step are brought into step before the rest is compared, so that one cue does not show as another; clips of unlike rate
or length are compared as far as both go. Two clips of the same samples are not compared, and two that another pair
holds as well are told of as that pair is.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from ..clip import Clip
from ..errors import MeasureError, PassageError
from ..files.file_info import FileInfo
from ..levels.weighting import By
from ..match import SHORTEST_S
from ..parallel import Submit
from . import clipping, pair, production, same_sound, speeds
from .findings import KINDS, Finding
from .same_sound import FIRST, SECOND

OF_MORE = ("noise-floor", "clipping", "limiter")  # negative where it is the first of two that has more of it
OF_ONE = ("gain", "dropout", "click", "hum", "coding", "dc")  # faults whose sentence says which of two has them
REFERENCE = "the reference"  # what the cues' sentences call the first of two recordings


@dataclass(frozen=True)
class Pair:
    """Two setups' recordings of a passage, the reference first: whole in itself, so that any process can compare them.

    `recorded` are the same stretches as they lie in the files.
    """

    passage: str
    clips: tuple[Clip, Clip]
    recorded: tuple[Clip, Clip]
    by: By
    fine: bool


def inspect(
    passage: str,
    clips: Mapping[str, Clip],
    infos: Mapping[str, FileInfo] | None = None,
    *,
    by: By = "bs1770",
    rates_hz: Mapping[str, int] | None = None,
    sources: Mapping[str, Clip] | None = None,
    fine: bool = False,
    submit: Submit = functools.partial,
) -> list[Finding]:
    """The giveaways of a passage between any two setups, in the order of the setups, then of `KINDS`.

    Parameters
    ----------
    clips
        The passage through each setup, two or more.
    infos
        The files they come from; None leaves rate and word length of files unchecked.
    by
        The measure in which levels were matched.
    rates_hz
        The rates to which setups' files were brought, on record, by the setups' names.
    sources
        The same stretches as they lie in the files, for clipping: a mend between samples or a new rate rounds flat tops
        off. None: clipping is looked for in `clips`.
    fine
        Only what can be mended is looked for, offsets and drifts below their limits too, from what can be measured on;
        between the first setup and each other, since all are mended towards the first.
    submit
        What takes the pairs as work (see `audio.parallel`).

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
    recorded = clips if sources is None else sources
    held = {name: same_sound.content(clip, recorded[name]) for name, clip in clips.items()}
    names = list(combinations(clips, 2))[: len(clips) - 1 if fine else None]
    pairs = [Pair(passage, (clips[a], clips[b]), (recorded[a], recorded[b]), by, fine) for a, b in names]
    waiting = same_sound.once(submit, between, pairs, [(held[a], held[b]) for a, b in names])
    found = _of_files(passage, infos, names, rates_hz or {}) if infos is not None else []
    for (against, setup), result in zip(names, waiting, strict=True):
        found += [_owned(each, setup, against) for each in result()]
    order = {setup: place for place, setup in enumerate(clips)}
    return sorted(found, key=lambda each: (order[each.setup], order[each.against], KINDS.index(each.kind)))


def between(of: Pair) -> list[Finding]:
    """The giveaways in the sound of two setups, which are not named yet; of no particular order."""
    found = speeds.named(pair.between(of.passage, SECOND, *of.clips, of.by, fine=of.fine), *of.clips)
    if not of.fine and not any(pair.silent(clip) for clip in of.clips):
        tops = clipping.clipping(of.passage, SECOND, *of.recorded)
        if tops:  # flat as they lie in the file: the same is not told once more of their height
            found = [each for each in found if each.kind not in ("clipping", "limiter")]
        found += tops
    return [replace(each, what=each.what.replace(REFERENCE, FIRST)) for each in found]


def _of_files(
    passage: str, infos: Mapping[str, FileInfo], pairs: Sequence[tuple[str, str]], rates_hz: Mapping[str, int]
) -> list[Finding]:
    """The giveaways in setups' files themselves; of unlike rates only those that are not mended on record."""
    bits = {setup: production.word_length(infos[setup]) for pair in pairs for setup in pair}
    found: list[Finding] = []
    for against, setup in pairs:
        files = infos[against], infos[setup]
        brought_hz = max(rates_hz.get(against, 0), rates_hz.get(setup, 0))
        settled = brought_hz >= max(file.rate_hz for file in files)
        cues = production.source_files(passage, SECOND, *files, (bits[against], bits[setup]))
        cues = [each for each in cues if not (each.mend and each.mend.rate_hz and settled)]
        found += [_owned(replace(each, what=each.what.replace(REFERENCE, FIRST)), setup, against) for each in cues]
    return found


def _owned(found: Finding, setup: str, against: str) -> Finding:
    """A finding with both names in it: a fault is of the one that it is said of, and more of it a positive number.

    Where a sign says whose it is, or a mend hangs on the order, the order stays.
    """
    what = same_sound.named(found.what, against, setup)
    if found.kind in OF_MORE and found.measured < 0:
        return replace(found, setup=against, against=setup, measured=-found.measured, what=what)
    if found.kind in OF_ONE and found.what.startswith(f"{FIRST} ") and not found.what.startswith(f"{FIRST} or "):
        return replace(found, setup=against, against=setup, what=what)
    return replace(found, setup=setup, against=against, what=what)
