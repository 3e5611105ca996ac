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
    elsewhere
        Of how many of the other setups it was said.
    tracks_elsewhere
        In how many of their tracks, all of them together.
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
    likes: bool
    weeks: Mapping[str, int]


@dataclass(frozen=True)
class Profile:
    """A setup's words, and how much there is to set them against.

    Attributes
    ----------
    tracks
        In how many tracks something was said of the setup; words said of no track count as one more.
    others, tracks_elsewhere
        How many other setups were described, and in how many tracks, all of them together.
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
    used: Sequence[Use]
    never: Sequence[Use]
    families: Mapping[str, int]


def profile(words: Iterable[LabelledWord], setup_id: str, name: str, lexicon: Lexicon) -> Profile:
    """The profile of a setup from all words in force; those whose setup may not be told yet are left out."""
    said = [one for one in words if one.setup_id is not None]
    described = {of: {_track(one) for one in said if one.setup_id == of} for of in {one.setup_id for one in said}}
    tracks_elsewhere = sum(len(tracks) for of, tracks in described.items() if of != setup_id)
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
        len(described.get(setup_id, set())),
        others,
        tracks_elsewhere,
        sorted((one for one in uses if one.times), key=lambda one: (-one.tracks, one.elsewhere, one.word)),
        sorted((one for one in uses if not one.times and 2 * one.elsewhere > others), key=lambda one: -one.elsewhere),
        {family: times for family, times in families.most_common() if times},
    )


def _use(every: Sequence[LabelledWord], setup_id: str, lexicon: Lexicon) -> Use:
    own = [one for one in every if one.setup_id == setup_id]
    others = [one for one in every if one.setup_id != setup_id]
    entry = lexicon.find(every[0].word.term)
    return Use(
        entry.word if entry else every[0].word.term,
        entry.family if entry else "",
        len({_track(one) for one in own}),
        len(own),
        sum(one.label == IN_A_BLIND_TRIAL for one in own),
        len({one.setup_id for one in others}),
        len({(one.setup_id, _track(one)) for one in others}),
        entry is not None and entry.likes,
        dict(sorted(Counter(_week(one.word.at) for one in own).items())),
    )


def _track(one: LabelledWord) -> str:
    return one.word.track or ""


def _week(at: str) -> str:
    year, week, _ = date.fromisoformat(at[:10]).isocalendar()
    return f"{year}-W{week:02d}"
