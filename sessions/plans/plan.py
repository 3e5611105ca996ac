"""A plan: a test fixed in advance. Its one document, its canonical text, and what can be read from it.

Pure. The document holds objects, arrays, strings, whole numbers and booleans only; decimals are strings, so that its
canonical text is the same for everyone who checks the seal.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from typing import TYPE_CHECKING, Any

from stats.validation import Alternative

from ..casebook import playback_chain
from ..casebook.hash_chain import canonical
from ..casebook.playback_chain import PlaybackChain
from ..errors import PlanError
from . import methods
from .methods import Method

if TYPE_CHECKING:
    from stats.sequential.boundaries import Boundaries

MOST_TRIALS = 1000  # per listener; nobody listens longer, and a typing slip is caught
LEAST_ALPHA, MOST_ALPHA = Decimal("0.0001"), Decimal("0.5")


@dataclass(frozen=True)
class PlannedSetup:
    """A setup as a plan names it; a chain where it is real gear."""

    id: str
    name: str
    kind: str
    chain: PlaybackChain | None = None


@dataclass(frozen=True)
class PlannedPassage:
    """A passage as a plan names it.

    Attributes
    ----------
    cut_start_frame, cut_rate_hz
        Where in the track it begins, counted at the track's rate.
    rate_hz, frames
        Of what is played.
    audio, files
        For each setup (and anchor), by identifier: the hash of what is played, and the name of the prepared file that
        held it when the plan was sealed (plans of before 0.1.0 name no files).
    """

    id: str
    name: str
    track_id: str
    cut_start_frame: int
    cut_rate_hz: int
    rate_hz: int
    frames: int
    audio: Mapping[str, str]
    files: Mapping[str, str]

    @property
    def length_s(self) -> float:
        """How long what is played is, in seconds."""
        return self.frames / self.rate_hz


@dataclass(frozen=True)
class PlannedListener:
    """A listener as a plan names them."""

    id: str
    name: str


@dataclass(frozen=True)
class Anchor:
    """An anchor of a multi-stimulus plan: the reference, low-passed."""

    id: str
    name: str
    low_pass_hz: int


@dataclass(frozen=True)
class Plan:
    """A plan as its document says it."""

    document: Mapping[str, Any]

    @property
    def id(self) -> str:
        """The plan's identifier."""
        return str(self.document["plan"])

    @property
    def name(self) -> str:
        """The plan's name."""
        return str(self.document["name"])

    @property
    def method(self) -> Method:
        """The plan's method, with the labels that its setups and ties policy ask for."""
        return methods.of(self.document)

    @property
    def trials(self) -> int:
        """Trials for each listener that count; in a sequential plan the greatest number."""
        return int(self.document["trials"])

    @property
    def controls(self) -> int:
        """Trials for each listener in which every stimulus is the same setup; they never count."""
        return int(self.document.get("controls", 0))

    @property
    def slots(self) -> int:
        """Trials each listener is offered, controls among them."""
        return self.trials + self.controls

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
        return self.document["alternative"]

    @property
    def chance(self) -> float:
        """The share right by guessing, of a method whose answers are counted."""
        return methods.chance_of(self.method.name)

    @property
    def ties(self) -> str:
        """What becomes of ties."""
        return str(self.document.get("ties", "not offered"))

    @property
    def sequential(self) -> Mapping[str, Any] | None:
        """The sequential rule with its boundaries; None for a plan of fixed length."""
        return self.document.get("sequential")

    @property
    def boundaries(self) -> Boundaries | None:
        """The boundaries of a sequential plan."""
        if self.sequential is None:
            return None
        from stats.sequential.boundaries import Boundaries

        return Boundaries.from_document(self.sequential["boundaries"])

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
        return tuple(
            PlannedSetup(
                one["setup"],
                one["name"],
                one.get("kind", playback_chain.FILES),
                playback_chain.from_document(one["chain"]) if "chain" in one else None,
            )
            for one in self.document["setups"]
        )

    @cached_property
    def passages(self) -> tuple[PlannedPassage, ...]:
        """The passages played, in the plan's order."""
        return tuple(
            PlannedPassage(
                one["passage"],
                one["name"],
                one["track"],
                one["cut"]["start_frame"],
                one["cut"]["rate_hz"],
                one["rate_hz"],
                one["frames"],
                one["audio"],
                one.get("files", {}),
            )
            for one in self.document["passages"]
        )

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
    def sheet_hash(self) -> str | None:
        """The hash of the match sheet it rests on; None where there is none."""
        value = str(self.document["match"]["sheet"])
        return None if value == "none" else value

    @property
    def places(self) -> list[str]:
        """What can be heard, by place: the setups' names, then the anchors'."""
        return [setup.name for setup in self.setups] + [anchor.name for anchor in self.anchors]

    def is_control(self, key: Mapping[str, int]) -> bool:
        """Whether a trial of this key was a control: everything heard was the same setup."""
        return self.controls > 0 and len(set(key.values())) == 1

    @property
    def seed(self) -> int:
        """The seed of whatever is drawn in judging: it follows from the plan, so that anyone gets the same draws."""
        return int.from_bytes(hashlib.sha256(self.text.encode()).digest()[:8], "big")

    @property
    def text(self) -> str:
        """The canonical JSON text that is sealed."""
        return canonical(self.document)

    @classmethod
    def from_text(cls, text: str) -> Plan:
        """The plan of a JSON text."""
        return cls(json.loads(text))


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


def void_reasons(plan: Plan) -> list[str]:
    """Why a result under this plan could not count, as far as the plan itself tells; empty when it can."""
    reasons = []
    match = plan.document["match"]
    if match["sheet"] == "none":
        reasons.append("the setups were not level-matched on the passages used")
    elif Decimal(match["residual_lu"]) > Decimal(match["tolerance_lu"]):
        reasons.append(
            f"the level match left {match['residual_lu']} LU, more than the plan's {match['tolerance_lu']} LU"
        )
    giveaways = plan.document["giveaways"]
    if giveaways["check"] == "none":
        reasons.append("the passages were not checked for giveaways")
    for finding in giveaways["open"]:
        reasons.append(f"an open giveaway: {finding['what']}")
    return reasons
