"""The viewers' tests of a plan as a report tells them: whether they are over, and what came of those that are.

Nothing of the answers is told before a test is over; then what was counted at its end is, and nothing that came later.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from shlex import quote

from stats.count_summary import HEARD

from ..casebook.store import Casebook
from ..plans import answer_codes, viewers_rows
from ..plans.viewers_rows import SealedTest
from . import viewers_collecting, viewers_polling, viewers_told
from .how_answered import number_of

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

    form: str
    seal: str
    pair: tuple[str, str]
    over: bool
    lines: tuple[str, ...]
    counts: Counts | None = None
    asks_preference: bool = False


def of_plan(casebook: Casebook, plan_id: str) -> list[ViewersTold]:
    """All viewers' tests made from a plan, in the order in which they were sealed."""
    return [told(casebook, one) for one in viewers_rows.everything(casebook) if one.test.plan == plan_id]


def told(casebook: Casebook, sealed: SealedTest) -> ViewersTold:
    """One viewers' test."""
    test, opening = sealed.test, sealed.opening
    orders = f" in {test.orders} sealed orders" if test.form == "page" else ", one order for everybody"
    what = f"A viewers' {test.form} of {test.trials} trials{orders}, sealed {sealed.at[:10]}"
    bare = (test.form, sealed.seal, test.setups)
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
    return ViewersTold(*bare, True, (ended, *lines, BY_ITSELF), counts, test.method == "preference")


def summed_up(tests: Sequence[ViewersTold]) -> str:
    """What came of the tests that an audience took, as far as they are over, in one sentence; empty for none."""
    told = [_in_short(one, one.counts) for one in tests if one.counts is not None]
    waiting = sum(not one.over for one in tests)
    gone = len(tests) - len(told) - waiting
    told += [f"{waiting} not over, so that nothing of it is told"] if waiting else []
    told += [f"{gone} over, whose answers are not kept here"] if gone else []
    return f"{number_of(len(tests), 'test')} by viewers: {'; '.join(told)}." if tests else ""


def _in_short(test: ViewersTold, counts: Counts) -> str:
    sent = number_of(counts.senders, "answer code" if test.form == "page" else "vote")
    of_all = f"{counts.right:,} of {counts.answers:,}"
    if test.asks_preference:
        found = "shown" if counts.verdict == HEARD else "not shown"
        first, second = test.pair
        said, of_all = f"a preference for one of {first} and {second} was {found}", f"{of_all} for {first}"
    else:
        said = f"a difference of {' and '.join(test.pair)} was {counts.verdict}"
    return f"{said}, of viewers who chose to answer ({sent}, {of_all})"


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
