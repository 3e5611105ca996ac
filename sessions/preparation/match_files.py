"""Making the evidence a plan rests on: the match sheet, the giveaway check, the mends. Casebook in, casebook out.

It gathers recordings, lets the audio room calculate, and keeps what came of it. It makes no plan.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from audio import match, pairing, prepare
from audio.clip import Clip
from audio.files import reading
from audio.files.file_info import FileInfo
from audio.giveaways import inspection
from audio.giveaways.findings import LIMITS, Finding, finding
from audio.giveaways.repair import propose
from audio.levels.weighting import By
from audio.mend import Mend, read_mended

from ..casebook import catalogue
from ..casebook.catalogue import Passage, Recording, Setup
from ..casebook.store import Casebook, Row
from ..errors import CatalogueError

DEFAULT_TOLERANCE_LU = 0.1


@dataclass(frozen=True)
class Selection:
    """Which setups are compared on which passages."""

    setups: tuple[Setup, ...]
    passages: tuple[Passage, ...]


def select(casebook: Casebook, setups: Sequence[str], passages: Sequence[str]) -> Selection:
    """The named setups and passages; all of them where none is named.

    Raises
    ------
    CatalogueError
        If a name is unknown, or fewer than two setups or no passage remain.
    """
    chosen = [catalogue.find(casebook, Setup, name) for name in setups] or catalogue.everything(casebook, Setup)
    if len(chosen) < 2 or len({row.id for row in chosen}) != len(chosen):
        names = ", ".join(row.name for row in chosen) or "none"
        raise CatalogueError(f"a comparison needs two different setups; got: {names}")
    if passages:
        stretches = [catalogue.find(casebook, Passage, name) for name in passages]
    else:
        stretches = catalogue.everything(casebook, Passage)
    if not stretches:
        raise CatalogueError(
            "no passage to play; add one: earwitness passage suggest, or passage add TRACK --from S --to S"
        )
    return Selection(tuple(chosen), tuple(stretches))


def make_match_sheet(
    casebook: Casebook,
    selection: Selection,
    *,
    by: By = "bs1770",
    tolerance_lu: float = DEFAULT_TOLERANCE_LU,
    rate_hz: int | None = None,
) -> dict[str, Any]:
    """Match the setups on every passage, prepare the audio, measure it again, and keep the sheet.

    Returns the sheet's document: what the command line prints, with identifiers, file names and hashes added.

    Raises
    ------
    CatalogueError
        If a setup is real gear.
    """
    _check_files(selection, "match files")
    matched: list[match.PassageMatch] = []
    kept: list[dict[str, Any]] = []
    for passage in selection.passages:
        clips, sources = _clips(casebook, selection, passage, rate_hz)
        _check_same_music(passage, clips)
        result, paths = prepare.prepare(passage.name, clips, casebook.prepared, by=by, seed=passage.id.encode())
        matched.append(result)
        kept.append(
            {
                "passage": passage.id,
                "rate_hz": next(iter(clips.values())).rate_hz,
                "frames": next(iter(clips.values())).frames,
                "setups": [
                    prepared_setup(setup, sources[setup.name], mend_of(casebook, setup, passage), paths[setup.name])
                    for setup in selection.setups
                ],
            }
        )
    document = match.MatchSheet(by, tolerance_lu, tuple(matched)).to_document()
    for stated, own in zip(document["passages"], kept, strict=True):
        stated["prepared"] = own
    casebook.append("match_sheets", "sheet", {"document": json.dumps(document)})
    return document


def check_giveaways(casebook: Casebook, selection: Selection) -> dict[str, Any]:
    """Look for giveaways in what would be played (raw where nothing is prepared yet), and keep the check.

    Real setups all play the same prepared music; what could give them away is their arrival and their switch.
    """
    found: list[Finding] = []
    real = any(setup.is_real for setup in selection.setups)
    for passage in selection.passages:
        if real:
            found += _chain_findings(casebook, selection, passage)
            continue
        clips, infos = _played(casebook, selection, passage)
        mended = _rate_mended(casebook, selection, passage)
        found += inspection.inspect(
            passage.name,
            clips,
            infos,
            by=_by(casebook, selection),
            rate_mended=mended,
            sources=_sources(casebook, selection, passage),
        )
    document = {
        "ok": not found,
        "findings": [_stated(one) for one in found],
        "setups": [setup.id for setup in selection.setups],
        "passages": [passage.id for passage in selection.passages],
    }
    casebook.append("checks", "check", {"document": json.dumps(document)})
    return document


def mend(casebook: Casebook, selection: Selection, *, polarity: bool = False) -> list[dict[str, Any]]:
    """Repair what can be repaired (offset, drift, length, rate; polarity on request), and keep what was done.

    Raises
    ------
    CatalogueError
        If a setup is real gear.
    """
    _check_files(selection, "mending")
    done: list[dict[str, Any]] = []
    for passage in selection.passages:
        clips, sources = _clips(casebook, selection, passage, None)
        infos = {name: reading.inspect(catalogue.audio_path(casebook, row)) for name, row in sources.items()}
        brought = _rate_mended(casebook, selection, passage)
        raw = _sources(casebook, selection, passage)
        findings = inspection.inspect(passage.name, clips, infos, rate_mended=brought, sources=raw)
        by_name = {setup.name: setup for setup in selection.setups}
        for name, repair in propose(findings, polarity=polarity).items():
            after = mend_of(casebook, by_name[name], passage).then(repair)
            why = "; ".join(one.what for one in findings if one.setup == name and one.mend is not None)
            content = {
                "setup_id": by_name[name].id,
                "passage_id": passage.id,
                "document": json.dumps(asdict(after)),
            }
            casebook.append("mends", "mend", {**content, "why": why})
            done.append({"setup": name, "passage": passage.name, "why": why, **asdict(after)})
    return done


def mend_of(casebook: Casebook, setup: Setup, passage: Passage) -> Mend:
    """The repair in force for a setup's passage; none if nothing was mended."""
    sql = "SELECT document FROM mends WHERE setup_id = ? AND passage_id = ? ORDER BY seq DESC LIMIT 1"
    rows = casebook.query(sql, [setup.id, passage.id])
    return Mend(**json.loads(rows[0]["document"])) if rows else Mend()


def left_between(passage: Mapping[str, Any], names: Sequence[str]) -> tuple[float, float]:
    """What a match sheet's passage leaves between some of its setups, and the uncertainty of that, in LU."""
    levels = {own["setup"]: own["after_level_db"] for own in passage["setups"] if own["setup"] in names}
    uncertainty = max(pair["uncertainty_lu"] for pair in passage["pairs"] if set(pair["setups"]) <= set(names))
    return match.residual(levels), uncertainty


def prepared_setup(setup: Setup, source: Recording, repair: Mend, path: Path) -> dict[str, Any]:
    """What a sheet keeps of one setup's prepared file."""
    return {
        "setup": setup.id,
        "source": source.sha256,
        "mend": asdict(repair),
        "file": path.name,
        "sha256": reading.sha256(path),
    }


def newest_sheet(casebook: Casebook, selection: Selection) -> tuple[Row, dict[str, Any]] | None:
    """The newest match sheet that covers these setups and passages, with its row; None if there is none."""
    wanted_setups = {setup.id for setup in selection.setups}
    wanted = {passage.id for passage in selection.passages}
    for row in casebook.query("SELECT * FROM match_sheets ORDER BY seq DESC"):
        document = json.loads(row["document"])
        covered = {
            stated["prepared"]["passage"]
            for stated in document["passages"]
            if wanted_setups <= {own["setup"] for own in stated["prepared"]["setups"]}
        }
        if wanted <= covered:
            return row, document
    return None


def newest_check(casebook: Casebook, selection: Selection, after_seq: int) -> tuple[Row, dict[str, Any]] | None:
    """The newest giveaway check of these setups and passages made after a given link of the chain; None if none."""
    for row in casebook.query("SELECT * FROM checks WHERE seq > ? ORDER BY seq DESC", [after_seq]):
        document = json.loads(row["document"])
        if {s.id for s in selection.setups} <= set(document["setups"]) and {p.id for p in selection.passages} <= set(
            document["passages"]
        ):
            return row, document
    return None


def _clips(
    casebook: Casebook, selection: Selection, passage: Passage, rate_hz: int | None
) -> tuple[dict[str, Clip], dict[str, Recording]]:
    """Each setup's passage, cut, mended and at one rate; and the recordings they come from."""
    sources = {s.name: catalogue.recording(casebook, s, passage.track_id) for s in selection.setups}
    rate = rate_hz or max(row.rate_hz for row in sources.values())
    clips = {}
    for setup in selection.setups:
        source = sources[setup.name]
        path = unchanged(casebook, setup, source)
        clips[setup.name] = read_mended(
            path,
            passage.start_frame,
            passage.frames,
            passage.rate_hz,
            rate,
            mend_of(casebook, setup, passage),
        )
    return clips, sources


def unchanged(casebook: Casebook, setup: Setup, source: Recording) -> Path:
    """Where a recording lies, if it is still what was added.

    Raises
    ------
    CatalogueError
        If the file was changed.
    """
    path = catalogue.audio_path(casebook, source)
    reading.inspect(path)
    if reading.sha256(path) != source.sha256:
        raise CatalogueError(
            f"{path} was changed since it was added to setup {setup.name!r}; bring the old file back, or start a "
            "new casebook with the new one"
        )
    return path


def _played(casebook: Casebook, selection: Selection, passage: Passage) -> tuple[dict[str, Clip], dict[str, FileInfo]]:
    """What would be played of a passage, and the files it comes from."""
    sources = {s.name: catalogue.recording(casebook, s, passage.track_id) for s in selection.setups}
    infos = {name: reading.inspect(catalogue.audio_path(casebook, row)) for name, row in sources.items()}
    found = newest_sheet(casebook, Selection(selection.setups, (passage,)))
    if found is not None:
        prepared = next(p["prepared"] for p in found[1]["passages"] if p["prepared"]["passage"] == passage.id)
        names = {setup.id: setup.name for setup in selection.setups}
        current = {own["setup"]: own for own in prepared["setups"]}
        mended = all(current[s.id]["mend"] == asdict(mend_of(casebook, s, passage)) for s in selection.setups)
        paths = {names[key]: casebook.prepared / own["file"] for key, own in current.items() if key in names}
        if mended and all(path.is_file() for path in paths.values()):
            return {s.name: reading.read(paths[s.name]) for s in selection.setups}, infos
    return _clips(casebook, selection, passage, None)[0], infos


def _sources(casebook: Casebook, selection: Selection, passage: Passage) -> dict[str, Clip]:
    """The passage as it lies in each setup's file, to the nearest frame: sample for sample what was recorded."""
    cut = {}
    for setup in selection.setups:
        source = catalogue.recording(casebook, setup, passage.track_id)
        scale = source.rate_hz / passage.rate_hz
        late = round(mend_of(casebook, setup, passage).delay_s * source.rate_hz)
        start = min(max(round(passage.start_frame * scale) + late, 0), source.frames)
        frames = min(round(passage.frames * scale), source.frames - start)
        cut[setup.name] = reading.read(catalogue.audio_path(casebook, source), start, frames)
    return cut


def _rate_mended(casebook: Casebook, selection: Selection, passage: Passage) -> set[str]:
    return {s.name for s in selection.setups if mend_of(casebook, s, passage).rate_hz is not None}


def _by(casebook: Casebook, selection: Selection) -> By:
    """The measure of the match sheet in force; BS.1770 before there is one."""
    sheet = newest_sheet(casebook, selection)
    return sheet[1]["by"] if sheet else "bs1770"


def _check_same_music(passage: Passage, clips: Mapping[str, Clip]) -> None:
    reference, *others = clips
    for name in others:
        likeness = pairing.same_music(clips[reference], clips[name])
        if likeness < pairing.SAME_MUSIC:
            raise CatalogueError(
                f"passage {passage.name!r}: {reference!r} and {name!r} do not play the same music "
                f"(likeness {likeness:.2f}, at least {pairing.SAME_MUSIC:.2f} expected); check the files of that track"
            )


def _check_files(selection: Selection, what: str) -> None:
    real = [setup.name for setup in selection.setups if setup.is_real]
    if real:
        raise CatalogueError(
            f"{what} works on recordings; {real[0]!r} is real gear: match it where it is heard, with match mic or "
            "match volts"
        )


def _chain_findings(casebook: Casebook, selection: Selection, passage: Passage) -> list[Finding]:
    """What could give real setups away beside their sound: how they arrive, and how the switch sounds."""
    found = []
    chain = {setup.name: setup.chain for setup in selection.setups if setup.chain is not None}
    for name, own in chain.items():
        switch = own.switch
        if switch and switch.how != "assistant" and not switch.park and not switch.silent:
            what = (
                f"{name}: the switch has no neutral position, so it clicks when the setup changes and not when it stays"
            )
            found.append(finding("switching", name, passage.name, 1.0, what))
    sheet = newest_sheet(casebook, selection)
    arrivals = sheet[1].get("evidence", {}).get("arrivals_ms", {}) if sheet else {}
    if arrivals:
        for name in chain:
            late = arrivals[name] + chain[name].delay_us / 1000
            others = min(arrivals[other] + chain[other].delay_us / 1000 for other in chain)
            if late - others > LIMITS["onset"].value:
                what = (
                    f"{name} arrives {late - others:.2f} ms later at the microphone; give the others a --delay, or "
                    "place it nearer"
                )
                found.append(finding("onset", name, passage.name, late - others, what))
    return found


def _stated(one: Finding) -> dict[str, Any]:
    keys = ("kind", "setup", "passage", "measured", "limit", "unit", "source", "what")
    return {key: getattr(one, key) for key in keys} | {"mendable": one.mend is not None}
