"""What a run tells of the smallest difference that a listener notices, and of which bands it can speak. Pure.

It is read of the answers each time, by `stats.adaptive_threshold`; nothing of it is kept but these.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from math import inf, log2
from types import MappingProxyType

from stats.adaptive_threshold import Answer, Search, Threshold, next_step, threshold

from ..casebook.threshold_rows import GivenAnswer, KeptThreshold, Sought
from .band_effect import effect_of_lift_db
from .word_thresholds import AudibleFrom

LEAST_SHARED = 0.5  # of what two bands cover together, in octaves, that both of them cover; our choice
WIDE_OCTAVES = 1.0  # from there on more and less of a band are noticed alike, as the published threshold takes it


def search_of(sought: Sought) -> Search:
    """The search that a run is."""
    return Search(
        sought.sizes_db,
        sought.alternatives,
        sought.proportion,
        sought.level,
        sought.width,
        sought.fewest,
        sought.most,
    )


def next_size(sought: Sought, given: Sequence[GivenAnswer]) -> int | None:
    """The place among the sizes of what is to be played next; None at the end of the run."""
    step = next_step(search_of(sought), _answers(sought, given))
    return None if step is None else sought.sizes_db.index(step)


def found(kept: KeptThreshold) -> Threshold:
    """What the answers so far tell; sizes in dB."""
    return threshold(search_of(kept.sought), _answers(kept.sought, kept.answers))


def ends_db(kept: KeptThreshold) -> tuple[float, float | None, float]:
    """The interval of the threshold, dB, and its middle if it has one: 0 and infinity where an end is open."""
    told, sizes = found(kept), kept.sought.sizes_db
    low, high = told.low, told.high
    if low is None:
        low = sizes[-1] if told.place == "above" else 0.0
    if high is None:
        high = sizes[0] if told.place == "below" else inf
    return low, told.value, high


def of_band(
    every: Iterable[KeptThreshold],
    listener_ids: Collection[str],
    names: dict[str, str],
    low_hz: float,
    high_hz: float,
    *,
    lack: bool,
    others: Mapping[str, str] = MappingProxyType({}),
) -> AudibleFrom | None:
    """From which effect in a band on these listeners notice it, by their own runs; None where one of them has none.

    Of several listeners the one who needs most counts, so that all of them notice it. Of a listener's runs that came to
    their end the one whose band is most alike counts, then one of the same side (more or less), then the newest.

    Parameters
    ----------
    names
        The listeners' names by their identifiers.
    lack
        Whether it is about less in the band.
    others
        The names of setups, by their identifiers, that it is not about: one of these that played is told.

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
                if one.complete and one.listener_id == listener_id and _speaks_of(one.sought, low_hz, high_hz, lack)
            ),
            default=None,
        )
        if best is None:
            return None
        run = runs[best[-1]]
        own.append(_audible(run, names[listener_id], others.get(run.setup_id or ""), low_hz, high_hz))
    return max(own, key=lambda one: (one.high_db, one.low_db), default=None)


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
    return AudibleFrom(middle, low, high, source, own=True)


def _effect_db(sought: Sought, size_db: float | None, low_hz: float, high_hz: float) -> float | None:
    """The effect in a band of a size that was played; open ends stay open."""
    if size_db is None or size_db in (0.0, inf) or sought.centre_hz is None or sought.octaves is None:
        return size_db
    return abs(effect_of_lift_db(sought.centre_hz, size_db, sought.octaves, low_hz, high_hz))


def _answers(sought: Sought, given: Sequence[GivenAnswer]) -> list[Answer]:
    return [(sought.sizes_db[one.size], one.right) for one in given]


def _speaks_of(sought: Sought, low_hz: float, high_hz: float, lack: bool) -> bool:
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
