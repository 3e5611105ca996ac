"""What a plan asks of its listener, as a page needs it: labels, answers, words, scale. Nothing of a key. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..plans.methods.graded import GradedMethod
from ..plans.methods.hidden_reference import HiddenReference
from ..plans.methods.method import Method
from ..plans.methods.rated_ballot import LEAST_RATING, MOST_RATING, RatedBallot
from ..plans.methods.word_ballot import WordBallot
from ..plans.plan import Plan
from . import wording

Kind = Literal["choice", "grades", "ticks", "ratings", "free", "training"]


@dataclass(frozen=True)
class Choice:
    """One thing that can be chosen: what is kept, and what it says."""

    key: str
    said: str


@dataclass(frozen=True)
class Scale:
    """A scale as text and steps: its ends, how far one step is, and from which grade on each name holds."""

    low: float
    high: float
    step: float
    names: tuple[Choice, ...]


@dataclass(frozen=True)
class Asked:
    """What stands for a whole session.

    Attributes
    ----------
    labels, needed, graded
        What can be heard, what must be before an answer is taken, and what gets a grade.
    choices
        The answers of a method that asks for one of them.
    words
        Those of a ballot, in this listener's order.
    one_is_reference
        Whether one of those graded is the open reference, so that one gets the highest grade.
    rating
        The least and the greatest rating of a word.
    run
        Of what never counts, which time this is: answers kept on a page for another one are not meant.
    music
        What can be played in free listening: its identifier, and what it is called.
    """

    title: str
    question: str
    kind: Kind
    trials: int
    labels: tuple[str, ...]
    needed: tuple[str, ...]
    graded: tuple[str, ...]
    choices: tuple[Choice, ...]
    words: tuple[str, ...]
    scale: Scale | None
    one_is_reference: bool
    rating: tuple[int, int]
    sureness: tuple[Choice, ...]
    strengths: tuple[Choice, ...]
    begins_anew: bool
    run: str = ""
    music: tuple[Choice, ...] = ()


def asked(plan: Plan, method: Method, *, begins_anew: bool, run: str = "") -> Asked:
    """What a plan asks of the listener who meets its method so; `begins_anew`: a rehearsal, and `run` which one."""
    return Asked(
        title=f"{plan.name}{' (practice, never counted)' if begins_anew else ''}",
        question=plan.question,
        kind=kind_of(method),
        trials=plan.slots,
        labels=method.stimuli,
        needed=method.needed,
        graded=method.graded if isinstance(method, GradedMethod) else (),
        choices=tuple(Choice(key, said) for key, said in method.answers.items()),
        words=method.shown if isinstance(method, WordBallot) else (),
        scale=_scale(method),
        one_is_reference=isinstance(method, HiddenReference),
        rating=(LEAST_RATING, MOST_RATING),
        sureness=tuple(Choice(str(step), said) for step, said in wording.SURENESS.items()),
        strengths=strengths(),
        begins_anew=begins_anew,
        run=run,
    )


def strengths() -> tuple[Choice, ...]:
    """How strong a word may be, with what each step is called."""
    return tuple(Choice(str(step), wording.strongly(step)) for step in range(1, 6))


def kind_of(method: Method) -> Kind:
    """How a method is answered."""
    if isinstance(method, RatedBallot):
        return "ratings"
    if isinstance(method, WordBallot):
        return "ticks"
    return "grades" if isinstance(method, GradedMethod) else "choice"


def _scale(method: Method) -> Scale | None:
    if not isinstance(method, GradedMethod):
        return None
    scale = method.scale
    names = tuple(Choice(str(at), name) for at, name in scale.names)
    return Scale(float(scale.low), float(scale.high), float(scale.step), names)
