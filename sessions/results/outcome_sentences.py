"""The numbers of an outcome in plain sentences, by its kind. Pure."""

from __future__ import annotations

from collections.abc import Sequence, Set
from functools import singledispatch
from statistics import median

from stats.estimates import PValue
from stats.intervals import Interval
from stats.same_different import SameDifferent

from ..plans.methods.hidden_reference import IMPAIRMENT
from ..plans.methods.multi_stimulus import QUALITY
from ..plans.plan import Plan
from ..plans.standing_words import counted
from .answers import FEWEST
from .ballot_outcomes import BallotWord, RatedWord, WordBallots, WordOfMany, WordRatings, WordsOfMany
from .how_answered import NOTHING, halved, number_of, size
from .outcome import (
    CouldHaveBeen,
    DifferenceGrades,
    Discrimination,
    Outcome,
    PairedComparison,
    QualityGrades,
    SequentialEnd,
)
from .supplementary_sentences import estimated, p_is


def numbers(plan: Plan, found: Outcome, words_heard: Set[str] = frozenset()) -> list[str]:
    """The numbers, the planned test's first; a word's side is told only of those that the verdict holds heard."""
    if isinstance(found, WordBallots):
        return _of_ticks(found, plan, words_heard)
    if isinstance(found, WordRatings):
        return _of_ratings(found, plan, words_heard)
    return _numbers(found, plan)


def percent(share: float) -> str:
    """A share as it is said."""
    return f"{100 * share:.0f} %"


@singledispatch
def _numbers(found: Outcome, plan: Plan) -> list[str]:
    raise NotImplementedError(type(found).__name__)


@_numbers.register
def _(found: Discrimination, plan: Plan) -> list[str]:
    lines = []
    if found.sequential is not None:
        lines.append(_sequential(found, found.sequential, plan))
    elif found.could_have_been is not None:
        lines += _closed_early(found, found.could_have_been, plan)
    elif found.interval is None:
        lines.append("Every answer was a tie, and ties are left out, as planned: nothing is left to be tested.")
    else:
        lines.append(
            f"{_count(found, plan)} ({_needed(found, plan)}), {p_value(found)} at alpha {_alpha(plan)}; proportion "
            f"{_ends(found.interval)} (95 % exact), d' {_d_prime(found)}."
        )
    if found.ties and found.interval is not None:
        lines.append(_ties(found.ties, found.ties_policy))
    if found.same_different is not None:
        lines.append(_cells(found.same_different, told=found.complete))
    return lines


def p_value(found: Outcome) -> str:
    """An outcome's p-value as it is said; of a plan closed early it is a bound."""
    if found.p_value is None:
        return "no test"
    if found.complete:
        return p_is(found.p_value)
    return p_is(found.p_value) if found.p_value < 0.0001 else f"p at most {found.p_value:.4f}"


def _count(found: Discrimination, plan: Plan) -> str:
    how = f"for {plan.setups[0].name}" if plan.method.asks_preference else "right"
    halved = ", ties halved" if found.ties and found.ties_policy == "split" else ""
    return f"{found.correct} of {found.counted} {how}{halved}"


def _needed(found: Discrimination, plan: Plan) -> str:
    if found.criterion is None:
        return "no count could reach the criterion"
    if plan.method.asks_preference and plan.alternative == "two-sided":
        return f"{found.criterion} for one side needed"
    return f"{found.criterion} needed"


def _alpha(plan: Plan) -> str:
    return str(plan.document["alpha"])


def _ends(interval: Interval) -> str:
    return f"{interval.low:.2f} to {interval.high:.2f}"


def _d_prime(found: Discrimination) -> str:
    return "beyond what can be estimated" if found.d_prime is None else f"{found.d_prime:.2f}"


def _sequential(found: Discrimination, end: SequentialEnd, plan: Plan) -> str:
    if not found.complete or found.interval is None:
        return f"{_count(found, plan)} when it was closed, after {end.stopped_after} of at most {end.most} trials."
    how = f"stopped by its {end.rule} boundary after" if end.stopped_after < end.most else f"ended ({end.rule}) at"
    return (
        f"{_count(found, plan)}: {how} {end.stopped_after} of at most {end.most} trials, {p_value(found)} at alpha "
        f"{_alpha(plan)} (real error rate {end.alpha_real:.4f}); proportion {_ends(found.interval)} (95 % at any "
        f"stopping), d' {_d_prime(found)}."
    )


def _closed_early(found: Discrimination, could: CouldHaveBeen, plan: Plan) -> list[str]:
    answered = "Nothing but ties" if not found.counted else _count(found, plan)
    when = ", when" if answered.endswith("halved") else " when"
    missing = "1 trial is missing" if could.missing == 1 else f"{could.missing} trials are missing"
    needed = "" if plan.ties == "drop" else f" ({_needed(found, plan)})"
    assert found.interval is not None
    return [
        f"{answered}{when} it was closed; {missing} of the {found.trials} planned.",
        f"Whichever way those could have gone: between {could.least.for_first} of {could.least.trials} and "
        f"{could.most.for_first} of {could.most.trials}{needed}, {p_value(found)} at alpha {_alpha(plan)}, proportion "
        f"{_ends(found.interval)} (95 % exact).",
    ]


def _ties(ties: int, policy: str) -> str:
    answers = "1 answer was a tie" if ties == 1 else f"{ties} answers were ties"
    if policy == "drop":
        return f"{answers}: left out, as planned."
    return f"{answers}: counted {halved(ties)}, as planned."


def _cells(cells: SameDifferent, *, told: bool) -> str:
    """The cells; what is estimated from them only of a plan that ran to its end, and of enough answers."""
    counts = (
        f'"Different" was said in {cells.hits} of {cells.different_trials} different and in '
        f"{cells.false_alarms} of {cells.same_trials} same trials"
    )
    if not told or min(cells.different_trials, cells.same_trials) < FEWEST:
        return f"{counts}."
    return (
        f"{counts}; d' {cells.d_prime:.2f} (differencing {cells.d_prime_differencing:.2f}), leaning "
        f"{_leaning(cells.bias)}."
    )


def _leaning(bias: float) -> str:
    if abs(bias) < 0.1:
        return "to neither side"
    return f'to "{"same" if bias > 0 else "different"}" ({bias:+.2f})'


@_numbers.register
def _(found: DifferenceGrades, plan: Plan) -> list[str]:
    every = found.every
    if found.answered < FEWEST:
        shown = ", ".join(f"{grade:+.1f}" for grade in found.differences)
        said = f"{'Difference grades' if len(found.differences) > 1 else 'Difference grade'} {shown}"
    elif every is None:
        low, high = min(found.differences), max(found.differences)
        said = f"Difference grades {low:+.1f} to {high:+.1f}, median {median(found.differences):+.1f},"
    else:
        interval = ""
        if every.low is not None and every.high is not None:
            most = float(IMPAIRMENT.high - IMPAIRMENT.low)
            interval = f" (95 % {max(every.low, -most):.2f} to {min(every.high, most):.2f})"
        mean = f"{'-' if every.mean <= -NOTHING else ''}{size(every.mean, 2)}"
        said = f"Mean difference grade {mean}{interval} over {number_of(found.answered, 'trial')}"
    if every is None:
        return [f"{said} in the {_trials(found)}; no test."]
    lines = [f"{said}, {p_value(found)} (exact randomisation test) at alpha {_alpha(plan)}."]
    others = [name for name, own in found.by_listener.items() if own.p_value is not None and name not in found.experts]
    if found.experts:
        lines.append(
            "Found the reference, each tested by themselves without correction (one-sided exact randomisation test, "
            f"5 %): {', '.join(found.experts)}."
        )
    if others:
        lines.append(
            f"Not shown to have found it: {', '.join(others)}; their grades count in the test, and say little by "
            "themselves."
        )
    return lines


def _trials(found: Outcome) -> str:
    return f"{counted(found.answered, 'trial')} answered of {found.trials}"


@_numbers.register
def _(found: QualityGrades, plan: Plan) -> list[str]:
    if not found.complete:
        lines = [f"Grades of the {_trials(found)}, nobody screened; no test."]
        return lines + [f"{name}: {_listed(grades)}." for name, grades in found.grades.items()]
    lines = []
    for name, own in found.summaries.items():
        if own.grades < FEWEST:
            lines.append(f"{name}: {_listed(found.grades[name])}.")
            continue
        interval = ""
        if own.low is not None and own.high is not None and own.low < own.high:
            ends = f"{max(own.low, QUALITY.low):.0f} to {min(own.high, QUALITY.high):.0f}"
            interval = f", mean {own.mean:.0f} ({ends})"
        lines.append(f"{name}: median {own.median:g} (hinges {own.q1:.0f} to {own.q3:.0f}){interval}.")
    for pair in found.pairs:
        lines.append(
            f"{' against '.join(pair.setups)}: permutation {estimated(PValue(pair.p_value, pair.p_draws))}, with "
            f"Holm's correction {p_is(pair.p_holm)}."
        )
    for listener, why in found.excluded.items():
        lines.append(f"Left out by post-screening, as planned: {listener}, who {why}.")
    for listener, why in found.missed_reference.items():
        lines.append(f"Not left out, as planned, but to be known: {listener} {why}.")
    return lines


def _listed(grades: Sequence[float]) -> str:
    if len(grades) >= FEWEST:
        return f"grades {min(grades):.0f} to {max(grades):.0f}, median {median(grades):.0f}"
    return ("graded " if len(grades) == 1 else "grades ") + ", ".join(f"{grade:.0f}" for grade in grades)


@_numbers.register
def _(found: PairedComparison, plan: Plan) -> list[str]:
    chosen = ", ".join(f"{name}: {won}" for name, won in sorted(found.totals.items(), key=lambda item: -item[1]))
    if not found.complete:
        return [f"Chosen in the {_trials(found)}: {chosen}; no test."]
    tested = p_value(found) if found.p_value is None else estimated(PValue(found.p_value, found.p_draws))
    lines = [f"Chosen of {found.answered} comparisons: {chosen}; all alike: {tested} at alpha {_alpha(plan)}."]
    return lines if found.answered < FEWEST else lines + _beside_pairs(found)


def _beside_pairs(found: PairedComparison) -> list[str]:
    lines = []
    fit = found.abilities
    if fit is not None:
        shares = ", ".join(f"{name}: {share:.2f}" for name, share in zip(found.setups, fit.shares, strict=True))
        lines.append(f"Bradley-Terry shares: {shares}.{' ' + fit.note + '.' if fit.note else ''}")
        if fit.order is not None and fit.order_error is not None and fit.order_p is not None:
            lines.append(f"Being heard first: ln odds {fit.order:+.2f} (± {fit.order_error:.2f}), {p_is(fit.order_p)}.")
    for listener, own in found.consistency.items():
        if own is not None:
            lines.append(
                f"{listener}: {own.circles} circular triads of at most {own.most}, consistency {own.consistency:.2f}."
            )
    ranked = []
    if found.durbin is not None:
        ranked.append(f"Durbin's test {p_is(found.durbin.p_value)}")
    if found.friedman is not None:
        ranked.append(f"Friedman's over the listeners {p_is(found.friedman.p_value)}")
    if ranked:
        lines.append(f"By ranks, as an approximation: {'; '.join(ranked)}.")
    agreed = found.agreement
    if agreed is not None:
        lines.append(f"Agreement of listeners (Kendall's u): {agreed.u:.2f}; 1 is full, {agreed.least:.2f} least.")
    return lines


CONTROLS = "In the controls, where both were the same setup"


def _of_ticks(found: WordBallots, plan: Plan, heard: Set[str]) -> list[str]:
    first = _of_all_words(found, plan, "Ticks", "an exact test")
    return [first, *(_ballot_word(one, found, heard) for one in found.words)]


def _of_all_words(found: WordBallots | WordRatings | WordsOfMany, plan: Plan, what: str, test: str) -> str:
    """By which test the words of a ballot were judged, and the smallest p; that there was none while trials lack."""
    if not found.complete:
        return f"{what} of the {_trials(found)}; no test."
    return (
        f"{what} of {counted(found.answered, 'trial')}, each word by {test} with Holm's correction over "
        f"{len(found.words)} words, at alpha {_alpha(plan)}; the smallest: {p_value(found)}."
    )


def _ballot_word(one: BallotWord, found: WordBallots, heard: Set[str]) -> str:
    first, second = found.setups
    counts = f"{one.word}: of {first} alone {one.first_only}, of {second} alone {one.second_only}, of both {one.both}"
    if not one.first_only + one.second_only + one.both:
        counts = f"{one.word}: ticked of neither"
    tested = ""
    if one.p_value is not None and one.p_holm is not None:
        tested = f"; {p_is(one.p_value)}, with Holm's correction {p_is(one.p_holm)}"
        tested += f", more often of {found.setups[one.second_only > one.first_only]}" if one.word in heard else ""
    if one.flips is None:
        return f"{counts}{tested}."
    low, high = percent(one.flips.interval.low), percent(one.flips.interval.high)
    flips = f"{counts}{tested}. {CONTROLS}, it was ticked of one alone in {one.flips.flips} of "
    flips += counted(one.flips.pairs, "trial")
    as_often = ": AS OFTEN as between the two" if one.noisy else ""
    return f"{flips} (95 %: {low} to {high} of such trials){as_often}."


def _of_ratings(found: WordRatings, plan: Plan, heard: Set[str]) -> list[str]:
    first = _of_all_words(found, plan, "Ratings", "an exact permutation test")
    return [first, *(_rated_word(one, found, heard) for one in found.words)]


def _rated_word(one: RatedWord, found: WordRatings, heard: Set[str]) -> str:
    first, second = found.setups
    said = (
        f"{one.word}: of {first} {one.first_mean:.1f} on average, of {second} {one.second_mean:.1f}; higher of {first} "
        f"in {one.first_higher}, of {second} in {one.second_higher} of {counted(one.trials, 'trial')}"
    )
    if one.p_value is not None and one.p_holm is not None:
        said += f"; {p_is(one.p_value)}, with Holm's correction {p_is(one.p_holm)}"
        said += f", higher of {found.setups[one.second_mean > one.first_mean]}" if one.word in heard else ""
    if one.flips is None or one.noise is None:
        return f"{said}."
    changed = f"{said}. {CONTROLS}, its ratings differed in {one.flips.flips} of {counted(one.flips.pairs, 'trial')}"
    as_much = ": AS MUCH as between the two" if one.noisy else ""
    return f"{changed}, by {one.noise:.1f} points on average{as_much}."


@_numbers.register
def _(found: WordsOfMany, plan: Plan) -> list[str]:
    test = f"a permutation test of all {len(found.setups)} setups"
    first = _of_all_words(found, plan, "Ratings" if found.rated else "Ticks", test)
    if found.complete:
        first += " It says that not all got a word alike, and not which differs from which."
    return [first, *(_word_of_many(one, found) for one in found.words)]


def _word_of_many(one: WordOfMany, found: WordsOfMany) -> str:
    each = ", ".join(
        f"{name}: {mean:.1f}" if found.rated else f"{name}: {round(mean * one.trials)}"
        for name, mean in zip(found.setups, one.means, strict=True)
    )
    of = ", on average" if found.rated else f" of {counted(one.trials, 'trial')}"
    said = f"{one.word}: {each}{of}"
    if one.p_value is not None and one.p_holm is not None:
        said += f"; {estimated(PValue(one.p_value, one.p_draws))}, with Holm's correction {p_is(one.p_holm)}"
    if one.q is not None and one.q_p is not None:
        said += f"; Cochran's Q {one.q:.2f}, as an approximation {p_is(one.q_p)}"
    if one.flips is None:
        return f"{said}."
    return f"{said}. Where all were the same, it changed in {one.flips.flips} of {counted(one.flips.pairs, 'trial')}."
