"""What a run tells of the smallest difference that a listener notices, and of which bands it can speak. Pure.

It is read of the answers each time, by `stats.adaptive_threshold`; nothing of it is kept but these. How runs are read
and worked through again is the same for runs that look for the highest tone (`own_reach`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from math import inf, log2
from types import MappingProxyType

from stats.adaptive_threshold import Answer, Search, Threshold, may_follow, next_step, threshold
from stats.answer_habit import habit

from ..casebook.hearing_rows import Reach
from ..casebook.threshold_rows import GivenAnswer, KeptRun, KeptThreshold, S, Searched, Sought
from ..casebook.training_rows import Exercise
from ..errors import CasebookError
from . import own_training
from .band_effect import effect_of_lift_db
from .word_thresholds import AudibleFrom

LITTLE_DB = 3.0  # what the largest size changes in the ear at the most; less is little, and decides nothing; our choice
LEAST_SHARED = 0.5  # of what two bands cover together, in octaves, that both of them cover; our choice
WIDE_OCTAVES = 1.0  # from there on more and less of a band are noticed alike, as the published threshold takes it


def search_of(sought: Searched) -> Search:
    """The search that a run is."""
    search = Search(
        sought.steps,
        sought.alternatives,
        sought.proportion,
        sought.level,
        sought.width,
        sought.fewest,
        sought.most,
    )
    if isinstance(sought, Reach):
        return replace(search, slopes=sought.slopes, beyond=sought.beyond, points=sought.points)
    return search


def next_size(sought: Searched, given: Sequence[GivenAnswer]) -> int | None:
    """The place among the sizes of what is to be played next; None at the end of the run."""
    if isinstance(sought, Exercise):
        return own_training.next_size(sought, given)
    step = next_step(search_of(sought), _answers(sought, given))
    return None if step is None else sought.steps.index(step)


def found(kept: KeptRun[S]) -> Threshold:
    """What the answers so far tell; in dB, or in the steps of whatever the run looks for.

    Raises
    ------
    CasebookError
        If an answer is to none of the run's sizes.
    """
    return threshold(search_of(kept.sought), _answers(kept.sought, kept.answers))


def faults(kept: KeptRun[S]) -> list[str]:
    """Where a run on record contradicts the rule by which it was played: it is worked through again.

    That finds answers that are missing, put in, or turned round wherever the sizes that follow would have been others;
    not a record that was played through anew by the same rule.
    """
    sought, count = kept.sought, len(kept.answers)
    if kept.trials != tuple(range(1, count + 1)):
        return [f"its {count} answers are those of trials {', '.join(map(str, kept.trials))}, not of 1 to {count}"]
    for trial, one in enumerate(kept.answers, 1):
        if not 0 <= one.size < len(sought.steps):
            return [f"trial {trial} is of size number {one.size + 1}, and there are {len(sought.steps)}"]
        if not (0 <= one.changed < sought.alternatives and 0 <= one.named < sought.alternatives):
            return [f"trial {trial} has a presentation that is none of its {sought.alternatives}"]
    search, answers = search_of(sought), _answers(sought, kept.answers)
    for trial, (step, _) in enumerate(answers, 1):
        if not may_follow(search, answers[: trial - 1], step):
            size = sought.in_words(kept.answers[trial - 1].size)
            return [f"trial {trial} is of {size}, where the answers before it lead to something else"]
    if kept.complete and not may_follow(search, answers, None):
        return [f"it says that it came to its end, and its {count} answers lead to another trial"]
    if not kept.complete and not any(may_follow(search, answers, step) for step in search.steps):
        return [f"its {count} answers lead to its end, and it does not say that it came there"]
    return []


def doubt(kept: KeptRun[S]) -> str:
    """Why nothing can be told of hearing from a run that came to its end, in words; empty where it can."""
    wrong = faults(kept)
    if wrong:
        return f"the record of this run contradicts itself ({wrong[0]}); see earwitness verify"
    answers, trials = kept.answers, len(kept.answers)
    named = [sum(one.named == place for one in answers) for place in range(kept.sought.alternatives)]
    right = sum(one.right for one in answers)
    follows = habit(right, named)
    nothing = "nothing can be told of hearing from this run"
    if follows == "one name":
        letter = "ABC"[named.index(max(named))]
        return f"answers of one habit: {letter} was named in {max(named)} of {trials} trials; {nothing}"
    if follows == "below chance":
        by_chance = trials / kept.sought.alternatives
        return (
            f"answers below chance: {right} of {trials} are right, and guessing gives about {by_chance:.0f}; perhaps "
            f"one of the two alike was named instead of the other one; {nothing}"
        )
    return ""


def not_used(kept: KeptThreshold) -> str:
    """Why a run that came to its end does not count where differences are judged, in words; empty where it does."""
    why, changes_db = doubt(kept), kept.sought.changes_db
    if not why and changes_db is not None and changes_db < LITTLE_DB:
        why = f"the music had little in this band: its largest change is one of {changes_db:.1f} dB in the ear"
    return why


def ends_db(kept: KeptThreshold) -> tuple[float, float | None, float]:
    """The interval of the threshold, dB, and its middle if it has one: 0 and infinity where an end is open."""
    told, sizes = found(kept), kept.sought.sizes_db
    low, high = told.low, told.high
    if low is None:
        low = sizes[-1] if told.place == "above" else 0.0
    if high is None:
        high = sizes[0] if told.place == "below" else inf
    return low, told.value, high


def in_the_mean_db(kept: KeptThreshold) -> float | None:
    """What a run's threshold, which is a size at the band's middle, comes to in the mean of that band, dB.

    None where the run gives no value, or it is about a level. As `crosscheck` reads measured effects.
    """
    band = kept.sought.band_hz
    if band is None or doubt(kept):
        return None
    value = found(kept).value
    return None if value is None else _effect_db(kept.sought, value, *band)


def of_band(
    every: Iterable[KeptThreshold],
    listener_ids: Collection[str],
    names: dict[str, str],
    low_hz: float,
    high_hz: float,
    *,
    lack: bool,
    others: Mapping[str, str] = MappingProxyType({}),
    elsewhere: Mapping[str | None, str] = MappingProxyType({}),
) -> AudibleFrom | None:
    """From which effect in a band on these listeners notice it, by their own runs; None where one of them has none.

    Of several listeners the one who needs most counts, so that all of them notice it. Of a listener's runs that came to
    their end and tell of hearing (`not_used`) the one whose band is most alike counts, then one of
    the same side (more or less), then the newest.

    Parameters
    ----------
    names
        The listeners' names by their identifiers.
    lack
        Whether it is about less in the band.
    others
        The names of setups, by their identifiers, that it is not about: one of these that played is told.
    elsewhere
        What of these plays through another chain than the one that was heard (None: pink noise): such a run does not
        count, since a threshold holds for its chain.

    Notes
    -----
    A run's sizes are those at the centre of a bell-shaped change; what is set against a measured effect is the change's
    own effect in the band, read in the same way (`band_effect.effect_of_lift_db`).
    """
    runs, own = list(every), list[AudibleFrom]()
    for listener_id in listener_ids:
        best = max(
            (
                (_shared(one.sought, low_hz, high_hz), (one.sought.kind == "cut") == lack, one.at, place)
                for place, one in enumerate(runs)
                if one.complete
                and one.listener_id == listener_id
                and speaks_of(one.sought, low_hz, high_hz, lack)
                and one.setup_id not in elsewhere
                and not not_used(one)
            ),
            default=None,
        )
        if best is None:
            return None
        run = runs[best[-1]]
        own.append(_audible(run, names[listener_id], others.get(run.setup_id or ""), low_hz, high_hz))
    return max(own, key=lambda one: (one.high_db, one.low_db), default=None)


def set_aside(
    every: Iterable[KeptThreshold],
    listener_ids: Collection[str],
    names: dict[str, str],
    low_hz: float,
    high_hz: float,
    *,
    lack: bool,
    elsewhere: Mapping[str | None, str] = MappingProxyType({}),
) -> list[str]:
    """These listeners' runs of this band that came to their end and do not count, each with the reason."""
    return [
        f"{names[one.listener_id]}'s run {one.id} of {one.at[:10]}: {why}"
        for one in every
        if one.complete
        and one.listener_id in listener_ids
        and speaks_of(one.sought, low_hz, high_hz, lack)
        and (why := not_used(one) or _other_chain(one, elsewhere))
    ]


def _other_chain(kept: KeptThreshold, elsewhere: Mapping[str | None, str]) -> str:
    if kept.setup_id not in elsewhere:
        return ""
    return (
        f"it was found with {elsewhere[kept.setup_id]} through {kept.sought.device}, which is another chain than those "
        "of the two, and holds for its own"
    )


def _audible(kept: KeptThreshold, name: str, other: str | None, low_hz: float, high_hz: float) -> AudibleFrom:
    sought = kept.sought
    assert sought.band_hz is not None  # of a level nothing is asked here
    low, middle, high = (_effect_db(sought, size_db, low_hz, high_hz) for size_db in ends_db(kept))
    assert low is not None
    assert high is not None
    where = f"passage {sought.passage}" if sought.passage else "pink noise"
    where += f" by {other}, which is neither of the two," if other else ""
    band = f"{sought.band_hz[0]:.0f} to {sought.band_hz[1]:.0f} Hz"
    changed = "more" if sought.kind == "lift" else "less"
    source = (
        f"{name}'s own: {len(kept.answers)} trials of {changed} in {band} on {where} through {sought.device}, "
        f"{kept.at[:10]}"
    )
    return AudibleFrom(middle, low, high, source, own=True, whose=name)


def _effect_db(sought: Sought, size_db: float | None, low_hz: float, high_hz: float) -> float | None:
    """The effect in a band of a size that was played; open ends stay open."""
    if size_db is None or size_db in (0.0, inf) or sought.centre_hz is None or sought.octaves is None:
        return size_db
    return abs(effect_of_lift_db(sought.centre_hz, size_db, sought.octaves, low_hz, high_hz))


def _answers(sought: Searched, given: Sequence[GivenAnswer]) -> list[Answer]:
    """Each answer with its step."""
    count = len(sought.steps)
    for trial, one in enumerate(given, 1):
        if not 0 <= one.size < count:
            raise CasebookError(
                f"answer {trial} of a run for a threshold is to size number {one.size + 1}, and there are {count}: the "
                "record was edited; see earwitness verify"
            )
    return [(sought.steps[one.size], one.right) for one in given]


def speaks_of(sought: Sought, low_hz: float, high_hz: float, lack: bool) -> bool:
    """Whether a run's band is alike enough to this one, and its side."""
    if sought.kind == "level" or _shared(sought, low_hz, high_hz) < LEAST_SHARED:
        return False
    return (sought.kind == "cut") == lack or log2(high_hz / low_hz) >= WIDE_OCTAVES - 1e-9


def _shared(sought: Sought, low_hz: float, high_hz: float) -> float:
    """How much of what a run's band and another cover together both of them cover, in octaves, 0 to 1."""
    band = sought.band_hz
    if band is None:
        return 0.0
    both = log2(min(band[1], high_hz) / max(band[0], low_hz))
    return max(0.0, both) / log2(max(band[1], high_hz) / min(band[0], low_hz))
