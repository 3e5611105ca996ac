"""What is told of a viewers' test, in plain sentences. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from stats.count_summary import HEARD

from ..plans.answer_codes import Collected
from ..plans.viewers_rows import SealedTest
from ..plans.viewers_test import ViewersTest
from .how_answered import how_often, number_of
from .viewers_collecting import Part, ViewersResult
from .viewers_polling import PollResult

WHO_SENT = (
    "Who sent a code chose to. Nobody knew their score, so that this cannot have made a difference out of none; but "
    "shares and numbers are of those who sent one, not of all viewers."
)
WHO_SENT_A_PREFERENCE = (
    "Who sent a code chose to. Those who like one of the two more may have sent theirs more often: this can make a "
    "preference that viewers as a whole do not have, or hide one. Shares and numbers are of those who sent a code."
)
PAGE_LIMITS = (
    "On what they listened, how loud and in which room nobody saw. A small speaker or a loud room hides differences: "
    "what was not shown here may still be heard on good headphones.",
    "The page sends its sounds whole. What wireless headphones and the viewer's own settings do to them afterwards is "
    "not known; they may hide a difference or make it another one.",
    "Whoever opens the browser's tools can compare the sounds by computer, and may send more than one code: a few who "
    "cheat can make a difference out of none. Codes sent after the secret was told do not count.",
)
WHO_VOTED_A_PREFERENCE = (
    "Who voted chose to: those who like one of the two more may have voted more often, which can make a preference "
    "that viewers as a whole do not have, or hide one."
)
POLL_LIMITS = (
    "A video's sound is coded with loss on its way, and often made louder or quieter. That can hide a difference, or "
    "make one that the setups do not have; what was voted on is the sound as the platform gave it.",
    "Who voted chose to, some more than once, and could see how others voted. Votes are therefore not counted as so "
    "many independent answers: chance is that of the key alone, one coin a trial.",
    "On what they listened nobody knows: what was not shown here may still be heard on good headphones.",
)
LATE = (
    "The secret was told before: anyone could have made them, with as many right as they liked. For the verdict name "
    "those alone that were there when it was told."
)


def post(sealed: SealedTest) -> str:
    """A test's seal in one line that can be posted as it is."""
    test = sealed.test
    what = f"{test.orders} orders" if test.form == "page" else "one order"
    return (
        f"Sealed {sealed.at[:10]}: viewers' {test.form} of {test.trials} trials, {what}, seal {sealed.seal} "
        f"(earwitness, viewers' rule {test.document['rule']})"
    )


def description(sealed: SealedTest, moments: Sequence[str], loudness_lufs: float, true_peak_dbtp: float) -> str:
    """What belongs into the description of a video with the soundtrack."""
    test = sealed.test
    vote = (
        f"In each of {test.trials} trials you hear A, B and X. X is A or B again. Vote for each trial: A or B."
        if test.method == "abx"
        else f"In each of {test.trials} trials you hear two versions, 1 and 2. Vote for the one that you prefer."
    )
    lines = [
        "A blind test for you",
        "",
        vote,
        "Headphones on a cable hear most. Start quiet and turn up slowly.",
        "",
        post(sealed),
        "The order of all trials was fixed before anybody voted: it follows from a secret whose seal this is. The "
        "secret is told when the poll is over, and anybody can work the order out anew.",
        "",
        *moments,
        "",
        f"All versions are equally loud ({loudness_lufs:.1f} LUFS, true peak {true_peak_dbtp:.1f} dBTP, before the "
        "platform codes it).",
    ]
    return "\n".join(lines) + "\n"


def counted(collected: Collected) -> str:
    """How many codes there are, and how many were left out."""
    return (
        f"{number_of(len(collected.codes), 'answer code')}; left out: {collected.broken} broken, {collected.repeated} "
        f"repeated, {collected.of_others} of another test."
    )


def late_page(found: ViewersResult) -> list[str]:
    """The counts of codes that are not those of the end: no verdict and no test, as the key was known."""
    pooled, (first, second) = found.crowd.pooled, found.test.setups
    how = "were answered rightly" if found.test.method == "abx" else f"were for {first}"
    return [
        f"{number_of(found.crowd.listeners, 'viewer')}: no verdict on {first} and {second} from these.",
        f"{pooled.correct:,} of {pooled.trials:,} trials {how}.",
        LATE,
    ]


def late_poll(found: PollResult) -> list[str]:
    """The counts of votes that are not those of the end."""
    key, (first, second) = found.key, found.test.setups
    return [
        f"{number_of(key.votes, 'vote')}: no verdict on {first} and {second} from these.",
        f"{key.right:,} votes {_with_key(found.test)}.",
        LATE,
    ]


def page_result(found: ViewersResult) -> list[str]:
    """What the codes of a page come to: two plain lines first."""
    test, pooled = found.test, found.crowd.pooled
    first = test.setups[0]
    lines = [f"{number_of(found.crowd.listeners, 'viewer')}: {_found(found)}"]
    often = how_often(pooled.p_value)
    share = f"{100 * pooled.proportion:.1f} %"
    if test.method == "abx":
        lines.append(
            f"{pooled.correct:,} of {pooled.trials:,} trials were answered rightly ({share}; guessing gives 50 %): "
            f"guessing alone does as well in {often} such tests."
        )
    else:
        lines.append(
            f"{first} was preferred in {pooled.correct:,} of {pooled.trials:,} trials ({share}): were neither "
            f"preferred, as much would come up in {often} such tests."
        )
    sided = "one-sided" if test.method == "abx" else "two-sided"
    lines.append(
        f"Exact {sided} binomial test {_p(pooled.p_value)} at alpha {test.alpha:g}; proportion "
        f"{_percent(pooled.interval.low)} to {_percent(pooled.interval.high)} (95 % exact)."
    )
    if found.verdict != HEARD:
        lines.append("That does not show that they are equal.")
    lines += _spread(found)
    lines += _parts("By passage, looked at beside it", found.by_passage)
    lines += _parts("By what they say they listened on, looked at beside it", found.by_device)
    flags = found.flags
    if flags.disturbed or flags.inexact or flags.sides:
        lines.append(
            f"Of them had a trial disturbed and offered anew: {flags.disturbed}; a browser that did not play to "
            f"the bit: {flags.inexact}; left and right not as they should be: {flags.sides}. All are counted."
        )
    return [*lines, WHO_SENT if test.method == "abx" else WHO_SENT_A_PREFERENCE, *PAGE_LIMITS]


def _spread(found: ViewersResult) -> list[str]:
    spread, crowd = found.crowd.spread, found.crowd
    least = (
        f"At least {crowd.hearers:,} of these {number_of(crowd.listeners, 'viewer')} can hear it (95 % confidence, "
        "exact): had fewer heard every trial, and all others guessed, so many right would hardly have come about. How "
        "many can at most, no count tells."
    )
    if spread is None:
        return []
    differ = (
        "differ from one another" if spread.overdispersion_p <= 0.05 else "are not shown to differ from one another"
    )
    told = f"(beta-binomial, gamma {spread.gamma:.2f}, {_p(spread.overdispersion_p)})"
    if found.test.method != "abx":
        return [f"Viewers {differ} in what they prefer, beyond chance {told}."]
    right = " ".join(f"{number}:{count}" for number, count in enumerate(crowd.distribution))
    guessed = " ".join(f"{number}:{count:.0f}" for number, count in enumerate(crowd.by_guessing))
    return [
        f"How many had so many right: {right} (all guessing: {guessed}).",
        f"On average {_percent(spread.mu)} of the trials were truly heard (about {_percent(spread.mu_low)} "
        f"to {_percent(spread.mu_high)}); viewers {differ} beyond chance {told}.",
        *([least] if crowd.hearers else []),
    ]


def _parts(title: str, parts: Sequence[Part]) -> list[str]:
    if len(parts) < 2:
        return []
    rows = [
        f"  {part.name}: {part.pooled.correct} of {part.pooled.trials} ({number_of(part.viewers, 'viewer')}), "
        f"{100 * part.pooled.proportion:.1f} %, {_p(part.pooled.p_value)}, with Holm's correction {_p(part.p_holm)}"
        for part in parts
    ]
    return [f"{title}:", *rows]


def poll_result(found: PollResult) -> list[str]:
    """What the votes on a soundtrack come to: two plain lines first."""
    test, key, with_key = found.test, found.key, _with_key(found.test)
    lines = [
        f"{number_of(key.votes, 'vote')} in {test.trials} trials: {_found(found)}",
        f"{key.right:,} votes {with_key} ({100 * key.proportion:.1f} %); of all keys that the coins could have given, "
        f"{100 * key.p_value:.4g} % would have fitted as well: exact test {_p(key.p_value)} at alpha "
        f"{test.alpha:g}.",
    ]
    if found.verdict != HEARD:
        lines.append("That does not show that they are equal.")
    if key.least_p > test.alpha:
        lines.append(
            f"These votes could not have shown it whatever the key: the least p is {key.least_p:.3g}. More trials, not "
            "more voters, make it smaller."
        )
    lines += [f"  trial {trial}: {right} votes {with_key}, {wrong} not" for trial, right, wrong in found.each]
    lines.append(
        f"  If all votes were independent, which nobody can know, the binomial test would give "
        f"{_p(found.as_if_independent.p_value)} (95 % {_percent(found.as_if_independent.interval.low)} to "
        f"{_percent(found.as_if_independent.interval.high)})."
    )
    return [*lines, *(() if test.method == "abx" else (WHO_VOTED_A_PREFERENCE,)), *POLL_LIMITS]


def ended(sealed: SealedTest, same: bool) -> list[str]:
    """Whether what is counted is what was there when the secret was told."""
    opening = sealed.opening
    if opening is None or same:
        return []
    return [
        f"EXPLORATORY: these are not the {opening.answers} answers that were there when the secret was told "
        f"({opening.at[:10]}); whoever read it could have made some of them since."
    ]


def keys_of(test: ViewersTest) -> str:
    """How anybody checks an opened test."""
    return (
        f"The secret is told now: earwitness viewers record {test.id} > record.json; the rule, with a program that "
        "checks it: earwitness viewers rule, or viewers_sealing.md in the proof bundle (earwitness export OUT.zip "
        "--proof)."
    )


def _found(found: ViewersResult | PollResult) -> str:
    """What was heard or not; of a preference nothing is heard, it is shown or not, and for which of the two."""
    test, was_shown = found.test, found.verdict == HEARD
    first, second = test.setups
    if test.method == "abx":
        return f"a difference between {first} and {second} was {found.verdict.upper()}."
    if not was_shown:
        return f"a preference for one of {first} and {second} was NOT SHOWN."
    share = found.crowd.pooled.proportion if isinstance(found, ViewersResult) else found.key.proportion
    liked, other = (first, second) if share > 0.5 else (second, first)
    return f"a preference was SHOWN: {liked} to {other}."


def _with_key(test: ViewersTest) -> str:
    """What votes did that went with the key, or were for the first setup."""
    return "were right" if test.method == "abx" else f"were for {test.setups[0]}"


def _p(value: float) -> str:
    """A p-value; one that no number here can hold as what it is smaller than."""
    return f"p = {value:.4g}" if value > 1e-300 else "p < 1e-300"


def _percent(share: float) -> str:
    return f"{100 * share:.1f} %"
