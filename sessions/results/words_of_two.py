"""Words of two setups: what blind ballots showed of each, and what was said of which one rather, and how.

Only a ballot that was taken to its end and is not void can have a word "heard"; all else is "said".
"""

from __future__ import annotations

from collections.abc import Sequence

from stats.count_summary import HEARD, NOT_SHOWN

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..plans import plan_rows, words_in_trials
from ..plans.plan import Plan
from ..words import log
from ..words.blindness import LABELS, LabelledWord
from ..words.lexicon import Lexicon
from ..words.tracks_described import tracks_described
from . import review
from .ballot_outcomes import BallotWord, RatedWord, WordBallots, WordRatings
from .crosscheck import WordOfTwo
from .verdict import Verdict


def heard_in_ballots(casebook: Casebook, setups: Sequence[Setup], lexicon: Lexicon) -> list[WordOfTwo]:
    """Each word of the ballots between two setups that are over and hold, in the order of the plans."""
    if not any(one.plan.method.listed for one in plan_rows.every_sealed(casebook)):
        return []  # no ballot: nothing to judge, which takes as long as all plans together
    ids = (setups[0].id, setups[1].id)
    reviewed = review.review(casebook, rehearsals=False).plans
    return [word for one in reviewed for word in of_ballot(one.verdict, ids, lexicon)]


def of_ballot(verdict: Verdict, setup_ids: tuple[str, str], lexicon: Lexicon) -> list[WordOfTwo]:
    """The words of a ballot between two setups, first and second as they are asked for; of any other plan none."""
    plan, ballots = verdict.plan, verdict.outcome
    own = [setup.id for setup in plan.setups]
    if (
        not isinstance(ballots, (WordBallots, WordRatings))
        or verdict.verdict not in (HEARD, NOT_SHOWN)
        or verdict.rehearsal
    ):
        return []
    if not ballots.complete or sorted(own) != sorted(setup_ids):
        return []
    return [_in_ballot(one, plan, own[0] != setup_ids[0], lexicon) for one in ballots.words]


def _in_ballot(one: BallotWord | RatedWord, plan: Plan, turned: bool, lexicon: Lexicon) -> WordOfTwo:
    shown, entry = one.separates(plan.alpha), lexicon.find(one.word)
    sizes, how = _ticked(one, turned) if isinstance(one, BallotWord) else _rated(one, turned)
    p_holm = "" if one.p_holm is None else f", Holm p {one.p_holm:.4f}"
    noisy = "; it changes as often where both are the same" if one.noisy else ""
    return WordOfTwo(
        entry.word if entry else one.word,
        sizes[0] > sizes[1] if shown else None,
        "heard" if shown else "not shown",
        f"in the ballot {plan.name} {how} of {one.trials} trials{p_holm}{noisy}",
        tuple(listener.name for listener in plan.listeners),
    )


def _ticked(one: BallotWord, turned: bool) -> tuple[tuple[float, float], str]:
    counts = (one.second_only, one.first_only) if turned else (one.first_only, one.second_only)
    return counts, f"ticked of the first alone in {counts[0]}, of the second alone in {counts[1]}"


def _rated(one: RatedWord, turned: bool) -> tuple[tuple[float, float], str]:
    first, second = (one.first_mean, one.first_higher), (one.second_mean, one.second_higher)
    first, second = (second, first) if turned else (first, second)
    how = f"rated {first[0]:.1f} of the first and {second[0]:.1f} of the second on average, higher of the first in "
    return (first[0], second[0]), f"{how}{first[1]}, of the second in {second[1]}"


def said_of(casebook: Casebook, setups: Sequence[Setup], lexicon: Lexicon) -> list[WordOfTwo]:
    """The words in force of two setups by headword, those said most often first; liking and all others alike."""
    said = words_in_trials.labelled(casebook, log.words(casebook))
    return in_words(said, (setups[0].id, setups[1].id), (setups[0].name, setups[1].name), lexicon)


def in_words(
    said: Sequence[LabelledWord], setup_ids: tuple[str, str], names: tuple[str, str], lexicon: Lexicon
) -> list[WordOfTwo]:
    """The same from labelled words: each counted in tracks, since one heard ten times is one piece of music still."""
    alike: dict[str, list[LabelledWord]] = {}
    for one in said:
        if one.setup_id in setup_ids:
            alike.setdefault(lexicon.headword(one.word.term), []).append(one)
    found = []
    for every in sorted(alike.values(), key=lambda own: -len(own)):
        first, second = (tracks_described(one for one in every if one.setup_id == setup_id) for setup_id in setup_ids)
        how = ", ".join(f"{label} {times}" for label in LABELS if (times := sum(one.label == label for one in every)))
        counts = f"of {names[0]} {first.told(tracks_word=False)}, of {names[1]} {second.told()}"
        entry = lexicon.find(every[0].word.term)
        found.append(
            WordOfTwo(
                entry.word if entry else every[0].word.term,
                None if first.places == second.places else first.places > second.places,
                "said",
                f"{counts}; {how}",
                tuple(sorted({one.word.listener for one in every})),
            )
        )
    return found
