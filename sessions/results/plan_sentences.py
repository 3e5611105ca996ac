"""A plan in words, as it is or would be sealed: for the command line and the desk alike. Pure; it knows no answer."""

from __future__ import annotations

from ..plans import standing_words
from ..plans.plan import Plan, void_reasons
from ..preparation.measures_in_words import by_in_words
from . import sentences


def in_words(made: Plan, *, told: bool = False) -> list[str]:
    """A plan in sentences, each on a line; what belongs to the first is set in.

    `told`: what was found of its passages was told before, and is not told again.
    """
    lines: list[str] = []
    say = lines.append
    names = standing_words.compared([setup.name for setup in made.setups])
    say(f"Plan {made.name!r}: {made.method.name}, {names}. {made.question}")
    names = ", ".join(listener.name for listener in made.listeners)
    whom = f"each of {len(made.listeners)} listeners ({names})" if len(made.listeners) > 1 else names
    say(f"  {made.trials} trials for {whom}; passages: {', '.join(passage.name for passage in made.passages)}")
    if made.controls:
        are, do = ("is a control", "it does") if made.controls == 1 else ("are controls", "they do")
        say(f"  {_more(made.controls)} {are}: everything is the same setup, and {do} not count.")
    if made.known:
        hold, do = ("holds", "it does") if made.known.trials == 1 else ("hold", "they do")
        off = "" if made.known.is_step else f" (level {made.known.residual_lu} LU off at most)"
        say(f"  {_more(made.known.trials)} {hold} a known difference, {made.known.in_words}{off}, and {do} not count.")
        say(f"  In all that makes {made.slots} trials for each listener.")
    for line in sentences.planned(made):
        say(f"  {line}")
    for earlier in made.earlier:
        say(f"  The same question was asked before, in plan {earlier.name!r}; the verdicts are shown together.")
    match = made.match
    if match.sheet is not None:
        say(
            f"  Level match: {match.residual_lu} LU left of {match.tolerance_lu} allowed; what was "
            f"made equal: {by_in_words(match.by)}."
        )
    if match.balance_db is not None:
        say(f"  Balance of the channels: {match.balance_db} dB apart of {match.balance_limit_db} allowed.")
    if match.unjudged_in_words:
        say(f"  {match.unjudged_in_words}")
    if match.balance_accepted:
        say(f"  Accepted balance: {match.balance_db} dB apart (because: {match.balance_accepted})")
    for giveaway in made.accepted_giveaways:
        say(f"  Accepted giveaway in {giveaway.passage}: {giveaway.what} (because: {giveaway.why})")
    reasons = void_reasons(made, in_short=told)
    if len(reasons) == 1:
        say(f"  Would be VOID: {reasons[0]}.")
    elif reasons:
        say("  Would be VOID:")
        for reason in reasons:
            say(f"    {reason}.")
    return lines


def _more(trials: int) -> str:
    return "1 more trial" if trials == 1 else f"{trials} more trials"
