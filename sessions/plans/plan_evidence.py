"""The part of a plan that comes from the casebook: setups, passages, level match, giveaways, anchors, earlier plans."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from audio import anchors
from audio.files import reading

from ..casebook.catalogue import Passage, Setup
from ..casebook.store import Casebook, Row
from ..errors import PlanError
from ..preparation import match_files, prepared_audio
from . import plan_rows


def setup_part(setup: Setup) -> dict[str, Any]:
    """A setup as a plan names it."""
    stated = {"setup": setup.id, "name": setup.name, "kind": setup.kind}
    return stated if setup.chain is None else stated | {"chain": setup.chain.to_document()}


def passage_part(passage: Passage, sheet: tuple[Row, dict[str, Any]] | None) -> dict[str, Any]:
    """A passage as a plan names it, with the hash of what is played of each setup."""
    audio: dict[str, str] = {}
    rate_hz, frames = passage.rate_hz, passage.frames
    if sheet is not None:
        own = next(p["prepared"] for p in sheet[1]["passages"] if p["prepared"]["passage"] == passage.id)
        audio = {s["setup"]: s["sha256"] for s in own["setups"]}
        rate_hz, frames = own["rate_hz"], own["frames"]
    return {
        "passage": passage.id,
        "name": passage.name,
        "track": passage.track_id,
        "cut": {"start_frame": passage.start_frame, "frames": passage.frames, "rate_hz": passage.rate_hz},
        "rate_hz": rate_hz,
        "frames": frames,
        "audio": audio,
    }


def match_part(sheet: tuple[Row, dict[str, Any]] | None, selection: match_files.Selection) -> dict[str, str]:
    """The level match a plan rests on."""
    if sheet is None:
        return {"sheet": "none", "by": "none", "residual_lu": "none", "tolerance_lu": "none"}
    row, document = sheet
    wanted = {passage.id for passage in selection.passages}
    names = [setup.name for setup in selection.setups]
    own = [p for p in document["passages"] if p["prepared"]["passage"] in wanted]
    return {
        "sheet": row["hash"],
        "by": document["by"],
        "residual_lu": f"{max(match_files.left_between(p, names)[0] for p in own):.4f}",
        "tolerance_lu": str(Decimal(str(document["tolerance_lu"]))),
    }


def giveaways_part(
    casebook: Casebook,
    selection: match_files.Selection,
    sheet: tuple[Row, dict[str, Any]] | None,
    accepted: Sequence[tuple[str, str]],
) -> dict[str, Any]:
    """The giveaways found, accepted and open."""
    found = match_files.newest_check(casebook, selection, sheet[0]["seq"] if sheet else 0)
    if found is None:
        return {"check": "none", "accepted": [], "open": []}
    row, document = found
    reasons = dict(accepted)
    setups = {setup.name for setup in selection.setups}
    passages = {passage.name for passage in selection.passages}
    findings = [f for f in document["findings"] if f["setup"] in setups and f["passage"] in passages]
    stated = [{key: f[key] for key in ("kind", "setup", "passage", "what")} for f in findings]
    return {
        "check": row["hash"],
        "accepted": [f | {"why": reasons[f["kind"]]} for f in stated if f["kind"] in reasons],
        "open": [f for f in stated if f["kind"] not in reasons],
    }


def anchor_parts(
    casebook: Casebook, passages: Sequence[dict[str, Any]], reference: str, anchors_hz: Sequence[int]
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """The anchors of a multi-stimulus plan, and its passages with their audio: low-passed from the reference's.

    Raises
    ------
    PlanError
        If the reference's prepared audio is missing: the setups are to be matched first.
    """
    made = [{"name": f"anchor {hz / 1000:g} kHz", "anchor": f"anchor-{hz}", "low_pass_hz": hz} for hz in anchors_hz]
    told = []
    for passage in passages:
        source = passage["audio"].get(reference)
        if source is None:
            raise PlanError(
                f"anchors are made from what is played of the reference, and {passage['name']!r} is not prepared; "
                "match the setups first (match files, mic or volts)"
            )
        audio = dict(passage["audio"])
        for hz, anchor in zip(anchors_hz, made, strict=True):
            path = casebook.prepared / f"{source[:16]}-{hz}.wav"
            if not path.is_file():
                anchors.write(prepared_audio.file_of(casebook, source, passage["name"]), path, hz)
            audio[anchor["anchor"]] = reading.sha256(path)
        told.append(passage | {"audio": audio})
    return made, told


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
