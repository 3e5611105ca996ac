"""The viewers' tests of a plan as a report tells them: whether they are over, and what came of those that are.

Nothing of the answers is told before a test is over; then what was counted at its end is, and nothing that came later.
"""

from __future__ import annotations

from dataclasses import dataclass
from shlex import quote

from ..casebook.store import Casebook
from ..plans import answer_codes, viewers_rows
from ..plans.viewers_rows import SealedTest
from . import viewers_collecting, viewers_polling, viewers_told

BY_ITSELF = (
    "It is a test of its own, judged by itself: it is none of the review's primary questions, and no trial of a "
    "listener above counts in it."
)


@dataclass(frozen=True)
class Counts:
    """What the answers of a test that is over come to: right ones (or those for the first setup), of how many."""

    senders: int
    right: int
    answers: int
    p_value: float
    verdict: str


@dataclass(frozen=True)
class ViewersTold:
    """A viewers' test in a report.

    Attributes
    ----------
    lines
        What it is and where it stands first, then what came of it and what limits that.
    counts
        None before the end, and where the answers are not kept here.
    """

    id: str
    form: str
    seal: str
    pair: tuple[str, str]
    over: bool
    lines: tuple[str, ...]
    counts: Counts | None = None


def of_plan(casebook: Casebook, plan_id: str) -> list[ViewersTold]:
    """All viewers' tests made from a plan, in the order in which they were sealed."""
    return [told(casebook, one) for one in viewers_rows.everything(casebook) if one.test.plan == plan_id]


def told(casebook: Casebook, sealed: SealedTest) -> ViewersTold:
    """One viewers' test."""
    test, opening = sealed.test, sealed.opening
    orders = f" in {test.orders} sealed orders" if test.form == "page" else ", one order for everybody"
    what = f"A viewers' {test.form} of {test.trials} trials{orders}, sealed {sealed.at[:10]}"
    bare = (test.id, test.form, sealed.seal, test.setups)
    if opening is None:
        waits = f"{what}: it still awaits answers, and nothing of them is told before it is ended."
        return ViewersTold(*bare, False, (waits, BY_ITSELF))
    unit = "answer codes" if test.form == "page" else "votes"
    ended = f"{what}, ended {opening.at[:10]}, when its secret was told and {opening.answers:,} {unit} were there."
    counted = _counted(casebook, sealed)
    if counted is None:
        back = f"earwitness viewers {'collect' if test.form == 'page' else 'poll'} {quote(test.plan_name)} FILE"
        gone = f"They are not kept here, so that nothing is told of them; {back} with those very answers keeps them."
        return ViewersTold(*bare, True, (ended, gone))
    counts, lines = counted
    return ViewersTold(*bare, True, (ended, *lines, BY_ITSELF), counts)


def _counted(casebook: Casebook, sealed: SealedTest) -> tuple[Counts, list[str]] | None:
    """What the answers at a test's end come to, with the sentences; None where they are not kept, or there are none."""
    text = viewers_rows.answers_of(casebook, sealed)
    if not text:
        return None
    test, secret = sealed.test, viewers_rows.secret_of(casebook, sealed)
    if test.form == "page":
        collected = answer_codes.of_kept(text, test)
        if not collected.codes:
            return None
        found = viewers_collecting.result(test, secret, collected)
        pooled = found.crowd.pooled
        counts = Counts(found.crowd.listeners, pooled.correct, pooled.trials, pooled.p_value, found.verdict)
        return counts, viewers_told.page_result(found)
    polled = viewers_polling.result(test, secret, viewers_polling.of_text(text))
    key = polled.key
    return Counts(key.votes, key.right, key.votes, key.p_value, polled.verdict), viewers_told.poll_result(polled)
