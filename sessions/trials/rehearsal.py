"""A simulated listener: works through a plan's trials as a session that never counts.

It hears the difference in a stated share of the trials and guesses in the rest; what it answers depends on its
random generator alone.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..casebook import catalogue
from ..casebook.store import Casebook, Row
from ..errors import PlanError
from . import planning, session
from .methods import ABX, Key
from .plan import Plan

LISTENER = "simulated listener"
NOTE = "a program that answers by chance and by a stated hit rate; never a person, never counted"
RULE = "in trials it hears it is right (abx), or chooses the plan's first setup (preference); otherwise it guesses"


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
    from numpy.random import PCG64, Generator

    if not 0 <= hears <= 1:
        raise PlanError(f"--hears {hears} is out of range; give the share of trials in which it hears, 0 to 1")
    if seed < 0:
        raise PlanError(f"--seed {seed} is negative; give 0 or more")
    plan = Plan.from_text(planning.sealed_row(casebook, plan_name)["document"])
    about = {"kind": session.SIMULATED, "hears": str(hears), "seed": seed, "rule": RULE}
    rng = Generator(PCG64(seed))
    with (
        casebook.writing(),
        session.begin_rehearsal(casebook, plan, _listener(casebook), about, "none: simulated") as running,
    ):
        while (offered := running.next_trial()) is not None:
            heard = bool(rng.random() < hears)
            guess = int(rng.integers(2))
            answer = _answer(plan, offered.key, heard, guess)
            frames = int(offered.passage["frames"])
            for stimulus in plan.method.stimuli:
                running.audition(offered, stimulus, 0, frames)
            after_ms = round(1000 * float(rng.uniform(8, 30)))
            running.answer(offered, answer, sureness=4 if heard else 1, after_ms=after_ms)
        return Rehearsed(running.row["id"], running.answered)


def _answer(plan: Plan, key: Key, heard: bool, guess: int) -> str:
    """The answer given: by what is heard, or by the guess (0 or 1)."""
    answers = list(plan.method.answers)
    if not heard:
        return answers[guess]
    wanted = key["X"] if plan.method is ABX else 0
    return next(answer for answer in answers if key[answer] == wanted)


def _listener(casebook: Casebook) -> Row:
    rows = casebook.query("SELECT * FROM listeners WHERE name = ?", [LISTENER])
    return rows[0] if rows else catalogue.add_listener(casebook, LISTENER, NOTE)
