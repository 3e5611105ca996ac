"""Where the casebook stands, as the desk's first page shows it: what comes next, plans, what waits. No score."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from audio import track_time

from ..casebook.store import Casebook
from ..plans import next_steps, overview, standing_words
from ..plans.standings import GIVEN_UP, OVER, LeftOutStanding, Overview, PlanStanding
from .deeds import Deed, deed, plan_page


@dataclass(frozen=True)
class ShownPlan:
    """A plan in short: `progress` a sentence a listener, `lacks` what stands in the way of a draft."""

    name: str
    method: str
    setups: str
    state: str
    go: str
    progress: tuple[str, ...]
    seal: str
    published: str
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Standing:
    """The first page."""

    folder: str
    counts: tuple[str, ...]
    first: Deed
    further: tuple[Deed, ...]
    plans: tuple[ShownPlan, ...]
    words: tuple[str, ...]
    left_out: tuple[str, ...]


def gather(casebook: Casebook, hint: str) -> Standing:
    """Where it stands now."""
    stands = overview.gather(casebook)
    first, *further = (deed(step, hint) for step in next_steps.waiting(stands))
    return Standing(
        stands.folder,
        _counts(stands),
        first,
        tuple(further),
        tuple(shown(one) for one in reversed(stands.plans)),
        tuple(_words(stands)),
        tuple(_left_out(one) for one in stands.left_out),
    )


def shown(plan: PlanStanding) -> ShownPlan:
    """A plan in short."""
    is_open = plan.state not in (OVER, GIVEN_UP)
    notes = [f"{plan.missing_audio} of {plan.audio} prepared files are missing"] if plan.missing_audio else []
    notes += [f"given up: {plan.why}"] if plan.state == GIVEN_UP else []
    notes += [LACKS[one] for one in dict.fromkeys(plan.lacks)]
    return ShownPlan(
        plan.name,
        plan.method,
        standing_words.compared(plan.setups),
        plan.state,
        plan_page(plan.name),
        tuple(standing_words.progress_words(one) for one in plan.listeners) if is_open else (),
        plan.seal,
        standing_words.published(plan.published),
        tuple(notes),
    )


LACKS = {
    "setups": "says not which setups it is about",
    "match": "not level-matched",
    "check": "not checked for giveaways",
    "mend": "giveaways that can be mended",
    "polarity": "polarity that can be turned back",
    "acceptance": "giveaways that need a reason to be accepted",
}


def _counts(stands: Overview) -> tuple[str, ...]:
    numbers = (
        (len(stands.setups), "setup"),
        (len(stands.tracks), "track"),
        (len(stands.passages), "passage"),
        (len(stands.listeners), "listener"),
    )
    return tuple(standing_words.counted(number, what) for number, what in numbers)


def _words(stands: Overview) -> Sequence[str]:
    said = [f"{number} {label}" for label, number in stands.words.items() if number]
    heard = [
        f"{one.listener} heard {one.setup} freely: {track_time.for_how_long(one.heard_s)}"
        for one in stands.heard_freely
    ]
    return [*said, *filter(None, [stands.corrected.in_words]), *heard]


def _left_out(one: LeftOutStanding) -> str:
    return f"{standing_words.left_out(one)}: {' '.join(one.why.split())}"
