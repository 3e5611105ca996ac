"""How a result was answered, by whom, and how seldom chance does as well: of the second line that is read first. Pure.

What is said of listeners is said of those whose answers count. A number is never rounded to another impression: what
is small has two digits, and "level" is 0.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import singledispatch
from math import floor, log10
from typing import TypeVar

from stats.count_summary import HEARD, NOT_SHOWN

from .ballot_outcomes import BallotWord, RatedWord, WordBallots, WordOfMany, WordRatings, WordsOfMany
from .outcome import DifferenceGrades, Discrimination, Outcome, PairedComparison, QualityGrades
from .verdict import Verdict

MOST_NAMED = 3
RARELY = 0.0001  # below it a chance is told as a bound
NOTHING = 1e-9  # what sums of grades leave of a mean that is 0
TAKEN_AWAY = "by itself that is enough, taken together with the other plans it is not"
OTHER_SIDE = "on the other side than planned"

W = TypeVar("W", BallotWord, RatedWord, WordOfMany)


def how_often(chance: float) -> str:
    """A probability as so many of so many: "about 4 of 100"."""
    if chance < RARELY:
        return "fewer than 1 of 10,000"
    of = 100 if chance >= 0.0095 else 1000 if chance >= 0.00095 else 10_000
    return f"about {round(chance * of)} of {of:,}"


def number_of(count: int, what: str) -> str:
    """So many of a thing: "1 trial", "2 trials"."""
    return f"{count:,} {what}{'' if count == 1 else 's'}"


def chance_of_finding(power: float, digits: int = 2) -> str:
    """A power to so many decimals; never 1, since no number of trials finds it for sure.

    >>> chance_of_finding(0.7976), chance_of_finding(0.9988), chance_of_finding(0.9988, 4)
    ('0.80', 'more than 0.99', '0.9988')
    """
    told = f"{power:.{digits}f}"
    return told if told.startswith("0") else f"more than 0.{'9' * digits}"


def size(value: float, decimals: int = 1) -> str:
    """A size without its sign: two digits where so many decimals would leave fewer of it.

    >>> size(1.26), size(-0.0475), size(0.5), size(0.0), size(0.1), size(0.996)
    ('1.3', '0.048', '0.5', '0.0', '0.1', '1.0')
    """
    least = abs(value)
    if least < NOTHING or least >= 10 ** (1 - decimals):
        return f"{0.0 if least < NOTHING else least:.{decimals}f}"
    told = f"{least:.{1 - floor(log10(least))}f}"
    whole, parts = told.split(".")
    return f"{whole}.{parts[:decimals]}{parts[decimals:].rstrip('0')}"


def heard_alone(verdict: Verdict) -> bool:
    """Whether it was heard by itself, and the plans on the same question take that away."""
    found = verdict.together
    return verdict.verdict == NOT_SHOWN and found is not None and found.alone == HEARD


def listed(names: list[str]) -> str:
    """Names in a row: "Ada, Bo and Cy"."""
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def who(found: Outcome) -> list[str]:
    """Whose answers the result rests on; where nobody's count, who answered."""
    if isinstance(found, QualityGrades):
        return list(found.kept)
    answered = [one for one in found.listeners if one.answered]
    return [one.listener for one in answered if one.counted != 0] or [one.listener for one in answered]


def preferred(verdict: Verdict) -> str:
    """Who preferred which of two to which, in how many of all their trials, ties too; empty where that was not shown.

    Where it was asked otherwise than which is preferred, which one was chosen.
    """
    found, plan = verdict.count, verdict.plan
    if found is None or verdict.preferred is None:
        return ""
    first, second = (setup.name for setup in plan.setups)
    for_first, for_second = found.choices or (found.correct, found.counted - found.correct)
    trials = number_of(for_first + for_second + (found.ties or 0), "trial")
    likes = plan.question == plan.method.default_question
    one, other, times = (first, second, for_first) if verdict.preferred == first else (second, first, for_second)
    told = f"{one} {'to' if likes else 'rather than'} {other} in {times} of {trials}"
    by = _by(verdict, found).removeprefix(" by ")
    if not by:
        return f"{one} was {'preferred to' if likes else 'chosen rather than'} {other} in {times} of {trials}"
    return f"{by} {'preferred' if likes else 'chose'} {told}"


def answered(found: Outcome, verdict: Verdict) -> str:
    """How a heard or not shown result was answered, without a full stop."""
    return _answered(found, verdict)


@singledispatch
def _answered(found: Outcome, verdict: Verdict) -> str:
    raise NotImplementedError(type(found).__name__)


@_answered.register
def _(found: Discrimination, verdict: Verdict) -> str:
    said = _count(found, verdict)
    if heard_alone(verdict):
        return f"{said}; {TAKEN_AWAY}"
    if found.sequential is None and not found.complete:
        heard = "have been shown" if verdict.plan.method.asks_preference else "have been heard"
        would = heard if verdict.verdict == HEARD else "not have been shown"
        return f"{said} before it was closed; whichever way the missing ones had gone, it would {would}"
    if found.sequential is not None and found.sequential.stopped_after < found.sequential.most:
        said += " when its own rule stopped it"
    if verdict.verdict == HEARD:
        return f"{said}; {_by_chance(found, verdict)}"
    if not found.counted:
        return said
    plan = verdict.plan
    foreseen = plan.method.asks_preference and plan.alternative == "greater"
    if found.sequential is not None:
        return f"{said}, {OTHER_SIDE if foreseen and 2 * found.correct < found.counted else 'which is not enough'}"
    if found.criterion is None:
        return f"{said}, and no number would have been enough"
    side = " for one side" if plan.method.asks_preference else ""
    side = f" for {plan.setups[0].name}" if foreseen else side
    return f"{said}; {found.criterion}{side} {'was' if found.criterion == 1 else 'were'} needed"


def _count(found: Discrimination, verdict: Verdict) -> str:
    """How many of how many trials were answered how, and by whom."""
    plan, by = verdict.plan, _by(verdict, found)
    trials = number_of(found.counted, "trial")
    if not plan.method.asks_preference:
        were = "was" if found.correct == 1 or found.counted == 1 else "were"
        return f"{found.correct} of {trials} {were} answered rightly{by}"
    if not found.counted:
        return f"Every answer{by} was a tie"
    chosen = _chosen([setup.name for setup in plan.setups], *(found.choices or ()))
    return f"In {trials} {chosen}{by}{_ties_beside(found, verdict)}"


def _chosen(names: list[str], first: int = 0, second: int = 0) -> str:
    """How often each of two was chosen, ties apart."""
    if 1 in (first, second):
        often = ["once" if number == 1 else f"{number} times" for number in (first, second)]
        return f"{names[0]} was chosen {often[0]} and {names[1]} {often[1]}"
    return f"{names[0]} was chosen {first} and {names[1]} {second} times"


def _ties_beside(found: Discrimination, verdict: Verdict) -> str:
    """The ties beside the choices: how they count, and who gave nothing else."""
    if not found.ties:
        return ""
    told = number_of(found.ties, "tie")
    if found.ties_policy == "split":
        return f" ({told}, counted {halved(found.ties)})"
    names = [one.listener for one in found.listeners if one.answered and one.counted == 0]
    whose = listed(names) if len(names) <= MOST_NAMED else f"{len(names)} more listeners"
    among = f", every answer of {whose} among them" if names and not verdict.rehearsal else ""
    return f" ({told} {'is' if found.ties == 1 else 'are'} left out{among})"


def halved(ties: int) -> str:
    """Where ties count that are not left out."""
    if ties == 1:
        return "where it helps least"
    return f"half for each side{', the odd one where it helps least' if ties % 2 else ''}"


def _by_chance(found: Discrimination, verdict: Verdict) -> str:
    """How seldom chance alone comes to as much, or, of a sequential plan, to being heard."""
    plan = verdict.plan
    preference = plan.method.asks_preference
    if found.sequential is not None:
        often = how_often(found.sequential.alpha_real)
        what = "were neither preferred, it would be shown" if preference else "guessing alone is heard"
        return f"{what} in {often} such tests"
    assert found.p_value is not None
    often = how_often(found.p_value)
    if not preference:
        return f"guessing alone does as well in {often} such tests"
    as_much = f"as many for {plan.setups[0].name}" if plan.alternative == "greater" else "a split as uneven"
    return f"were neither preferred, {as_much} would come up in {often} such tests"


@_answered.register
def _(found: DifferenceGrades, verdict: Verdict) -> str:
    assert found.every is not None
    assert found.p_value is not None
    mean = found.every.mean
    lay = "level with the other"
    if abs(mean) >= NOTHING:
        lay = f"{size(mean)} grades {'above' if mean < 0 else 'below'} the other"
    said = f"Graded{_by(verdict, found) or ' blind'}, the hidden reference lay {lay} on average"
    if heard_alone(verdict):
        return f"{said}; {TAKEN_AWAY}"
    if verdict.verdict == NOT_SHOWN:
        if _beyond_reach(found, verdict):
            return f"{said}; no grades would have been enough with so few trials"
        return f"{said}, {OTHER_SIDE if mean >= NOTHING else 'which is not enough'}"
    return f"{said}; chance alone does as much in {how_often(found.p_value)} such tests"


@_answered.register
def _(found: QualityGrades, verdict: Verdict) -> str:
    setups = [setup.name for setup in verdict.plan.setups]
    graded = ", ".join(f"{name}: {found.summaries[name].median:g}" for name in setups if name in found.summaries)
    said = f"The middle grades given{_by(verdict, found)}, out of 100: {graded}"
    if heard_alone(verdict):
        return f"{said}; {TAKEN_AWAY}"
    if verdict.verdict == NOT_SHOWN:
        few = "no grades would have been enough with so few trials"
        return f"{said}; {few if _beyond_reach(found, verdict) else 'no two were graded clearly enough apart'}"
    apart = [" and ".join(pair.setups) for pair in found.pairs if pair.p_holm <= verdict.plan.alpha]
    return f"{said}; graded apart: {', '.join(apart)}"


@_answered.register
def _(found: PairedComparison, verdict: Verdict) -> str:
    chosen = ", ".join(f"{name}: {won}" for name, won in sorted(found.totals.items(), key=lambda item: -item[1]))
    said = f"Chosen{_by(verdict, found)} of {number_of(found.answered, 'comparison')}: {chosen}"
    if heard_alone(verdict):
        return f"{said}; {TAKEN_AWAY}"
    if verdict.verdict == NOT_SHOWN or found.p_value is None:
        few = "; no choices would have been enough with so few comparisons"
        return f"{said}{few if _beyond_reach(found, verdict) else ''}"
    return f"{said}; were all liked alike, as uneven a result would come up in {how_often(found.p_value)} such tests"


@_answered.register
def _(found: WordBallots, verdict: Verdict) -> str:
    words = _named(found.separating(verdict.plan.alpha), verdict)
    none = f"none of {len(found.words)} words was said clearly more often of one of the two"
    return _of_words(found, verdict, none, [(one, _said_of(one, found)) for one in words])


@_answered.register
def _(found: WordRatings, verdict: Verdict) -> str:
    words = _named(found.separating(verdict.plan.alpha), verdict)
    none = f"none of {len(found.words)} words was rated clearly higher of one of the two"
    return _of_words(found, verdict, none, [(one, _rated_of(one, found)) for one in words])


@_answered.register
def _(found: WordsOfMany, verdict: Verdict) -> str:
    words = _named(found.separating(verdict.plan.alpha), verdict)
    none = f"none of {len(found.words)} words clearly told the {len(found.setups)} apart"
    return _of_words(found, verdict, none, [(one, _of_many(one, found)) for one in words])


def _named(words: Sequence[W], verdict: Verdict) -> list[W]:
    """The words of a ballot that are told: what it is heard in, or where it is not heard what it bears by itself."""
    return [one for one in words if verdict.verdict != HEARD or one.word in verdict.words_named]


def _of_words(
    found: WordBallots | WordRatings | WordsOfMany,
    verdict: Verdict,
    none: str,
    told: Sequence[tuple[BallotWord | RatedWord | WordOfMany, str]],
) -> str:
    """What a ballot came to: `none` of its words, or those that are `told`, each in words, the plainest first."""
    said = f"In {number_of(found.answered, 'trial')}{_by(verdict, found)}"
    if not told:
        return f"{said} {none}"
    ranked = sorted(told, key=lambda one: one[0].p_value or 0.0)
    plainest = [words for _, words in ranked[:MOST_NAMED]]
    more = f"; and {len(told) - MOST_NAMED} more" if len(told) > MOST_NAMED else ""
    said = f"{said}, {'; '.join(plainest)}{more}"
    if heard_alone(verdict):
        return f"{said}; {TAKEN_AWAY}"
    return f"{said}; {_as_clear_by_chance([one for one, _ in ranked], found.words)}"


def _as_clear_by_chance(
    told: Sequence[BallotWord | RatedWord | WordOfMany], words: Sequence[BallotWord | RatedWord | WordOfMany]
) -> str:
    """How seldom chance alone makes any word as clear as those `told`, the plainest first; each has its own.

    As Holm's correction takes them: the clearest among all words, each further one among those that are left.
    """
    every = [one.p_value for one in words if one.p_value is not None]
    if len({one.p_value for one in told}) == 1:
        often = how_often(min(1.0, len(every) * min(every)))
        return f"chance alone does as much for any of {len(every)} words in {often} such tests"
    alike: dict[float, list[str]] = {}
    for one in told[:MOST_NAMED]:
        alike.setdefault(one.p_value or 0.0, []).append(f'"{one.word}"')
    parts = list[str]()
    for p, names in alike.items():
        left = sum(own >= p for own in every)
        of = f"any of {left} words" if not parts else f"any of the {left} others" if left > 1 else "the other"
        often = f"{how_often(min(1.0, left * p))}{'' if parts else ' such tests'}"
        parts.append(f"{of} as clear as {listed(names)} in {often}")
    return f"chance alone makes {listed(parts)}"


def _of_many(one: WordOfMany, found: WordsOfMany) -> str:
    """How a word was spread over the setups, the one that got it most first."""
    spread = sorted(zip(one.means, found.setups, strict=True), reverse=True)
    how = "rated" if found.rated else "ticked"
    each = ", ".join(f"{name}: {mean:.1f}" if found.rated else f"{name}: {100 * mean:.0f} %" for mean, name in spread)
    return f'"{one.word}" was not {how} alike ({each})'


def _rated_of(one: RatedWord, found: WordRatings) -> str:
    """Of which of the two a word was rated higher, and both means."""
    more, less = max(one.first_mean, one.second_mean), min(one.first_mean, one.second_mean)
    higher = found.setups[one.second_mean > one.first_mean]
    return f'"{one.word}" was rated higher of {higher}, {more:.1f} to {less:.1f} on average'


def _said_of(one: BallotWord, found: WordBallots) -> str:
    """Of which of the two a word was said more often, and how often of either alone."""
    more, less = max(one.first_only, one.second_only), min(one.first_only, one.second_only)
    return f'"{one.word}" was said of {found.setups[one.second_only > one.first_only]} more often, {more} to {less}'


def _beyond_reach(found: Outcome, verdict: Verdict) -> bool:
    """Whether no answers to these trials could have been heard."""
    return found.least_p is not None and found.least_p > verdict.plan.alpha


def _by(verdict: Verdict, found: Outcome) -> str:
    """By whom; of a rehearsal it is nobody's."""
    names = who(found)
    if verdict.rehearsal:
        return ""
    return f" by {listed(names)}" if len(names) <= MOST_NAMED else f" by {len(names)} listeners"
