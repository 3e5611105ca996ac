"""A plan: a test fixed in advance. Its one document, its canonical text, and what can be read from it.

Pure. The document holds objects, arrays, strings, whole numbers and booleans only; decimals are strings, so that its
canonical text is the same for everyone who checks the seal.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from decimal import Decimal
from functools import cached_property
from typing import TYPE_CHECKING, Any

from stats.validation import Alternative

from ..casebook import documents
from ..casebook.hash_chain import canonical
from ..errors import PlanError
from . import plan_parts
from .methods import table
from .methods.counted import CountedMethod
from .methods.method import Method
from .methods.word_ballot import WordBallot
from .plan_parts import (
    BALANCE_KIND,
    Anchor,
    EarlierPlan,
    KnownDifference,
    LevelMatch,
    PlannedListener,
    PlannedPassage,
    PlannedSetup,
    StatedGiveaway,
)
from .planned_test import SequentialBehaviour

if TYPE_CHECKING:
    from stats.sequential.boundaries import Boundaries

MOST_TRIALS = 1000  # per listener; nobody listens longer, and a typing slip is caught
LEAST_ALPHA, MOST_ALPHA = Decimal("0.0001"), Decimal("0.5")


@dataclass(frozen=True)
class SequentialRule:
    """When a sequential plan stops, and what that rule does."""

    rule: str
    boundaries: Boundaries
    behaviour: SequentialBehaviour


@dataclass(frozen=True)
class Plan:
    """A plan as its document says it; `called` is its name here, where another plan had its own already."""

    document: Mapping[str, Any]
    called: str = ""

    @property
    def id(self) -> str:
        """The plan's identifier."""
        return str(self.document["plan"])

    @property
    def name(self) -> str:
        """The plan's name."""
        return self.called or str(self.document["name"])

    @cached_property
    def method(self) -> Method:
        """The plan's method, with the labels that its setups and ties policy ask for."""
        return table.of(self.document)

    @property
    def counted(self) -> CountedMethod:
        """The plan's method, where its answers are counted.

        Raises
        ------
        PlanError
            If they are not.
        """
        if not isinstance(self.method, CountedMethod):
            raise PlanError(f"the answers of {self.method.name} are not counted")
        return self.method

    @property
    def ballot(self) -> WordBallot:
        """The plan's method, where words are asked for.

        Raises
        ------
        PlanError
            If none are.
        """
        if not isinstance(self.method, WordBallot):
            raise PlanError(f"{self.method.name} asks for no words")
        return self.method

    @property
    def trials(self) -> int:
        """Trials for each listener that count; in a sequential plan the greatest number."""
        return int(self.document["trials"])

    @property
    def controls(self) -> int:
        """Trials for each listener in which every stimulus is the same setup; they never count."""
        return int(self.document.get("controls", 0))

    @cached_property
    def known(self) -> KnownDifference | None:
        """The difference made on purpose in further trials, which never count either; None where there is none."""
        return KnownDifference.of(self.document["known"]) if "known" in self.document else None

    @property
    def slots(self) -> int:
        """Trials each listener is offered, controls and known differences among them."""
        return self.trials + self.controls + (self.known.trials if self.known else 0)

    @property
    def total_trials(self) -> int:
        """Trials of all listeners together; the criterion is set for this number."""
        return self.trials * len(self.listeners)

    @property
    def alpha(self) -> float:
        """The greatest error rate accepted."""
        return float(self.document["alpha"])

    @property
    def criterion(self) -> int | None:
        """The count that shows it, or None where no count could, or where the test is none of a count."""
        value = self.document["criterion"]
        return None if value == "none" else int(value)

    @property
    def alternative(self) -> Alternative:
        """The side of the planned test."""
        side: Alternative = self.document["alternative"]
        return side

    @property
    def chance(self) -> float:
        """The share right by guessing, of a method whose answers are counted."""
        return self.counted.chance

    @property
    def ties(self) -> str:
        """What becomes of ties."""
        return str(self.document.get("ties", "not offered"))

    @cached_property
    def sequential(self) -> SequentialRule | None:
        """The sequential rule with its boundaries; None for a plan of fixed length."""
        stated = self.document.get("sequential")
        if stated is None:
            return None
        from stats.sequential.boundaries import Boundaries

        return SequentialRule(
            stated["rule"],
            Boundaries.from_document(stated["boundaries"]),
            SequentialBehaviour(**{part.name: str(stated[part.name]) for part in fields(SequentialBehaviour)}),
        )

    @property
    def primary(self) -> bool:
        """Whether this is one of the review's primary questions, which are judged together."""
        return bool(self.document.get("primary", True))

    @property
    def blinding(self) -> str:
        """Who knew what was playing, in words."""
        return str(self.document.get("blinding", "double-blind"))

    @cached_property
    def setups(self) -> tuple[PlannedSetup, ...]:
        """The setups compared, in the plan's order."""
        return tuple(PlannedSetup.of(one) for one in self.document["setups"])

    @cached_property
    def passages(self) -> tuple[PlannedPassage, ...]:
        """The passages played, in the plan's order."""
        return tuple(PlannedPassage.of(one) for one in self.document["passages"])

    @cached_property
    def listeners(self) -> tuple[PlannedListener, ...]:
        """The listeners, in the plan's order."""
        return tuple(PlannedListener(one["listener"], one["name"]) for one in self.document["listeners"])

    @cached_property
    def anchors(self) -> tuple[Anchor, ...]:
        """The anchors of a multi-stimulus plan."""
        return tuple(Anchor(one["anchor"], one["name"], one["low_pass_hz"]) for one in self.document.get("anchors", []))

    @property
    def question(self) -> str:
        """What the listener is asked."""
        return str(self.document["question"])

    @property
    def operator(self) -> str:
        """Who runs the sessions."""
        return str(self.document["operator"])

    @property
    def operator_listens(self) -> bool:
        """Whether the operator is one of the listeners."""
        return bool(self.document["operator_listens"])

    @property
    def test(self) -> str:
        """The planned test, in words."""
        return str(self.document["test"])

    @property
    def effect(self) -> str:
        """The effect that the test is meant to find; a decimal as text."""
        return str(self.document["effect"])

    @property
    def power(self) -> str:
        """With which probability it finds that effect; a decimal as text."""
        return str(self.document["power"])

    @property
    def rule_out(self) -> float | None:
        """The share of trials truly heard that the result is meant to rule out; None where nobody asked."""
        value = self.document.get("rule_out", "none")
        return None if value == "none" else float(value)

    @property
    def by_passage(self) -> bool:
        """Whether the passages are compared as planned, not afterwards."""
        return bool(self.document.get("by_passage", False))

    @property
    def match(self) -> LevelMatch:
        """The level match it rests on."""
        return LevelMatch.of(self.document["match"])

    @property
    def giveaways_checked(self) -> bool:
        """Whether its passages were checked for giveaways."""
        return bool(self.document["giveaways"]["check"] != "none")

    @property
    def checks(self) -> tuple[str, ...]:
        """The hashes of the giveaway checks that it rests on, the newest first; none where it was not checked."""
        stated = self.document["giveaways"]
        return tuple(stated.get("checks", [stated["check"]])) if self.giveaways_checked else ()

    @property
    def open_giveaways(self) -> tuple[StatedGiveaway, ...]:
        """The giveaways that nobody accepted."""
        return tuple(StatedGiveaway(**one) for one in self.document["giveaways"]["open"])

    @property
    def accepted_giveaways(self) -> tuple[StatedGiveaway, ...]:
        """The giveaways accepted in the plan, each with its reason."""
        return tuple(StatedGiveaway(**one) for one in self.document["giveaways"]["accepted"])

    @property
    def earlier(self) -> tuple[EarlierPlan, ...]:
        """Plans on the same question that were sealed before."""
        return tuple(EarlierPlan(one["plan"], one["name"], one["seal"]) for one in self.document.get("earlier", []))

    @property
    def places(self) -> list[str]:
        """What can be heard, by place: the setups' names, the anchors', then the known difference."""
        known = [f"{self.setups[0].name} with {self.known.in_words}"] if self.known else []
        return [setup.name for setup in self.setups] + [anchor.name for anchor in self.anchors] + known

    @property
    def sources(self) -> list[str]:
        """The identifiers of the same, as they stand in a passage's audio and files."""
        known = [KnownDifference.ID] if self.known else []
        return [setup.id for setup in self.setups] + [anchor.id for anchor in self.anchors] + known

    def is_control(self, key: Mapping[str, int]) -> bool:
        """Whether a trial of this key was a control: everything heard was the same setup."""
        return self.controls > 0 and len(set(key.values())) == 1

    def is_known(self, key: Mapping[str, int]) -> bool:
        """Whether a trial of this key was one of the known difference: it is heard there, and nowhere else."""
        return self.known is not None and len(self.setups) + len(self.anchors) in key.values()

    def counts(self, key: Mapping[str, int]) -> bool:
        """Whether a trial of this key counts: it was neither a control nor one of the known difference."""
        return not (self.is_control(key) | self.is_known(key))  # both are asked, whatever the key

    @property
    def seed(self) -> int:
        """The seed of whatever is drawn in judging: it follows from the plan, so that anyone gets the same draws."""
        return int.from_bytes(hashlib.sha256(self.text.encode()).digest()[:8], "big")

    @property
    def text(self) -> str:
        """The canonical JSON text that is sealed."""
        return canonical(self.document)

    @classmethod
    def from_text(cls, text: str, called: str = "") -> Plan:
        """The plan of a JSON text, under the name that it has in its casebook."""
        document = documents.value_of(text)
        return cls(document, "" if called == document.get("name") else called)


def check_numbers(trials: int, alpha: str) -> None:
    """Nothing, if a plan may have these numbers.

    Raises
    ------
    PlanError
        If trials or alpha are out of range; the message names the range.
    """
    if not 1 <= trials <= MOST_TRIALS:
        raise PlanError(f"--trials {trials} is out of range; give 1 to {MOST_TRIALS} for each listener")
    if not LEAST_ALPHA <= Decimal(alpha) <= MOST_ALPHA:
        raise PlanError(f"--alpha {alpha} is out of range; give {LEAST_ALPHA} to {MOST_ALPHA}, usually 0.05")


def check_document(value: Any, where: str = "plan") -> None:
    """Nothing, if the value may stand in a sealed document.

    Raises
    ------
    PlanError
        If it holds anything but objects, arrays, strings, whole numbers and booleans.
    """
    if isinstance(value, Mapping):
        for name, part in value.items():
            check_document(part, f"{where}.{name}")
    elif isinstance(value, list):
        for place, part in enumerate(value):
            check_document(part, f"{where}[{place}]")
    elif not isinstance(value, (str, int)):
        raise PlanError(f"{where} is {value!r}; a plan holds text, whole numbers and booleans only")


def void_reasons(plan: Plan, *, in_short: bool = False) -> list[str]:
    """Why a result under this plan could not count, as far as the plan itself tells; empty when it can.

    `in_short`: giveaways by passage and kind alone, for where they were told before.
    """
    reasons = []
    match = plan.match
    if match.sheet is None:
        reasons.append("the setups were not level-matched on the passages used")
    elif Decimal(match.residual_lu) > Decimal(match.tolerance_lu):
        reasons.append(f"the level match left {match.residual_lu} LU, more than the plan's {match.tolerance_lu} LU")
    told = any(giveaway.kind == BALANCE_KIND for giveaway in plan.open_giveaways)
    if match.unbalanced and not match.balance_accepted and not told:
        reasons.append(
            f"the balance of the channels differs by {match.balance_db} dB between the setups, more than the plan's "
            f"{match.balance_limit_db} dB"
        )
    if not plan.giveaways_checked:
        reasons.append("the passages were not checked for giveaways")
    if in_short:
        return reasons + plan_parts.open_in_short(plan.open_giveaways)
    return reasons + [f"an open giveaway in {each.passage}: {each.what}" for each in plan.open_giveaways]
