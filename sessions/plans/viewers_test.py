"""A viewers' test: what an audience is asked, fixed in advance; and the key of each of its orders. Pure.

It takes question, setups, passages and prepared audio from a sealed plan, and has a document, a secret and a seal of
its own. `viewers_sealing.md` beside this file states the rule in words.

On a page each viewer's own browser draws which of two files it plays in each trial, so that every key is equally
likely for every viewer, whatever else they have in common; the secret alone says which setup a file holds. A
soundtrack is the same for everybody: there each trial has one coin.
"""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from ..casebook import documents
from ..casebook.hash_chain import canonical
from ..errors import PlanError
from . import randomisation, trial_keys
from .plan import Plan, void_reasons

Form = Literal["page", "soundtrack"]
RULE = 1  # frozen: a change of the rule is a new number
METHODS = {"abx": ("A", "B"), "preference": ("1", "2")}  # what can be answered, the first setup's side first in ABX
MOST_TRIALS = 12  # an answer code holds no more; and no viewer stays longer
LEAST_TRIALS = 4
NAME_DIGITS = 32  # of a file's name, hexadecimal: 128 bits
EXCLUSIONS = "answer codes that are broken, repeated or of another test are left out, and nothing else"


@dataclass(frozen=True)
class HeardPassage:
    """A passage of a viewers' test; `audio` and `files` by the setups' identifiers, as in its plan."""

    id: str
    name: str
    rate_hz: int
    frames: int
    audio: Mapping[str, str]
    files: Mapping[str, str]


@dataclass(frozen=True)
class ViewersTest:
    """A viewers' test as its document says it."""

    document: Mapping[str, Any]

    @property
    def id(self) -> str:
        """Its identifier."""
        return str(self.document["viewers"])

    @property
    def form(self) -> Form:
        """Whether it is a page or a soundtrack."""
        form: Form = self.document["form"]
        return form

    @property
    def plan(self) -> str:
        """The identifier of the plan it is made from."""
        return str(self.document["plan"])

    @property
    def plan_name(self) -> str:
        """The name of that plan."""
        return str(self.document["plan_name"])

    @property
    def method(self) -> str:
        """``abx`` or ``preference``."""
        return str(self.document["method"])

    @property
    def question(self) -> str:
        """What is asked."""
        return str(self.document["question"])

    @property
    def trials(self) -> int:
        """Trials for each viewer."""
        return int(self.document["trials"])

    @property
    def alpha(self) -> float:
        """The error rate accepted."""
        return float(self.document["alpha"])

    @property
    def setups(self) -> tuple[str, str]:
        """The names of the two setups."""
        first, second = (str(one["name"]) for one in self.document["setups"])
        return first, second

    @property
    def sources(self) -> tuple[str, str]:
        """The identifiers of the two setups."""
        first, second = (str(one["setup"]) for one in self.document["setups"])
        return first, second

    @property
    def passages(self) -> tuple[HeardPassage, ...]:
        """The passages, in the plan's order."""
        return tuple(
            HeardPassage(one["passage"], one["name"], one["rate_hz"], one["frames"], one["audio"], one["files"])
            for one in self.document["passages"]
        )

    @property
    def answers(self) -> tuple[str, str]:
        """What can be answered."""
        return METHODS[self.method]

    @property
    def labels(self) -> tuple[str, ...]:
        """What is heard in a trial, by its labels."""
        return (*self.answers, "X") if self.method == "abx" else self.answers

    @property
    def orders(self) -> int:
        """How many orders the seal covers: on a page every key, begun at every trial."""
        return int(self.document["orders"])

    @property
    def text(self) -> str:
        """The canonical JSON text that is sealed."""
        return canonical(self.document)

    @classmethod
    def from_text(cls, text: str) -> ViewersTest:
        """The test of a JSON text."""
        return cls(documents.value_of(text))


def drawn_up(
    plan: Plan, plan_seal: str, identifier: str, form: Form, trials: int, further: Mapping[str, str | int]
) -> ViewersTest:
    """The viewers' test of a sealed plan.

    Parameters
    ----------
    further
        What the form adds to the document.

    Raises
    ------
    PlanError
        If an audience cannot take it: another method, real gear, a plan that would be void, trials out of range.
    """
    if plan.method.name not in METHODS or len(plan.setups) != 2:
        raise PlanError(
            f"plan {plan.name!r} is {plan.method.name}; viewers take ABX or a preference between two setups: "
            "earwitness plan abx, or plan preference"
        )
    if any(setup.chain is not None for setup in plan.setups):
        raise PlanError(
            f"the setups of plan {plan.name!r} are real gear, which nobody hears elsewhere; record both at the chair, "
            "add the recordings as setups of files, and seal a plan of those"
        )
    reasons = void_reasons(plan)
    if reasons:
        raise PlanError(f"plan {plan.name!r} is void, so that viewers are not asked: {'; '.join(reasons)}")
    if not LEAST_TRIALS <= trials <= MOST_TRIALS:
        raise PlanError(f"--trials {trials} is out of range; give {LEAST_TRIALS} to {MOST_TRIALS} for each viewer")
    sided = "greater" if plan.method.name == "abx" else "two-sided"
    counted = "right answers against guessing" if sided == "greater" else "choices of the first setup against one half"
    return ViewersTest(
        {
            "viewers": identifier,
            "rule": RULE,
            "form": form,
            "plan": plan.id,
            "plan_name": plan.name,
            "plan_seal": plan_seal,
            "method": plan.method.name,
            "question": plan.question,
            "setups": [{"setup": setup.id, "name": setup.name} for setup in plan.setups],
            "passages": [
                {
                    "passage": one.id,
                    "name": one.name,
                    "rate_hz": one.rate_hz,
                    "frames": one.frames,
                    "audio": {setup.id: one.audio[setup.id] for setup in plan.setups},
                    "files": {setup.id: one.files[setup.id] for setup in plan.setups if setup.id in one.files},
                }
                for one in plan.passages
            ],
            "match": dict(plan.document["match"]),
            "trials": trials,
            "orders": trials << trials if form == "page" else 1,
            "alpha": str(plan.document["alpha"]),
            "alternative": sided,
            "test": f"exact binomial test of all viewers' {counted}"
            if form == "page"
            else f"exact test of the votes' {counted}, over all keys that the coins could have given",
            "exclusions": EXCLUSIONS,
            **further,
        }
    )


# -- the keys, for slots 1 … trials ----------------------------------------------------------------------------------
def passage_of(test: ViewersTest, secret: bytes, slot: int) -> int:
    """The place of the passage that a slot plays."""
    return trial_keys.passage_index(secret, test.id, slot, len(test.passages))


def coin(test: ViewersTest, secret: bytes, slot: int) -> int:
    """The place of the setup (0 or 1) in a slot's first file; on a soundtrack that of X, or of what is heard as 1."""
    return randomisation.draw(secret, "x", test.id, slot, 1, 2)


def slots_of(test: ViewersTest, order: int) -> list[tuple[int, int]]:
    """The slot of each trial of an order (from 1), and which of its files (0 or 1) is X, or is heard as 1."""
    turn, bits = divmod(order - 1, 1 << test.trials)
    slots = [(turn + trial) % test.trials + 1 for trial in range(test.trials)]
    return [(slot, bits >> (slot - 1) & 1) for slot in slots]


def order_of(trials: int, turn: int, bits: int) -> int:
    """The number of the order (from 1) that begins at slot `turn` + 1 and plays the files that `bits` say."""
    return (turn << trials) + bits + 1


def score(answer: int, heard: int) -> int:
    """1 where an answer (0: A, or the one heard as 1) names the first setup rightly, or prefers it.

    `heard` is the place of the setup that is X, or that is heard as 1.
    """
    return int(answer == heard)


# -- names and dither ------------------------------------------------------------------------------------------------
def file_name(secret: bytes, which: str) -> str:
    """The name of a file, which tells nothing before the secret is told; `which`: ``slot|3|0`` or ``open|1|0``."""
    return _drawn(secret, "name", which).hex()[:NAME_DIGITS]


def dither_seed(secret: bytes, which: str) -> int:
    """The seed of a file's own dither."""
    return int.from_bytes(_drawn(secret, "dither", which), "big")


def _drawn(secret: bytes, what: str, which: str) -> bytes:
    return hmac.digest(secret, f"{what}|{which}".encode(), hashlib.sha256)
