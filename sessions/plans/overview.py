"""Where a casebook stands: setups and what they lack, passages and their evidence, plans and their progress.

It gathers and prints nothing; `next_steps` says what follows. It loads no arithmetic, so that it is there at once.
It reads nothing of keys: of a plan that runs it knows how many trials are answered, never how.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from ..casebook import catalogue, catalogue_changes, left_out, playback_chain, session_rows, witness_rows, written_since
from ..casebook.catalogue import Listener, Passage, Setup, Track
from ..casebook.documents import Kept
from ..casebook.store import Casebook
from ..casebook.written_since import Added, WrittenSince
from ..preparation import channel_balance
from ..preparation.selection import Selection
from . import check_notes, evidence_in_force, plan_rows, sealed_audio
from .evidence_in_force import CheckedFinding, CheckSummary, SheetPassage, SheetSummary, Sources
from .plan_rows import Draft, PlanSummary
from .standings import (
    AWAITS_PHRASE,
    DRAFT,
    GIVEN_UP,
    OVER,
    SEALED,
    UNDER_WAY,
    LeftOutStanding,
    ListenerProgress,
    Overview,
    PassageStanding,
    PlanStanding,
    SetupStanding,
)

_EARLY = "closed early: "  # `seals.close` writes it before the reason


class Checked(NamedTuple):
    """What a check found on a passage, and noted of it."""

    found: list[CheckedFinding]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Evidence:
    """The sheets (by passage) and checks there are, the newest first, and what they must fit."""

    sheets: Mapping[str, Sequence[tuple[Kept[SheetSummary], SheetPassage]]]
    checks: tuple[Kept[CheckSummary], ...]
    sources: Sources
    real: frozenset[str]
    names_then: Callable[[str, int], Mapping[str, str]]
    sheet_holds: Callable[[str, Collection[str]], bool]
    """Whether the newest sheet of a passage and setups holds, asked of `evidence_in_force`, which loads arithmetic."""

    def match(self, passage_id: str, setups: Collection[str] | None) -> tuple[Kept[SheetSummary], SheetPassage] | None:
        """The newest sheet with this passage and these setups (None: whichever it has), and its part of the sheet."""
        for kept, part in self.sheets.get(passage_id, ()):
            if setups is None or set(setups) <= {file.setup for file in part.prepared.setups}:
                return kept, part
        return None

    def holds(self, kept: Kept[SheetSummary], part: SheetPassage, setups: Collection[str] | None) -> bool:
        files = [file for file in part.prepared.setups if setups is None or file.setup in setups]
        passage = part.prepared.passage
        if not self.sources.hold(files, passage, self.real, kept.seq):
            return False
        mended = self.sources.mended_since(passage, kept.seq)
        return not mended or self.sheet_holds(passage, {file.setup for file in files})

    def check(self, passage: Passage, setups: Mapping[str, str], after: int) -> Checked | None:
        """What was found on a passage of these setups (names by identifier); None: not checked since."""
        for kept in self.checks:
            if kept.seq <= after:
                return None
            if passage.id in kept.record.passages and set(setups) <= set(kept.record.setups):
                name = self.names_then("passages", kept.seq).get(passage.id, passage.name)
                called = self.names_then("setups", kept.seq)
                names = {called.get(one, setups[one]) for one in setups}
                found = [one for one in kept.record.findings if one.passage == name and one.setup in names]
                return Checked(found, check_notes.about(kept.record.notes, name, names))
        return None


def gather(casebook: Casebook) -> Overview:
    """Where a casebook stands now."""
    setups, tracks = catalogue.everything(casebook, Setup), catalogue.everything(casebook, Track)
    passages = catalogue.everything(casebook, Passage)
    files = _files(casebook)
    since = written_since.written_since(one for own in files.values() for one in own.values())
    names = catalogue.Names({track.id: track.name for track in tracks})
    then: dict[tuple[str, int], Mapping[str, str]] = {}

    def names_then(table: str, seq: int) -> Mapping[str, str]:
        if (table, seq) not in then:
            then[table, seq] = catalogue_changes.names_then(casebook, table, seq)
        return then[table, seq]

    def sheet_holds(passage: str, of: Collection[str]) -> bool:
        chosen = tuple(one for one in setups if one.id in of), tuple(one for one in passages if one.id == passage)
        return evidence_in_force.sheet(casebook, Selection(*chosen)) is not None

    sheets: dict[str, list[tuple[Kept[SheetSummary], SheetPassage]]] = {}
    for kept in evidence_in_force.summaries(casebook):
        for part in kept.record.passages:
            sheets.setdefault(part.prepared.passage, []).append((kept, part))
    evidence = _Evidence(
        sheets,
        tuple(evidence_in_force.checks(casebook)),
        Sources.of(casebook),
        frozenset(setup.id for setup in setups if setup.is_real),
        names_then,
        sheet_holds,
    )
    called = catalogue.Names({setup.id: setup.name for setup in setups})
    return Overview(
        str(casebook.folder),
        tuple(_setup(setup, files, names, since, _measured(casebook, setup)) for setup in setups),
        tuple(names.values()),
        tuple(_passage(passage, names, called, evidence) for passage in passages),
        tuple(one.name for one in catalogue.everything(casebook, Listener)),
        _plans(casebook, setups, passages, evidence),
        tuple(
            LeftOutStanding(
                one.left_out.track,
                tuple(called[setup] for setup in one.setups),
                one.left_out.why,
                one.left_out.whole,
                one.again,
            )
            for one in left_out.everything(casebook)
        ),
    )


def _files(casebook: Casebook) -> dict[str | None, dict[str, Added]]:
    """The files by setup (None: the music itself) and track."""
    found: dict[str | None, dict[str, Added]] = {}
    columns = "track_id, path, sha256, added_at"
    for row in casebook.query(
        f"SELECT setup_id, {columns} FROM recordings UNION ALL SELECT NULL, {columns} FROM sources"
    ):
        path = Path(casebook.folder, row["path"])  # an absolute path stays itself
        found.setdefault(row["setup_id"], {})[row["track_id"]] = Added(path, row["sha256"], row["added_at"])
    return found


def _measured(casebook: Casebook, setup: Setup) -> tuple[int, int]:
    """How many curves of a setup count, without harmonics, and how many things its maker states."""
    [row] = casebook.query(
        """SELECT (SELECT count(*) FROM curves WHERE setup_id = :setup AND kind != 'distortion'
                   AND id NOT IN (SELECT curve_id FROM withdrawals)) AS curves,
                  (SELECT count(*) FROM facts AS own WHERE setup_id = :setup AND value != '' AND seq =
                   (SELECT max(seq) FROM facts WHERE setup_id = :setup AND what = own.what)) AS facts""",
        {"setup": setup.id},
    )
    return row["curves"], row["facts"]


def _setup(
    setup: Setup,
    files: Mapping[str | None, Mapping[str, Added]],
    tracks: Mapping[str, str],
    since: WrittenSince,
    measured: tuple[int, int],
) -> SetupStanding:
    own = files.get(None if setup.is_real else setup.id, {})
    paths = [one.path for one in own.values()]
    return SetupStanding(
        setup.name,
        setup.kind,
        playback_chain.described(setup.chain),
        setup.note,
        tuple(name for track, name in tracks.items() if track in own),
        tuple(name for track, name in tracks.items() if track not in own),
        tuple(str(path) for path in paths if not path.is_file()),
        tuple(str(path) for path in paths if path in since.changed),
        tuple(str(path) for path in paths if path in since.unread),
        *measured,
    )


def _passage(
    passage: Passage, tracks: Mapping[str, str], called: Mapping[str, str], evidence: _Evidence
) -> PassageStanding:
    match, matched, residual, tolerance = "none", {}, None, None
    check, found, hides_db = "none", Checked([], ()), None
    newest = evidence.match(passage.id, None)
    if newest is not None:
        kept, part = newest
        matched = {one.setup: called[one.setup] for one in part.prepared.setups if one.setup in called}
        residual, tolerance = part.residual_lu, kept.record.tolerance_lu
        match = "ok" if residual <= tolerance else "off"
        if not evidence.holds(kept, part, set(matched)):
            match = "outdated"
        unjudged = channel_balance.worst(part.balances)
        hides_db = None if unjudged is None else unjudged.hides_db
        checked = evidence.check(passage, matched, kept.seq)
        check = "none" if checked is None else "found" if checked.found else "clean"
        found = checked or found
    return PassageStanding(
        passage.name,
        tracks[passage.track_id],
        passage.start_frame / passage.rate_hz,
        passage.frames / passage.rate_hz,
        passage.note,
        match,
        tuple(matched.values()),
        residual,
        tolerance,
        check,
        len(found.found),
        found.notes,
        hides_db,
    )


def _plans(
    casebook: Casebook, setups: list[Setup], passages: list[Passage], evidence: _Evidence
) -> tuple[PlanStanding, ...]:
    lost = {plan: f"{_EARLY}{why}" for plan, why in plan_rows.given_up(casebook).items()}
    openings, phrases = plan_rows.openings(casebook) | lost, plan_rows.with_phrase(casebook)
    progress = {(one.plan_id, one.listener_id): one for one in session_rows.progress(casebook)}
    noted: dict[str, list[str]] = {}
    for one in witness_rows.everything(casebook):
        noted.setdefault(one.code, []).append(one.by)
    since = {row.name: row.at for row in plan_rows.listed(casebook)}
    found = [_draft(draft, since[draft.name], setups, passages, evidence) for draft in plan_rows.every_draft(casebook)]
    for sealed in plan_rows.summaries(casebook):
        why = openings.get(sealed.plan)
        awaits = bool(sealed.phrase) and sealed.plan not in phrases
        own = {listener: one for (plan, listener), one in progress.items() if plan == sealed.plan}
        audio = (0, 0) if why is not None else sealed_audio.missing(casebook, sealed.passages)
        found.append(_sealed(sealed, why, own, awaits, tuple(noted.get(sealed.seal, ())), audio))
    return tuple(sorted(found, key=lambda one: one.at))


def _sealed(
    sealed: PlanSummary,
    why: str | None,
    progress: Mapping[str, session_rows.Progress],
    awaits: bool,
    published: tuple[str, ...],
    audio: tuple[int, int],
) -> PlanStanding:
    state = AWAITS_PHRASE if awaits else UNDER_WAY if progress else SEALED
    if why is not None:
        state = GIVEN_UP if why.startswith(_EARLY) else OVER
    return PlanStanding(
        sealed.name,
        sealed.method,
        state,
        sealed.at,
        sealed.seal,
        (why or "").removeprefix(_EARLY) if state == GIVEN_UP else "",
        tuple(setup["name"] for setup in sealed.setups),
        _listeners(sealed, progress),
        published,
        audio=audio[0],
        missing_audio=audio[1],
        matched_by=str(sealed.match.get("by", "")),
        rate_hz=_asked_rate(sealed),
    )


def _asked_rate(sealed: PlanSummary) -> int:
    """The rate at which all of a plan was prepared, if that was asked for: its passages are cut at another."""
    rates_hz = {int(passage["rate_hz"]) for passage in sealed.passages}
    cut = {int(passage["cut"]["rate_hz"]) for passage in sealed.passages}
    return rates_hz.pop() if len(rates_hz) == 1 and rates_hz != cut else 0


def _listeners(sealed: PlanSummary, progress: Mapping[str, session_rows.Progress]) -> tuple[ListenerProgress, ...]:
    found = []
    for listener in sealed.listeners:
        own = progress.get(listener["listener"])
        answered, complete = (own.answered, own.complete) if own else (0, False)
        found.append(ListenerProgress(listener["name"], answered, sealed.slots, complete))
    return tuple(found)


def _draft(draft: Draft, at: str, setups: list[Setup], passages: list[Passage], evidence: _Evidence) -> PlanStanding:
    wish = draft.wish
    own = [one for one in setups if not wish.setups or one.name in wish.setups or one.id in wish.setups]
    stretches = [one for one in passages if not wish.passages or one.name in wish.passages or one.id in wish.passages]
    return PlanStanding(
        draft.name,
        wish.method,
        DRAFT,
        at,
        "",
        "",
        tuple(one.name for one in own),
        tuple(ListenerProgress(name, 0, wish.trials or 0, complete=False) for name in wish.listeners),
        (),
        tuple(_lacks(own, stretches, {kind for kind, _ in wish.accepted}, evidence)),
    )


def _lacks(setups: list[Setup], passages: list[Passage], accepted: Collection[str], evidence: _Evidence) -> list[str]:
    """What of its evidence a draft lacks: ``match``, ``check``, ``mend``, ``polarity`` or ``acceptance``."""
    names, lacking = catalogue.Names({one.id: one.name for one in setups}), []
    for passage in passages:
        newest = evidence.match(passage.id, set(names))
        if newest is None or not evidence.holds(*newest, set(names)):
            return ["match"]
        checked = evidence.check(passage, names, newest[0].seq)
        if checked is None:
            lacking.append("check")
        else:
            found = [one for one in checked.found if one.kind not in accepted]
            mend = {True: "mend", False: "acceptance"}
            lacking += ["polarity" if one.mendable and one.kind == "polarity" else mend[one.mendable] for one in found]
    return [one for one in ("check", "mend", "polarity", "acceptance") if one in lacking]
