"""A simulated listener: works through a plan's trials as a session that never counts.

It hears the difference in a stated share of the trials and guesses in the rest; what it answers depends on its
random generator alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from ..casebook import catalogue, session_counters, session_rows
from ..casebook.catalogue import Listener
from ..casebook.session_rows import COMPLETE
from ..casebook.store import Casebook, NewRow
from ..errors import PlanError
from ..plans import seals
from ..plans.methods.graded import GradedMethod, answer_of
from ..plans.methods.method import TIE, Key
from ..plans.methods.rated_ballot import LEAST_RATING, MOST_RATING, RatedBallot
from ..plans.methods.word_ballot import WordBallot
from ..plans.plan import Plan
from . import session
from .session import SIMULATED, Rehearsal
from .trial_order import TrialOrder

if TYPE_CHECKING:
    from numpy.random import Generator

LISTENER = "simulated listener"
NOTE = "a program that answers by chance and by a stated hit rate; never a person, never counted"
RULE = (
    "in trials it hears it is right, chooses the plan's earlier setup (preference, round robin), or grades "
    "each stimulus lower the later its setup stands in the plan, and anchors lowest; otherwise it guesses. Of words it "
    "hears the first only in the plan's first setup and the second only in the other, and marks all others by chance"
)
WORD_CHANGES = 0.05  # how often it changes its mind about a word from one of two presentations to the other: our choice


@dataclass(frozen=True)
class Rehearsed:
    """A finished rehearsal: its session, and how many trials it answered."""

    session_id: str
    answered: int


@dataclass(frozen=True)
class SimulatedAnswer:
    """What it said in one trial, how sure it was, and after how long."""

    trial: int
    key: Key
    answer: str
    sureness: int
    after_ms: int


def rehearse(casebook: Casebook, plan_name: str, hears: float, seed: int) -> Rehearsed:
    """Work through a sealed plan as a simulated listener that hears the difference in a share `hears` of the trials.

    Raises
    ------
    PlanError
        If the share is not 0 to 1, the seed is negative, or there is no such sealed plan.
    """
    import numpy as np

    if not 0 <= hears <= 1:
        raise PlanError(f"--hears {hears} is out of range; give the share of trials in which it hears, 0 to 1")
    if seed < 0:
        raise PlanError(f"--seed {seed} is negative; give 0 or more")
    plan = seals.sealed_plan(casebook, plan_name).plan
    known = catalogue.named(casebook, Listener, LISTENER)
    listener = known or catalogue.new_listener(casebook, LISTENER, NOTE)
    lock = session.rehearsal_lock(casebook, plan, listener)
    try:
        order = session.rehearsal_order(plan, seed)
        given = answers(order, hears, np.random.Generator(np.random.PCG64(seed)))
        begun = session_rows.new_session(
            plan.id, listener.id, plan.operator, Rehearsal(SIMULATED, seed, str(hears), RULE).text, "none: simulated"
        )
        rows, ahead = _rows(order, begun, given), session_counters.read_ahead(casebook)
        with casebook.writing():
            if known is None:
                catalogue.keep(casebook, listener)
            session_counters.append_turn(casebook, begun.id, rows[:2], ahead)
            casebook.append_many(rows[2:])
    finally:
        lock.release()
    return Rehearsed(begun.id, len(given))


def _rows(order: TrialOrder, begun: NewRow, given: Sequence[SimulatedAnswer]) -> list[NewRow]:
    """All that such a session leaves, as if each trial had been offered, heard through and answered."""
    rows = [begun, session_rows.new_mark(begun.id, "begun")]
    for one in given:
        passage = order.passage(one.trial)
        trial = session_rows.new_trial(begun.id, one.trial, 1, passage.id, one.key)
        rows.append(trial)
        rows += [session_rows.new_audition(trial.id, label, 0, passage.frames) for label in order.plan.method.stimuli]
        rows.append(session_rows.new_answer(trial.id, one.answer, one.sureness, one.after_ms))
    return [*rows, session_rows.new_mark(begun.id, COMPLETE)]


def answers(order: TrialOrder, hears: float, rng: Generator) -> list[SimulatedAnswer]:
    """What it says in every trial of a plan, up to a sequential plan's end. Pure but for the generator."""
    plan, given = order.plan, list[SimulatedAnswer]()
    for trial in range(1, plan.slots + 1):
        key = order.key(trial, 1)
        heard = bool(rng.random() < hears)
        said = answer_to(plan, key, heard, rng)
        after_ms = round(1000 * float(rng.uniform(8, 30)))
        sure = heard and not plan.is_control(key)
        given.append(SimulatedAnswer(trial, key, said, 4 if sure else 1, after_ms))
        if session.decision(plan, [(one.key, one.answer) for one in given]) is not None:
            break
    return given


def answer_to(plan: Plan, key: Key, heard: bool, rng: Generator) -> str:
    """The answer given: by what is heard, or by a guess. Where all stimuli are the same there is nothing to hear."""
    method = plan.method
    audible = heard and not plan.is_control(key)
    if isinstance(method, GradedMethod):
        return answer_of(_grades(plan, method, key, audible, rng))
    if isinstance(method, RatedBallot):
        return method.answer_with(_ratings(method, key, audible, rng))
    if isinstance(method, WordBallot):
        return method.answer_of(_ticks(method, key, audible, rng))
    choices = [answer for answer in method.answers if answer != TIE]
    guess = choices[int(rng.integers(len(choices)))]
    return (method.right_answer(key) if audible else None) or guess


def _ticks(method: WordBallot, key: Key, heard: bool, rng: Generator) -> dict[str, list[str]]:
    """A word is ticked of both or of neither but for a change of mind; of those it hears as they are heard."""
    given: dict[str, list[str]] = {label: [] for label in method.needed}
    for place, word in enumerate(method.words):
        of_both = bool(rng.random() < 0.5)
        for label, said in given.items():
            ticked = of_both != bool(rng.random() < WORD_CHANGES)
            if heard and place < 2:
                ticked = key[label] == place
            if ticked:
                said.append(word)
    return given


def _ratings(method: RatedBallot, key: Key, heard: bool, rng: Generator) -> dict[str, dict[str, int]]:
    """A word is rated alike of both but for a step; those it hears high of the one and low of the other."""
    given: dict[str, dict[str, int]] = {label: {} for label in method.needed}
    for place, word in enumerate(method.words):
        of_both = int(rng.integers(LEAST_RATING + 1, MOST_RATING))
        for label, said in given.items():
            said[word] = of_both + int(rng.integers(-1, 2))
            if heard and place < 2:
                said[word] = MOST_RATING - int(rng.integers(3)) if key[label] == place else int(rng.integers(3))
    return given


def _grades(plan: Plan, method: GradedMethod, key: Key, heard: bool, rng: Generator) -> dict[str, Decimal]:
    """Grades on the method's scale: one of them stands for the reference and gets the highest."""
    scale, graded = method.scale, method.graded
    span = float(scale.high - scale.low)
    setups, found = len(plan.setups), {}
    anchors = [label for label in graded if setups <= key[label] < setups + len(plan.anchors)]
    for label in graded:
        place = key[label]
        if label in anchors:  # they are plain to everyone
            share = 0.15 if place == setups else 0.4
        else:
            share = 1.0 if place == 0 or not heard else max(0.5, 0.85 - 0.1 * place)
        noisy = min(1.0, max(0.0, share - abs(float(rng.normal(0, 0.05)))))
        steps = round(noisy * span / float(scale.step))
        found[label] = scale.low + steps * scale.step
    hidden = [label for label in graded if key[label] == 0] if heard else list(graded)
    hidden = [label for label in hidden if label not in anchors]
    best = hidden[int(rng.integers(len(hidden)))]
    return found | {best: scale.high}
