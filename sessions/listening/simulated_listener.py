"""A simulated listener: works through a plan's trials as a session that never counts.

It hears the difference in a stated share of the trials and guesses in the rest; what it answers depends on its
random generator alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from ..casebook import catalogue
from ..casebook.catalogue import Listener
from ..casebook.store import Casebook
from ..errors import PlanError
from ..plans import drafting
from ..plans.methods import ABX, DUO_TRIO, REFERENCE, SAME_DIFFERENT, TETRAD, TIE, TRIANGLE, Key, answer_of
from ..plans.plan import Plan
from . import session

if TYPE_CHECKING:
    from numpy.random import Generator

LISTENER = "simulated listener"
NOTE = "a program that answers by chance and by a stated hit rate; never a person, never counted"
RULE = (
    "in trials it hears it is right, chooses the plan's earlier setup (preference, round robin), or grades "
    "each stimulus lower the later its setup stands in the plan, and anchors lowest; otherwise it guesses"
)


@dataclass(frozen=True)
class Rehearsed:
    """A finished rehearsal: its session, and how many trials it answered."""

    session_id: str
    answered: int


def rehearse(casebook: Casebook, plan_name: str, hears: float, seed: int) -> Rehearsed:
    """Work through a sealed plan as a simulated listener that hears the difference in a share `hears` of the trials.

    Raises
    ------
    PlanError
        If the share is not 0 to 1, the seed is negative, or there is no such sealed plan.
    """
    from numpy.random import PCG64
    from numpy.random import Generator as Made

    if not 0 <= hears <= 1:
        raise PlanError(f"--hears {hears} is out of range; give the share of trials in which it hears, 0 to 1")
    if seed < 0:
        raise PlanError(f"--seed {seed} is negative; give 0 or more")
    plan = Plan.from_text(drafting.sealed_row(casebook, plan_name)["document"])
    about = {"kind": session.SIMULATED, "hears": str(hears), "seed": seed, "rule": RULE}
    rng = Made(PCG64(seed))
    with (
        casebook.writing(),
        session.begin_rehearsal(casebook, plan, _listener(casebook), about, "none: simulated") as running,
    ):
        while (offered := running.next_trial()) is not None:
            heard = bool(rng.random() < hears)
            answer = _answer(plan, offered.key, heard, rng)
            frames = int(offered.passage.frames)
            for stimulus in plan.method.stimuli:
                running.audition(offered, stimulus, 0, frames)
            after_ms = round(1000 * float(rng.uniform(8, 30)))
            sure = heard and not plan.is_control(offered.key)
            running.answer(offered, answer, sureness=4 if sure else 1, after_ms=after_ms)
        return Rehearsed(running.row["id"], running.answered)


def _answer(plan: Plan, key: Key, heard: bool, rng: Generator) -> str:
    """The answer given: by what is heard, or by a guess. Where all stimuli are the same there is nothing to hear."""
    method = plan.method
    if method.scale is not None:
        return answer_of(_grades(plan, key, heard and not plan.is_control(key), rng))
    answers = [answer for answer in method.answers if answer != TIE]
    guess = answers[int(rng.integers(len(answers)))]
    if not heard or plan.is_control(key):
        return guess
    if method.name == SAME_DIFFERENT.name:
        return "S" if key["1"] == key["2"] else "D"
    if method.name == TRIANGLE.name:
        return next(answer for answer in answers if list(key.values()).count(key[answer]) == 1)
    if method.name == TETRAD.name:
        return next(answer for answer in answers if key[answer] == key["1"])
    wanted = key["X"] if method.name == ABX.name else key[REFERENCE] if method.name == DUO_TRIO.name else None
    if wanted is None:  # a preference: for the setup that stands earlier in the plan
        return min(answers, key=lambda answer: key[answer])
    return next(answer for answer in answers if key[answer] == wanted)


def _grades(plan: Plan, key: Key, heard: bool, rng: Generator) -> dict[str, Decimal]:
    """Grades on the method's scale: one of them stands for the reference and gets the highest."""
    scale, graded = plan.method.scale, plan.method.graded
    assert scale is not None
    span = float(scale.high - scale.low)
    found = {}
    for label in graded:
        place = key[label]
        if place >= len(plan.setups):  # anchors are plain to everyone
            share = 0.15 if place == len(plan.setups) else 0.4
        else:
            share = 1.0 if place == 0 or not heard else max(0.5, 0.85 - 0.1 * place)
        noisy = min(1.0, max(0.0, share - abs(float(rng.normal(0, 0.05)))))
        steps = round(noisy * span / float(scale.step))
        found[label] = scale.low + steps * scale.step
    hidden = [label for label in graded if key[label] == 0] if heard else list(graded)
    hidden = [label for label in hidden if key[label] < len(plan.setups)]
    best = hidden[int(rng.integers(len(hidden)))]
    return found | {best: scale.high}


def _listener(casebook: Casebook) -> Listener:
    return catalogue.named(casebook, Listener, LISTENER) or catalogue.add_listener(casebook, LISTENER, NOTE)
