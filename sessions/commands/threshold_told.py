"""What `threshold` tells of a run on record, in sentences and as a document."""

from __future__ import annotations

from ..casebook import catalogue
from ..casebook.catalogue import Listener, Setup
from ..casebook.store import Casebook
from ..casebook.threshold_rows import KeptThreshold, Sought
from . import kept_run_told
from .context import say


def what(kept: KeptThreshold) -> str:
    """The change that is looked for."""
    sought = kept.sought
    if sought.kind == "level":
        return "all of it louder"
    width = "octave" if sought.octaves == 1 else f"{sought.octaves:.2f} octave"
    return f"{'more' if sought.kind == 'lift' else 'less'} of the {width} around {sought.centre_hz} Hz"


def where(casebook: Casebook, kept: KeptThreshold) -> str:
    """What played, through what."""
    from ..listening.threshold_sounds import NOISE

    if kept.setup_id is None:
        return NOISE
    return f"{kept.sought.passage} through {catalogue.names(casebook, Setup)[kept.setup_id]}"


def found(kept: KeptThreshold) -> str:
    """What was found, in few words; of a run that was stopped, or tells nothing, that."""
    return kept_run_told.found(kept, _interval)


def mean_of(kept: KeptThreshold) -> str:
    """What was found in the mean of its band; empty of a level, and where no value was found."""
    from ..measured import own_thresholds

    mean_db = own_thresholds.in_the_mean_db(kept) if kept.complete else None
    return "" if mean_db is None else f"{mean_db:.2f} dB"


def tell(casebook: Casebook, kept: KeptThreshold) -> None:
    """Say what a run found, on what, and how."""
    from ..measured import own_thresholds

    sought = kept.sought
    name = catalogue.names(casebook, Listener)[kept.listener_id]
    kept_run_told.tell_end(kept, f"{name}, {what(kept)}, on {where(casebook, kept)}: ", _told_of_end)
    if not kept.complete:
        return
    if sought.kind != "level":
        mean = f" In the mean of the band that is {mean_of(kept)}, which crosscheck judges by." if mean_of(kept) else ""
        say(f"The size is that at the band's middle, half of it at its ends; all of it was as loud as before.{mean}")
    if told := little(sought):
        say(told)
    quieter = f"; all of it {-sought.gain_db:.1f} dB quieter, so that nothing clips" if sought.gain_db < 0 else ""
    loud = f"{sought.level_dba:.0f} dBA" if sought.level_dba is not None else "a level nobody read"
    holds = "" if own_thresholds.doubt(kept) else " It holds for this listener, music, chain and level."
    say(f"Played by {sought.device} at {loud}{quieter}.{holds}")


def little(sought: Sought) -> str:
    """That a band holds only little, so that the run decides nothing elsewhere; empty where it holds enough."""
    from ..measured.own_thresholds import LITTLE_DB

    if sought.changes_db is None or sought.changes_db >= LITTLE_DB:
        return ""
    return (
        f"Only little is in this band here: the largest change, {sought.sizes_db[-1]:g} dB, is one of "
        f"{sought.changes_db:.1f} dB in the ear. crosscheck does not use this run; another passage tells more."
    )


def document(casebook: Casebook, kept: KeptThreshold) -> dict[str, object]:
    """A run as plain values; what it found and its answers only once it came to its end."""
    from ..measured import own_thresholds

    return kept_run_told.document(casebook, kept, own_thresholds.found, {"band_hz": kept.sought.band_hz})


def _interval(kept: KeptThreshold) -> str:
    from ..measured import own_thresholds

    told, sizes = own_thresholds.found(kept), kept.sought.sizes_db
    if told.place == "above":
        return f"not up to {sizes[-1]:g} dB"
    if told.place == "below":
        return f"{sizes[0]:g} dB and less"
    low = f"{told.low:.2f}" if told.low is not None else f"below {sizes[0]:g}"
    high = f"{told.high:.2f} dB" if told.high is not None else f"above {sizes[-1]:g} dB"
    middle = f"{told.value:.2f} dB, " if told.value is not None else ""
    return f"{middle}{low} to {high}"


def _told_of_end(kept: KeptThreshold) -> str:
    from stats.adaptive_threshold import HELD_UP_TO

    from ..measured import own_thresholds

    sought, place = kept.sought, own_thresholds.found(kept).place
    sure = f"{100 * sought.level:g} %"
    trials = f"by {len(kept.answers)} trials of {sought.alternatives} presentations"
    if place == "above":
        return f"not noticed up to {sought.sizes_db[-1]:g} dB, the largest that was played ({sure} sure, {trials})."
    if place == "below":
        return f"noticed at {sought.sizes_db[0]:g} dB already, the smallest that was played ({sure} sure, {trials})."
    return (
        f"noticed from {_interval(kept)} ({sure}, {trials}). That is the size noticed in every second trial that was "
        f"attended to, which is {100 * sought.proportion:.0f} % right with guesses; the interval holds for up to "
        f"{100 * HELD_UP_TO:.0f} % of blind answers."
    )
