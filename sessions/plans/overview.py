"""Where a casebook stands: setups and what they lack, passages and their evidence, plans and their progress.

It gathers and prints nothing; `next_steps` says what follows. It loads no arithmetic, so that it is there at once.
It reads nothing of keys: of a plan that runs it knows how many trials are answered, never how.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from pathlib import Path

from ..casebook import catalogue, free_rows, left_out, playback_chain, session_rows, witness_rows, written_since
from ..casebook.catalogue import Listener, Passage, Setup, Track
from ..casebook.last_active import last_active
from ..casebook.left_out import Noted
from ..casebook.store import Casebook
from ..casebook.written_since import Added, WrittenSince
from ..preparation import channel_balance
from ..preparation.selection import Selection
from ..words import log
from ..words.blindness import LABELS
from ..words.corrections import CorrectedWords
from . import (
    accepted_kinds,
    evidence_in_force,
    left_out_again,
    open_setups,
    plan_rows,
    sealed_audio,
    tracks_standing,
    vain_drafts,
    viewers_rows,
    words_in_trials,
)
from .accepted_kinds import Accepting
from .checked_pairs import Checked, PairChecks
from .evidence_in_force import Sources
from .passage_evidence import Evidence
from .plan_rows import Draft, PlanSummary
from .standings import (
    AWAITS_PHRASE,
    DRAFT,
    GIVEN_UP,
    OVER,
    SEALED,
    UNDER_WAY,
    FreeStanding,
    LeftOutStanding,
    ListenerProgress,
    Overview,
    PassageStanding,
    PlanStanding,
    SetupStanding,
)

_EARLY = "closed early: "  # `seals.close` writes it before the reason


def gather(casebook: Casebook) -> Overview:
    """Where a casebook stands now."""
    setups, tracks = catalogue.everything(casebook, Setup), catalogue.everything(casebook, Track)
    passages = catalogue.everything(casebook, Passage)
    drafts, plans, ended = plan_rows.every_draft(casebook), plan_rows.summaries(casebook), _ended(casebook)
    standing = _not_given_up(plans, ended)
    files = _files(casebook)
    since = written_since.written_since(one for own in files.values() for one in own.values())
    names = catalogue.Names({track.id: track.name for track in tracks})
    called = catalogue.Names({setup.id: setup.name for setup in setups})

    def sheet_holds(passage: str, of: Collection[str]) -> bool:
        chosen = tuple(one for one in setups if one.id in of), tuple(one for one in passages if one.id == passage)
        return evidence_in_force.sheet(casebook, Selection(*chosen)) is not None

    sheets = evidence_in_force.by_passage(casebook)
    evidence = Evidence(
        sheets,
        PairChecks(casebook, tuple(evidence_in_force.checks(casebook)), sheets),
        Sources.of(casebook),
        frozenset(setup.id for setup in setups if setup.is_real),
        sheet_holds,
        accepted_kinds.of_all(drafts, standing),
        called,
    )
    waiting = [_draft(one, setups, passages, evidence) for one in drafts]
    open_tracks = tracks_standing.unlaid(casebook)
    unlaid = [track for track in tracks if track.id in open_tracks]
    unlike = tracks_standing.unlike(casebook, unlaid, called)
    return Overview(
        str(casebook.folder),
        tuple(_setup(setup, files, names, since, _measured(casebook, setup)) for setup in setups),
        tuple(names.values()),
        tuple(_passage(passage, names, called, evidence) for passage in passages),
        tuple(one.name for one in catalogue.everything(casebook, Listener)),
        tuple(sorted([*waiting, *_plans(casebook, plans, ended)], key=lambda one: one.at)),
        tuple(_left_out(casebook, one, called, files) for one in left_out.everything(casebook)),
        tracks_standing.unplaced(casebook, unlaid),
        tracks_standing.without_passage(tracks, passages, files, unlike),
        unlike,
        *_words(casebook),
        CorrectedWords.of(words_in_trials.corrections(casebook)),
        _heard_freely(casebook, called),
        viewers_rows.standings(casebook),
        tracks_standing.unplanned(passages, names, drafts, standing),
        last_active(casebook),
    )


def accepting(casebook: Casebook) -> Sequence[Accepting]:
    """The drafts and plans that accept giveaways, as far as they do."""
    standing = _not_given_up(plan_rows.summaries(casebook), _ended(casebook))
    return accepted_kinds.of_all(plan_rows.every_draft(casebook), standing)


def _ended(casebook: Casebook) -> dict[str, str]:
    """Why each plan that is over is, by identifier; of one that was given up unopened as if it was closed early."""
    lost = {plan: f"{_EARLY}{why}" for plan, why in plan_rows.given_up(casebook).items()}
    return plan_rows.openings(casebook) | lost


def _not_given_up(plans: Sequence[PlanSummary], ended: Mapping[str, str]) -> list[PlanSummary]:
    """The plans that were neither closed early nor given up unopened."""
    return [one for one in plans if not ended.get(one.plan, "").startswith(_EARLY)]


def _words(casebook: Casebook) -> tuple[dict[str, int], int]:
    """How many words there are by how they were said, and how many of them in trials set apart."""
    said = words_in_trials.labelled(casebook, log.words(casebook))
    counts = {label: sum(one.label == label for one in said) for label in LABELS} if said else {}
    return counts, sum(bool(one.apart) for one in said)


def _heard_freely(casebook: Casebook, setups: Mapping[str, str]) -> tuple[FreeStanding, ...]:
    who = catalogue.names(casebook, Listener)
    return tuple(
        FreeStanding(who[one.listener_id], setups[one.setup_id], one.heard_ms / 1000)
        for one in free_rows.heard(casebook)
    )


def _left_out(
    casebook: Casebook, noted: Noted, called: Mapping[str, str], files: Mapping[str | None, Mapping[str, Added]]
) -> LeftOutStanding:
    names = tuple(called[setup] for setup in noted.setups)
    first = [next(iter(files.get(setup, {}).values()), None) for setup in noted.setups]
    folders = [None if one is None else one.path.resolve().parent for one in first]
    told = left_out_again.pointed(noted, casebook.folder.resolve(), names, folders)
    return LeftOutStanding(told.left_out.track, names, told.left_out.why, told.left_out.whole, told.again)


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
    passage: Passage, tracks: Mapping[str, str], called: Mapping[str, str], evidence: Evidence
) -> PassageStanding:
    match, matched, residual, tolerance = "none", {}, None, None
    check, found, hides_db = "none", Checked((), (), (), ()), None
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
        found = evidence.check(passage, matched, newest)
        check = "found" if found.found else "none" if found.open or not found.hashes else "clean"
    else:
        found = evidence.unmatched(passage)
        check = "found" if found.found else "none"
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
        tuple(sorted({"polarity" if one.kind == "polarity" else "mend" for one in found.found if one.mendable})),
        tuple(dict.fromkeys(one.kind for one in found.found)),
        evidence.accepted(passage, found.found),
    )


def _plans(casebook: Casebook, plans: Sequence[PlanSummary], ended: Mapping[str, str]) -> list[PlanStanding]:
    phrases = plan_rows.with_phrase(casebook)
    progress = {(one.plan_id, one.listener_id): one for one in session_rows.progress(casebook)}
    noted: dict[str, list[str]] = {}
    for one in witness_rows.everything(casebook):
        noted.setdefault(one.code, []).append(one.by)
    found = []
    for sealed in plans:
        why = ended.get(sealed.plan)
        awaits = bool(sealed.phrase) and sealed.plan not in phrases
        own = {listener: one for (plan, listener), one in progress.items() if plan == sealed.plan}
        audio = (0, 0) if why is not None else sealed_audio.missing(casebook, sealed.passages)
        found.append(_sealed(sealed, why, own, awaits, tuple(noted.get(sealed.seal, ())), audio))
    return found


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
        rate_hz=_one_rate(sealed),
    )


def _one_rate(sealed: PlanSummary) -> int:
    """The rate at which all of a plan was prepared; 0 where its passages have rates of their own."""
    rates_hz = {int(passage["rate_hz"]) for passage in sealed.passages}
    return rates_hz.pop() if len(rates_hz) == 1 else 0


def _listeners(sealed: PlanSummary, progress: Mapping[str, session_rows.Progress]) -> tuple[ListenerProgress, ...]:
    found = []
    for listener in sealed.listeners:
        own = progress.get(listener["listener"])
        answered, complete = (own.answered, own.complete) if own else (0, False)
        found.append(ListenerProgress(listener["name"], answered, sealed.slots, complete, begun=own is not None))
    return tuple(found)


def _draft(draft: Draft, setups: list[Setup], passages: list[Passage], evidence: Evidence) -> PlanStanding:
    wish = draft.wish
    to_name = open_setups.to_name(wish, setups)
    own = [*to_name] or [one for one in setups if not wish.setups or one.name in wish.setups or one.id in wish.setups]
    stretches = [one for one in passages if not wish.passages or one.name in wish.passages or one.id in wish.passages]
    lacks, kinds, poor = _lacks(own, stretches, {kind for kind, _ in wish.accepted}, evidence)
    return PlanStanding(
        draft.name,
        wish.method,
        DRAFT,
        draft.at,
        "",
        "",
        tuple(one.name for one in own),
        tuple(ListenerProgress(name, 0, wish.trials or 0, complete=False) for name in wish.listeners),
        (),
        ("setups",) if to_name else tuple(lacks),
        unaccepted=tuple(dict.fromkeys(kinds)),
        poor=poor,
        sound=tuple(one.name for one in stretches if one.name not in poor) if poor else (),
        vain=not lacks and vain_drafts.shows_nothing(wish, len(own)),  # what it lacks comes first
        further=tuple(one.name for one in passages if one not in stretches and one.added_at > draft.at),
    )


def _lacks(
    setups: list[Setup], passages: list[Passage], accepted: Collection[str], evidence: Evidence
) -> tuple[list[str], list[str], tuple[str, ...]]:
    """What of its evidence a draft lacks: ``match``, ``check``, ``mend``, ``polarity`` or ``acceptance``.

    And the kinds of its giveaways that nothing mends and nobody accepted, and the passages best left out for these.
    """
    names, lacking = catalogue.Names({one.id: one.name for one in setups}), list[str]()
    kinds, of_each = list[str](), dict[str, list[str]]()
    for passage in passages:
        newest = evidence.match(passage.id, set(names))
        if newest is None or not evidence.holds(*newest, set(names)):
            return ["match"], [], ()
        checked = evidence.check(passage, names, newest)
        lacking += ["check"] * bool(checked.open)
        found = [one for one in checked.found if one.kind not in accepted]
        mend = {True: "mend", False: "acceptance"}
        of_each[passage.name] = [one.kind for one in found if not one.mendable]
        kinds += of_each[passage.name]
        lacking += ["polarity" if one.mendable and one.kind == "polarity" else mend[one.mendable] for one in found]
    poor = accepted_kinds.to_leave_out(of_each)
    return [one for one in ("check", "mend", "polarity", "acceptance") if one in lacking], kinds, poor
