"""Where passages and listeners stand, in a few words: for the command line and the desk alike. Pure."""

from __future__ import annotations

from .standings import ListenerProgress, PassageStanding

MATCHES = {
    "none": "not matched",
    "ok": "matched",
    "off": "NOT equally loud",
    "outdated": "match again: something changed",
}


def match_words(one: PassageStanding) -> str:
    """The state of a passage's level match, in words."""
    if one.match == "off":
        return f"{MATCHES['off']}: {one.residual_lu:.2f} LU left"
    hidden = one.match == "ok" and one.balance_hides_db is not None
    return f"{MATCHES[one.match]}; balance not judged" if hidden else MATCHES[one.match]


def check_words(one: PassageStanding) -> str:
    """The state of a passage's giveaway check, in words."""
    found = {"none": "not checked", "clean": "none found"}.get(one.check, f"{one.giveaways} FOUND")
    return f"{found}; see note" if one.notes else found


def progress_words(one: ListenerProgress) -> str:
    """How far a listener is."""
    if one.complete:
        return f"{one.name}: all answered"
    if one.begun and not one.answered:
        return f"{one.name}: begun, nothing answered yet, {_counted(one.trials, 'trial')}"
    if not one.answered:
        return f"{one.name}: not begun" + (f", {_counted(one.trials, 'trial')}" if one.trials else "")
    return f"{one.name}: {one.answered} of {_counted(one.trials, 'trial')} answered"


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
