"""The parts of a plan: setups, passages, listeners, anchors, known difference, level match, giveaways. Pure records.

Each is read from the plan's document; inside a document a setup, passage or listener is known by its identifier.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar

from ..casebook import playback_chain
from ..casebook.playback_chain import PlaybackChain
from ..preparation.channel_balance import Unjudged

OCTAVES = 1  # wide, between the points where the lift is half of its decibels


@dataclass(frozen=True)
class PlannedSetup:
    """A setup as a plan names it; a chain where it is real gear."""

    id: str
    name: str
    kind: str
    chain: PlaybackChain | None = None

    @classmethod
    def of(cls, stated: Mapping[str, Any]) -> PlannedSetup:
        """The setup that a document states."""
        chain = playback_chain.from_document(stated["chain"]) if "chain" in stated else None
        return cls(stated["setup"], stated["name"], stated.get("kind", playback_chain.FILES), chain)


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
        For each setup (and anchor, and the known difference), by identifier: the hash of what is played, and the name
        of the prepared file that held it when the plan was sealed (plans of before 0.1.0 name no files).
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

    @classmethod
    def of(cls, stated: Mapping[str, Any]) -> PlannedPassage:
        """The passage that a document states."""
        return cls(
            id=stated["passage"],
            name=stated["name"],
            track_id=stated["track"],
            cut_start_frame=stated["cut"]["start_frame"],
            cut_rate_hz=stated["cut"]["rate_hz"],
            rate_hz=stated["rate_hz"],
            frames=stated["frames"],
            audio=stated["audio"],
            files=stated.get("files", {}),
        )

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

    def to_document(self) -> dict[str, str | int]:
        """The anchor as a plan names it."""
        return {"anchor": self.id, "name": self.name, "low_pass_hz": self.low_pass_hz}


@dataclass(frozen=True)
class KnownDifference:
    """A difference made on purpose in some trials that never count: a lifted octave, or a step of level.

    It is made from what is played of the plan's first setup.

    Attributes
    ----------
    trials
        For each listener.
    lift_hz, lift_db
        The centre of the octave lifted and by how much (a decimal as text); None and empty of a step.
    step_db
        By how much it is louder, below 0 quieter (a decimal as text); empty of a lift.
    residual_lu
        The most by which its level is off what was wanted on any passage (a decimal as text).
    change_db
        How far below the music lies what a lift changes in it, on the passage where that is least (a decimal as text);
        empty of a step, and of plans sealed before that was measured.
    """

    trials: int
    lift_hz: int | None = None
    lift_db: str = ""
    step_db: str = ""
    residual_lu: str = ""
    change_db: str = ""

    ID: ClassVar[str] = "known"  # beside the setups' identifiers in a passage's audio and files

    @classmethod
    def of(cls, stated: Mapping[str, Any]) -> KnownDifference:
        """The known difference that a document states."""
        residual = str(stated["residual_lu"])
        if "step_db" in stated:
            return cls(stated["trials"], step_db=stated["step_db"], residual_lu=residual)
        return cls(stated["trials"], stated["lift_hz"], stated["lift_db"], "", residual, stated.get("change_db", ""))

    def to_document(self) -> dict[str, str | int]:
        """The known difference as a plan states it."""
        own: dict[str, str | int] = {"step_db": self.step_db}
        if self.lift_hz is not None:
            own = {"lift_hz": self.lift_hz, "lift_db": self.lift_db, "octaves": str(OCTAVES)}
        change = {"change_db": self.change_db} if self.change_db else {}
        return {"trials": self.trials, **own, "residual_lu": self.residual_lu, **change}

    @property
    def is_step(self) -> bool:
        """Whether it is a step of level, which is exact."""
        return self.lift_hz is None

    @property
    def in_words(self) -> str:
        """What it is: «a lift of 1 dB around 2 kHz»."""
        if self.lift_hz is None:
            size = float(self.step_db)
            return f"a level step of {abs(size):g} dB{' down' if size < 0 else ''}"
        hz = self.lift_hz
        return f"a lift of {float(self.lift_db):g} dB around {f'{hz / 1000:g} kHz' if hz >= 1000 else f'{hz} Hz'}"


BALANCE_KIND = "channel-level"  # the giveaway by whose name a difference of balance is accepted


@dataclass(frozen=True)
class LevelMatch:
    """The level match a plan rests on; `sheet` is the hash of its match sheet, None where there is none.

    `residual_lu` and `tolerance_lu` are decimals as text, and so are `balance_db` (by how much the channels' balance
    differs between setups) and its limit; None where it was not read or not judged, and in plans of before it was
    asked. `unjudged_balance` is what could not be judged of it, None where all could.
    `balance_accepted` is why a difference beyond the limit was accepted, empty where it was not.
    """

    sheet: str | None
    by: str
    residual_lu: str
    tolerance_lu: str
    balance_db: str | None = None
    balance_limit_db: str = ""
    balance_accepted: str = ""
    unjudged_balance: Unjudged | None = None

    @classmethod
    def of(cls, stated: Mapping[str, Any]) -> LevelMatch:
        """The level match that a document states."""
        sheet = None if stated["sheet"] == "none" else str(stated["sheet"])
        balance = stated.get("balance_db"), stated.get("balance_limit_db", ""), stated.get("balance_accepted", "")
        hides, loudness = stated.get("balance_hides_db"), stated.get("balance_loudness_db", "")
        unjudged = None if hides is None else Unjudged(hides, loudness)
        return cls(sheet, stated["by"], stated["residual_lu"], stated["tolerance_lu"], *balance, unjudged)

    @property
    def unjudged_in_words(self) -> str:
        """That the balance, or that of others than what is stated, could not be judged; empty where all could."""
        unjudged = self.unjudged_balance
        return "" if unjudged is None else unjudged.in_words(elsewhere=self.balance_db is not None)

    @property
    def unbalanced(self) -> bool:
        """Whether the channels' balance differs by more than its limit."""
        return self.balance_db is not None and Decimal(self.balance_db) > Decimal(self.balance_limit_db)

    @property
    def accepted_balance(self) -> tuple[StatedGiveaway, ...]:
        """A balance beyond its limit that was accepted, as the giveaway that it is; of no setup and passage alone."""
        if not self.balance_accepted:
            return ()
        what = f"the balance of the channels differs by {self.balance_db} dB between setups, by the match sheet"
        return (StatedGiveaway(BALANCE_KIND, "", "", what, self.balance_accepted),)

    @property
    def is_real_gear(self) -> bool:
        """Whether it was made where the sound is heard, or at the terminals."""
        return self.by in ("mic", "volts")


@dataclass(frozen=True)
class StatedGiveaway:
    """A giveaway as a plan states it; `why` it was accepted, empty where it was not."""

    kind: str
    setup: str
    passage: str
    what: str
    why: str = ""


def open_in_short(found: Sequence[StatedGiveaway]) -> list[str]:
    """In which passages giveaways are open, and of which kinds, as one reason; none where there are none."""
    kinds: dict[str, dict[str, None]] = {}
    for each in found:
        kinds.setdefault(each.passage, {})[each.kind] = None
    where = [f"{passage} ({', '.join(own)})" for passage, own in kinds.items()]
    return [f"giveaways are open in {' and '.join(filter(None, [', '.join(where[:-1]), where[-1]]))}"] if where else []


@dataclass(frozen=True)
class EarlierPlan:
    """A plan on the same question that was sealed before."""

    id: str
    name: str
    seal: str
