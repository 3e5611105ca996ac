"""Where passages, plans and listeners stand, in a few words: for the command line and the desk alike. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from .standings import LeftOutStanding, ListenerProgress, PassageStanding

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
    found = {"none": "not checked", "clean": "none found"}.get(one.check) or _found(one)
    return f"{found}; see note" if one.notes else found


def _found(one: PassageStanding) -> str:
    """How many giveaways of which kinds a passage has, and which of them are accepted."""
    kinds = f": {', '.join(one.found)}" if one.found else ""
    if one.found and set(one.found) <= set(one.accepted):
        return f"{one.giveaways} accepted{kinds}"
    accepted = f" ({', '.join(one.accepted)} accepted)" if one.accepted else ""
    return f"{one.giveaways} FOUND{kinds}{accepted}"


def progress_words(one: ListenerProgress) -> str:
    """How far a listener is."""
    if one.complete:
        return f"{one.name}: all answered"
    if one.begun and not one.answered:
        return f"{one.name}: begun, nothing answered yet, {counted(one.trials, 'trial')}"
    if not one.answered:
        return f"{one.name}: not begun" + (f", {counted(one.trials, 'trial')}" if one.trials else "")
    return f"{one.name}: {one.answered} of {counted(one.trials, 'trial')} answered"


def compared(setups: Sequence[str]) -> str:
    """The setups of a plan, by their names."""
    return (" against " if len(setups) == 2 else ", ").join(setups)


def published(places: Sequence[str]) -> str:
    """Where a seal is said to be published."""
    return f"published: {', '.join(places)}" if places else "not noted as published"


def left_out(one: LeftOutStanding) -> str:
    """What of a track a comparison left out."""
    return one.track if one.whole else f"a moment of {one.track}"


def to_the_minute(at: str) -> str:
    """A moment of the record (ISO 8601, UTC) as people read it.

    >>> to_the_minute("2026-03-01T20:15:07.120Z")
    '2026-03-01 20:15'
    """
    return at[:16].replace("T", " ")


def counted(number: int, what: str) -> str:
    """How many of something there are.

    >>> counted(1, "trial"), counted(2, "trial")
    ('1 trial', '2 trials')
    """
    return f"{number} {what}{'' if number == 1 else 's'}"
