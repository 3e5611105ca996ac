"""Words of two setups: what blind ballots showed of each, and what was said of which one rather, and how.

Only a ballot that was taken to its end and is not void can have a word "heard"; all else is "said". A ballot that is a
primary question of its review and does not hold among these has none either, as its words are told of it alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import comb, factorial

from stats.paired_ticks import exact_p

from ..casebook.catalogue import Setup
from ..casebook.store import Casebook
from ..plans import plan_rows, words_in_trials
from ..plans.standing_words import counted
from ..words import log
from ..words.blindness import LABELS, LabelledWord
from ..words.lexicon import Lexicon
from ..words.tracks_described import tracks_described
from . import review
from .ballot_outcomes import BallotWord, RatedWord, WordBallots, WordRatings
from .ballots_over import LeftOut, why_left_out
from .crosschecked import Evidence, WordOfTwo
from .first_lines import but_alone
from .how_answered import TAKEN_AWAY
from .outcome import Discrimination
from .pairs_of_many import BallotOfSeveral, PairOfMany, WordOfSeveral, pairs_of_many
from .plan_record import PlanRecord
from .supplementary_sentences import p_is
from .verdict import Verdict

_TICKED_ALONE = "ticked of {} alone in {}, of {} alone in {}"
_TOO_FEW = "so few trials could not have shown it{}, whatever was answered"


@dataclass(frozen=True)
class BallotsOfTwo:
    """The words of the ballots between two setups that are over and hold, in the order of the plans; and the others."""

    words: list[WordOfTwo]
    left_out: tuple[LeftOut, ...]


def of_ballots(casebook: Casebook, setups: Sequence[Setup], lexicon: Lexicon) -> BallotsOfTwo:
    """What the ballots of a casebook tell of two setups; nothing of one that is not over but its name."""
    ids = (setups[0].id, setups[1].id)
    asked = {
        one.plan.id
        for one in plan_rows.every_sealed(casebook)
        if one.plan.method.asks_words and set(ids) <= {own.id for own in one.plan.setups}
    }
    if not asked:
        return BallotsOfTwo([], ())  # nothing to judge, which takes as long as all plans together
    words, left_out = list[WordOfTwo](), []
    for one in review.review(casebook, rehearsals=False).plans:
        if one.sealed.plan.id not in asked:
            continue
        if why := why_left_out(one.verdict):
            left_out.append(LeftOut(one.sealed.plan.name, why))
        else:
            words += of_judged(one.verdict, one.record, ids, lexicon)
    return BallotsOfTwo(words, tuple(left_out))


def of_judged(
    verdict: Verdict, record: PlanRecord, setup_ids: tuple[str, str], lexicon: Lexicon, *, rehearsed: bool = False
) -> list[WordOfTwo]:
    """The words of a ballot that two setups took part in, first and second as they are asked for; else none.

    Of a rehearsal there are none, unless it is about a rehearsal.
    """
    if why_left_out(verdict) or verdict.rehearsal != rehearsed:
        return []
    if not set(setup_ids) <= {setup.id for setup in verdict.plan.setups}:
        return []  # before the pairs of a ballot of several are tested
    several = pairs_of_many(verdict, record, lexicon)
    return (
        of_ballot(verdict, setup_ids, lexicon) if several is None else of_several(verdict, several, setup_ids, lexicon)
    )


def of_ballot(verdict: Verdict, setup_ids: tuple[str, str], lexicon: Lexicon) -> list[WordOfTwo]:
    """The words of a ballot between two setups, first and second as they are asked for; of any other plan none."""
    ballots, own = verdict.outcome, [setup.id for setup in verdict.plan.setups]
    if not isinstance(ballots, (WordBallots, WordRatings)) or why_left_out(verdict):
        return []
    if sorted(own) != sorted(setup_ids):
        return []
    return [_in_ballot(one, verdict, own[0] != setup_ids[0], lexicon) for one in ballots.words]


def of_several(
    verdict: Verdict, ballot: BallotOfSeveral, setup_ids: tuple[str, str], lexicon: Lexicon
) -> list[WordOfTwo]:
    """The words of a ballot of more setups for two of them: which two differ was not asked, so that none is "heard"."""
    names = [next((own.name for own in verdict.plan.setups if own.id == asked), None) for asked in setup_ids]
    found = []
    for one in ballot.words:
        for pair in one.pairs:
            if sorted(pair.setups) == sorted(name for name in names if name is not None):
                found.append(_of_pair(one, pair, verdict, pair.setups[0] != names[0], lexicon, rated=ballot.rated))
    return found


def _of_pair(
    one: WordOfSeveral, pair: PairOfMany, verdict: Verdict, turned: bool, lexicon: Lexicon, *, rated: bool
) -> WordOfTwo:
    own = pair.counts
    sides = (own.second_only, own.first_only) if turned else (own.first_only, own.second_only)
    means = own.means if own.means is None or not turned else own.means[::-1]
    names = pair.setups[::-1] if turned else pair.setups
    what = "rated higher of {} in {}, of {} in {}" if rated else _TICKED_ALONE
    told = f"{_which(verdict)} {what.format(names[0], sides[0], names[1], sides[1])} of {counted(own.trials, 'trial')}"
    several = f"not all {len(verdict.plan.setups)} alike"
    told += "" if one.found.p_holm is None else f"; {several}: Holm {p_is(one.found.p_holm)}"
    told += f"; of these two alone {p_is(pair.p_holm)}, corrected over all pairs and words, computed afterwards"
    named = one.found.word in verdict.words_named
    differ = named and pair.p_holm <= verdict.plan.alpha
    enough = one.found.separates(verdict.plan.alpha) and not named
    alone = but_alone(verdict) if named else ""
    shown = differ and not alone
    evidence = _evidence(verdict, own.trials, shown=shown, enough_alone=enough or bool(differ and alone))
    if enough:
        told += f"; {TAKEN_AWAY}"
    elif not named:
        told += "; it was not shown to be heard"
    elif not differ:
        told += "; that not all got it alike was heard, and of these two it is not shown"
    if evidence == "too few to show":
        told += f"; {_TOO_FEW.format(' of these two alone' + _beside_others(verdict, own.trials))}"
    if alone:
        told += f"; heard{alone}"
    first, second = means or sides
    entry = lexicon.find(one.word)
    return WordOfTwo(
        entry.word if entry else one.word,
        first > second if shown else None,
        evidence,
        told,
        tuple(listener.name for listener in verdict.plan.listeners),
        verdict.plan.name,
        one.found.word,
        more=None if first == second else first > second,
    )


def _which(verdict: Verdict) -> str:
    return f"in {'a rehearsal of ' if verdict.rehearsal else ''}the ballot {verdict.plan.name},"


def _in_ballot(one: BallotWord | RatedWord, verdict: Verdict, turned: bool, lexicon: Lexicon) -> WordOfTwo:
    plan, entry = verdict.plan, lexicon.find(one.word)
    held = one.word in verdict.words_named
    alone = but_alone(verdict) if held else ""
    shown = held and not alone
    names = [setup.name for setup in plan.setups][:: -1 if turned else 1]
    sizes, how = _ticked(one, turned, names) if isinstance(one, BallotWord) else _rated(one, turned, names)
    told = f"{_which(verdict)} {how} of {counted(one.trials, 'trial')}"
    told += "" if one.p_holm is None else f", Holm {p_is(one.p_holm)}"
    evidence = _evidence(verdict, one.trials, shown=shown, enough_alone=one.separates(plan.alpha) and not shown)
    if one.separates(plan.alpha) and not held:
        told += f"; {TAKEN_AWAY}"
    if evidence == "too few to show":
        told += f"; {_TOO_FEW.format(_beside_others(verdict, one.trials))}"
    if alone:
        told += f"; heard{alone}"
    if one.noisy:
        as_much = "is ticked of one alone as often" if isinstance(one, BallotWord) else "differs as much"
        told += f"; it {as_much} where both are the same"
    return WordOfTwo(
        entry.word if entry else one.word,
        sizes[0] > sizes[1] if shown else None,
        evidence,
        told,
        tuple(listener.name for listener in plan.listeners),
        plan.name,
        one.word,
        more=None if sizes[0] == sizes[1] else sizes[0] > sizes[1],
    )


def _evidence(verdict: Verdict, trials: int, *, shown: bool, enough_alone: bool) -> Evidence:
    """What a ballot shows of a word; what it could not have shown whatever was answered is no sign of its absence."""
    of_two = len(verdict.plan.setups) == 2
    if shown:
        return "heard" if of_two else "heard among several"
    if enough_alone:
        return "enough alone"
    return "too few to show" if _least_p(verdict, trials) > verdict.plan.alpha else "not shown"


def no_answers_could_show(verdict: Verdict) -> bool:
    """Whether whatever had been answered a plan could not have shown anything: so that it says nothing.

    Too few trials, or it was sealed after its question was begun and what was asked before does not hold.
    """
    found, together = verdict.outcome, verdict.together
    if together is not None and together.asked_before:
        return True
    if isinstance(found, Discrimination):
        return found.sequential is None and verdict.plan.criterion is None
    if found is None:
        return False
    if verdict.plan.method.asks_words:
        return _least_p(verdict, found.answered) > verdict.plan.alpha
    return found.least_p is not None and found.least_p > verdict.plan.alpha


def _beside_others(verdict: Verdict, trials: int) -> str:
    """That it is the other plans for which there are too few trials; empty where these alone are too few."""
    by_itself = replace(verdict, together=None)
    return " together with the other plans" if _least_p(by_itself, trials) <= verdict.plan.alpha else ""


def _least_p(verdict: Verdict, trials: int) -> float:
    """The least p-value that so many trials can give a word, corrected as the planned test is.

    By hand: all n trials for one of two setups have 2/2ⁿ, and Holm takes the least of W words W times. Of k setups all
    trials can be permuted in (k!)ⁿ ways, k! of which are as extreme at least; and two of them are set apart afterwards,
    corrected over all pairs and words.
    """
    setups, words = len(verdict.plan.setups), len(verdict.plan.ballot.words)
    together = verdict.together
    among = 1 if together is None else max(together.asked_stage, together.primary_stage)
    if setups == 2:
        return words * among * exact_p(trials, 0)
    of_all = words * among * float(Fraction(1, factorial(setups) ** max(trials - 1, 0)))
    return max(of_all, words * comb(setups, 2) * exact_p(trials, 0))


def _ticked(one: BallotWord, turned: bool, names: Sequence[str]) -> tuple[tuple[float, float], str]:
    counts = (one.second_only, one.first_only) if turned else (one.first_only, one.second_only)
    return counts, _TICKED_ALONE.format(names[0], counts[0], names[1], counts[1])


def _rated(one: RatedWord, turned: bool, names: Sequence[str]) -> tuple[tuple[float, float], str]:
    first, second = (one.first_mean, one.first_higher), (one.second_mean, one.second_higher)
    first, second = (second, first) if turned else (first, second)
    how = f"rated {first[0]:.1f} of {names[0]} and {second[0]:.1f} of {names[1]} on average, higher of {names[0]} in "
    return (first[0], second[0]), f"{how}{first[1]}, of {names[1]} in {second[1]}"


def said_of(casebook: Casebook, setups: Sequence[Setup], lexicon: Lexicon) -> list[WordOfTwo]:
    """The words in force of two setups by headword, those said most often first; liking and all others alike."""
    said = words_in_trials.labelled(casebook, log.words(casebook))
    return in_words(said, (setups[0].id, setups[1].id), (setups[0].name, setups[1].name), lexicon)


def in_words(
    said: Sequence[LabelledWord], setup_ids: tuple[str, str], names: tuple[str, str], lexicon: Lexicon
) -> list[WordOfTwo]:
    """The same from labelled words: each counted in tracks, since one heard ten times is one piece of music still.

    Of which one rather is by the share of the tracks in which each was described at all: one of one and two of two are
    no difference.
    """
    alike: dict[str, list[LabelledWord]] = {}
    for one in said:
        if one.setup_id in setup_ids:
            alike.setdefault(lexicon.headword(one.word.term), []).append(one)
    found = []
    in_all = [tracks_described(one for one in said if one.setup_id == setup_id) for setup_id in setup_ids]
    of_all = f" (described {in_all[0].told()} and {in_all[1].told()})"
    for every in sorted(alike.values(), key=lambda own: -len(own)):
        first, second = (tracks_described(one for one in every if one.setup_id == setup_id) for setup_id in setup_ids)
        how = ", ".join(f"{label} {times}" for label in LABELS if (times := sum(one.label == label for one in every)))
        shares = [Fraction(one.places, max(1, own.places)) for one, own in zip((first, second), in_all, strict=True)]
        counts = f"of {names[0]} {first.told(tracks_word=False)}, of {names[1]} {second.told()}"
        if in_all[0].places != in_all[1].places and all(own.places for own in in_all):
            counts += of_all
        entry = lexicon.find(every[0].word.term)
        found.append(
            WordOfTwo(
                entry.word if entry else every[0].word.term,
                None if shares[0] == shares[1] else shares[0] > shares[1],
                "said",
                f"{counts}; {how}",
                tuple(sorted({one.word.listener for one in every})),
                labels=tuple(label for label in LABELS if any(one.label == label for one in every)),
            )
        )
    return found
