"""One setup's words against all that has been described so far: by headword of the lexicon, by family, by week. Pure.

It counts tracks, since one that is heard ten times is one piece of music still. It says how words were used, and tests
nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from .blindness import IN_A_BLIND_TRIAL, LabelledWord
from .lexicon import Lexicon
from .tracks_described import TracksDescribed, tracks_described

NO_FAMILY = "no family"


@dataclass(frozen=True)
class Use:
    """How one headword was used.

    Attributes
    ----------
    word
        The headword, or the term as it was typed first where the lexicon has none.
    tracks, times, in_blind_trials
        In how many tracks it was said of this setup, how often, and how often of it in a blind trial.
    outside
        Whether some of it was said outside of any track.
    elsewhere
        Of how many of the other setups it was said.
    tracks_elsewhere
        In how many of their tracks, counted for each of these setups by itself.
    likes
        Whether it says that something was liked, and not what was heard.
    weeks
        How often in each week (ISO 8601, such as 2026-W48), in their order.
    """

    word: str
    family: str
    tracks: int
    times: int
    in_blind_trials: int
    elsewhere: int
    tracks_elsewhere: int
    outside: bool
    likes: bool
    weeks: Mapping[str, int]


@dataclass(frozen=True)
class Profile:
    """A setup's words, and how much there is to set them against.

    Attributes
    ----------
    tracks, outside
        In how many tracks something was said of the setup, and whether also outside of any.
    others, tracks_elsewhere
        How many other setups were described, and in how many tracks, counted for each setup by itself.
    used
        Words said of the setup: those of most tracks first, then those that are rarest elsewhere.
    never
        Words said of more than half of the others and never of this one.
    families
        How often words of each family were said of the setup.
    """

    setup: str
    tracks: int
    others: int
    tracks_elsewhere: int
    outside: bool
    used: Sequence[Use]
    never: Sequence[Use]
    families: Mapping[str, int]


def profile(words: Iterable[LabelledWord], setup_id: str, name: str, lexicon: Lexicon) -> Profile:
    """The profile of a setup from all words in force; those whose setup may not be told yet are left out."""
    said = [one for one in words if one.setup_id is not None]
    described = {of: _of_setup(said, of) for of in {one.setup_id for one in said}}
    tracks_elsewhere = sum(own.tracks for of, own in described.items() if of != setup_id)
    own = described.get(setup_id, TracksDescribed(0, False))
    alike: dict[str, list[LabelledWord]] = {}
    for one in said:
        alike.setdefault(lexicon.headword(one.word.term), []).append(one)
    uses = [_use(every, setup_id, lexicon) for every in alike.values()]
    others = len(described.keys() - {setup_id})
    families = Counter[str]()
    for use in uses:
        families[use.family or NO_FAMILY] += use.times
    return Profile(
        name,
        own.tracks,
        others,
        tracks_elsewhere,
        own.outside,
        sorted((one for one in uses if one.times), key=lambda one: (-one.tracks, one.elsewhere, one.word)),
        sorted((one for one in uses if not one.times and 2 * one.elsewhere > others), key=lambda one: -one.elsewhere),
        {family: times for family, times in families.most_common() if times},
    )


def _use(every: Sequence[LabelledWord], setup_id: str, lexicon: Lexicon) -> Use:
    own = [one for one in every if one.setup_id == setup_id]
    others = [one for one in every if one.setup_id != setup_id]
    entry, tracks = lexicon.find(every[0].word.term), tracks_described(own)
    return Use(
        entry.word if entry else every[0].word.term,
        entry.family if entry else "",
        tracks.tracks,
        len(own),
        sum(one.label == IN_A_BLIND_TRIAL for one in own),
        len({one.setup_id for one in others}),
        sum(_of_setup(others, of).tracks for of in {one.setup_id for one in others}),
        tracks.outside,
        entry is not None and entry.likes,
        dict(sorted(Counter(_week(one.word.at) for one in own).items())),
    )


def _of_setup(words: Iterable[LabelledWord], setup_id: str | None) -> TracksDescribed:
    return tracks_described(one for one in words if one.setup_id == setup_id)


def _week(at: str) -> str:
    year, week, _ = date.fromisoformat(at[:10]).isocalendar()
    return f"{year}-W{week:02d}"
