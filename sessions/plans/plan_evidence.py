"""The part of a plan that comes from the casebook: setups, passages, level match, giveaways, what is made of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import partial
from typing import Any

from audio import anchors, known_difference
from audio.known_difference import Difference, Lift, Step

from ..casebook.catalogue import Passage, Setup
from ..casebook.documents import Kept
from ..casebook.store import Casebook
from ..errors import PlanError
from ..preparation import channel_balance, known_differences, prepared_audio
from ..preparation.channel_balance import BALANCE_LIMIT_DB
from ..preparation.match_sheet import MatchSheet, PreparedFile
from ..preparation.prepared_audio import SealedFile
from ..preparation.selection import Selection
from . import checked_pairs, evidence_in_force, plan_rows
from .plan_parts import BALANCE_KIND, OCTAVES, Anchor, KnownDifference


def setup_part(setup: Setup) -> dict[str, Any]:
    """A setup as a plan names it."""
    stated = {"setup": setup.id, "name": setup.name, "kind": setup.kind}
    return stated if setup.chain is None else stated | {"chain": setup.chain.to_document()}


@dataclass(frozen=True)
class PassageEvidence:
    """A passage, and what is played of it: rate, length, and each setup's (or anchor's) hash and file by identifier."""

    passage: Passage
    rate_hz: int
    frames: int
    audio: Mapping[str, str]
    files: Mapping[str, str]

    def to_document(self) -> dict[str, Any]:
        """The passage as a plan names it."""
        own = self.passage
        return {
            "passage": own.id,
            "name": own.name,
            "track": own.track_id,
            "cut": {"start_frame": own.start_frame, "frames": own.frames, "rate_hz": own.rate_hz},
            "rate_hz": self.rate_hz,
            "frames": self.frames,
            "audio": dict(self.audio),
            "files": dict(self.files),
        }


def passage_evidence(passage: Passage, kept: Kept[MatchSheet] | None) -> PassageEvidence:
    """A passage as a plan names it, with the hash and the file of what is played of each setup."""
    rate_hz, frames = passage.rate_hz, passage.frames
    files: tuple[PreparedFile, ...] = ()
    matched = kept.record.passage(passage.id) if kept else None
    if matched is not None:
        prepared = matched.prepared
        rate_hz, frames, files = prepared.rate_hz, prepared.frames, prepared.setups
    hashes, names = {own.setup: own.sha256 for own in files}, {own.setup: own.file for own in files}
    return PassageEvidence(passage, rate_hz, frames, hashes, names)


def match_part(
    kept: Kept[MatchSheet] | None, selection: Selection, accepted: Sequence[tuple[str, str]] = ()
) -> dict[str, str]:
    """The level match a plan rests on."""
    if kept is None:
        return {"sheet": "none", "by": "none", "residual_lu": "none", "tolerance_lu": "none"}
    wanted = {passage.id for passage in selection.passages}
    setups = {setup.id for setup in selection.setups}
    own = [part for part in kept.record.passages if part.prepared.passage in wanted]
    balances = [part.balance_between(setups) for part in own]
    unjudged = channel_balance.worst([pair for part in own for pair in part.balances_of(setups)])
    known = [each for each in balances if each is not None]
    balance_db = channel_balance.largest(known, all_judged=unjudged is None)
    stated = {
        "sheet": kept.hash,
        "by": kept.record.by,
        "residual_lu": f"{max(part.left_between(setups)[0] for part in own):.4f}",
        "tolerance_lu": str(Decimal(str(kept.record.tolerance_lu))),
    }
    if unjudged is not None:
        said = channel_balance.unjudged(unjudged)
        stated |= {
            "balance": "not judged",
            "balance_limit_db": str(BALANCE_LIMIT_DB),
            "balance_hides_db": said.hides_db,
        }
        stated |= {"balance_loudness_db": said.loudness_db} if said.loudness_db else {}
    if balance_db is None:
        return stated
    stated |= {"balance_db": f"{balance_db:.4f}", "balance_limit_db": str(BALANCE_LIMIT_DB)}
    why = dict(accepted).get(BALANCE_KIND)
    return stated if why is None or balance_db <= BALANCE_LIMIT_DB else stated | {"balance_accepted": why}


def giveaways_part(
    casebook: Casebook,
    selection: Selection,
    sheet: Kept[MatchSheet] | None,
    accepted: Sequence[tuple[str, str]],
) -> dict[str, Any]:
    """The giveaways found between its setups, accepted and open; not checked unless every pair of them was compared.

    Where pairs were compared by several checks, all of these are named, the newest as the check.
    """
    checked = checked_pairs.of_selection(casebook, selection, sheet)
    if any(each.open for each in checked):
        return {"check": "none", "accepted": [], "open": []}
    reasons = dict(accepted)
    found = [
        {"kind": one.kind, "setup": one.setup, "passage": one.passage, "what": one.what}
        for each in checked
        for one in each.found
    ]
    own = {each for one in checked for each in one.hashes}
    hashes = [each.hash for each in evidence_in_force.checks(casebook) if each.hash in own]
    return {
        "check": hashes[0],
        **({"checks": hashes} if len(hashes) > 1 else {}),
        "accepted": [one | {"why": reasons[one["kind"]]} for one in found if one["kind"] in reasons],
        "open": [one for one in found if one["kind"] not in reasons],
    }


def with_anchors(
    casebook: Casebook, passages: Sequence[PassageEvidence], reference: str, anchors_hz: Sequence[int]
) -> tuple[list[Anchor], list[PassageEvidence]]:
    """The anchors of a multi-stimulus plan, and its passages with their audio: low-passed from the reference's.

    Raises
    ------
    PlanError
        If the reference's prepared audio is missing: the setups are to be matched first.
    """
    made = [Anchor(f"anchor-{hz}", f"anchor {hz / 1000:g} kHz", hz) for hz in anchors_hz]
    completed = []
    for part in passages:
        name, source = part.passage.name, part.audio.get(reference)
        if source is None:
            raise PlanError(
                f"anchors are made from what is played of the reference, and {name!r} is not prepared; "
                "match the setups first (match files, mic or volts)"
            )
        audio, files = dict(part.audio), dict(part.files)
        played = prepared_audio.file_of(casebook, source, name, named=files[reference], sheet=None)
        for anchor in made:
            kept = prepared_audio.kept(casebook, partial(anchors.write, played, edge_hz=anchor.low_pass_hz))
            audio[anchor.id], files[anchor.id] = kept.sha256, kept.file
        completed.append(replace(part, audio=audio, files=files))
    return made, completed


def with_known(
    casebook: Casebook,
    passages: Sequence[PassageEvidence],
    first: str,
    known: KnownDifference,
    kept: Kept[MatchSheet] | None,
) -> tuple[KnownDifference, list[PassageEvidence]]:
    """The known difference with what its files measure, and the passages with its audio, made from the first setup.

    Raises
    ------
    PlanError
        If the setups are not matched, or it cannot be made as loud as they are.
    PassageError, MeasureError
        If it would clip, or cannot be made of a passage.
    """
    if kept is None:
        raise PlanError(
            "a known difference is made from what is played of the first setup, and nothing is prepared; match the "
            "setups first (match files, mic or volts)"
        )
    completed, left, changes = [], [0.0], []
    for part in passages:
        own, source = part.passage, SealedFile(part.audio[first], part.files[first])
        made = known_differences.prepared(casebook, own.id, own.name, source, kept.record, _sound_of(known))
        audio, files = {KnownDifference.ID: made.sha256}, {KnownDifference.ID: made.file}
        completed.append(replace(part, audio={**part.audio, **audio}, files={**part.files, **files}))
        left.append(made.residual_lu)
        if known.lift_hz is not None:
            played = prepared_audio.file_of(casebook, source.sha256, own.name, named=source.file, sheet=None)
            changes.append(known_difference.change_db(played, casebook.prepared / made.file))
    change = f"{min(changes):.1f}" if changes else ""
    return replace(known, residual_lu=f"{max(left):.4f}", change_db=change), completed


def _sound_of(known: KnownDifference) -> Difference:
    if known.lift_hz is None:
        return Step(float(known.step_db))
    return Lift(known.lift_hz, float(known.lift_db), OCTAVES)


def earlier_parts(casebook: Casebook, method: str, setups: Sequence[Setup], own_id: str) -> list[dict[str, str]]:
    """Plans on the same question sealed before: the same method and the same setups, whatever their order."""
    wanted = {setup.id for setup in setups}
    return [
        {"plan": other.plan.id, "name": other.plan.name, "seal": other.seal}
        for other in plan_rows.every_sealed(casebook)
        if other.plan.id != own_id
        and other.plan.method.name == method
        and {setup.id for setup in other.plan.setups} == wanted
    ]
