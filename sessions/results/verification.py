"""Checking a casebook: chain, tables and guards, catalogue, seals, keys, runs played again. It changes nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial

from ..casebook import (
    catalogue_marks,
    hash_chain,
    hearing_rows,
    inspection,
    secret_files,
    session_counters,
    threshold_rows,
    training_rows,
)
from ..casebook.catalogue_marks import MarkedCatalogue
from ..casebook.chain_ends import End
from ..casebook.inspection import Inspected
from ..casebook.session_counters import Age
from ..casebook.store import Casebook, Row
from ..errors import CasebookError
from ..plans import plan_rows, randomisation, sealed_audio, second_hand, trial_keys
from ..plans.plan import Plan
from ..plans.plan_rows import SealedPlan
from . import catalogue_check, expected_turns, key_faults, plan_record, seen_ends, viewers_check
from .origin_checks import Origins, without_brought_in
from .plan_record import PlanRecord
from .seen_ends import KeptCode, SeenEnd


@dataclass(frozen=True)
class Verified:
    """What a check of a casebook found: nothing, when the record holds.

    Attributes
    ----------
    head
        The hash of the chain's end, as the casebook states it; empty where it states none.
    older_entries
        Entries of the catalogue that were there before the chain held them: compared with the sealed documents only.
    age
        What the casebook has seen, and those that were brought in, counted anew.
    end
        The chain's end as a code; empty where there is none.
    seen
        The ends that somebody kept, and whether the record contains them.
    without_secret
        Plans and viewers' tests under way whose secret is not here, so that seal and keys cannot be checked; no verdict
        suffers by it.
    without_audio, audio_gone
        What of the prepared audio is missing or changed, of plans that are still to be listened to; and what is
        missing of plans that are over, whose verdict does not suffer by it. The record holds without it; it is looked
        for only where that was asked.
    brought_in
        Casebooks that were merged into it, each with a chain of its own, which was laid again.
    uncovered_answers
        Answers given after the last of the kept ends that are there: none of those ends protects them.
    """

    rows: int
    plans: int
    head: str
    broken: list[str]
    older_entries: int = 0
    age: Age = field(default_factory=Age)
    end: str = ""
    seen: tuple[SeenEnd, ...] = ()
    without_secret: tuple[str, ...] = ()
    uncovered_answers: int = 0
    without_audio: tuple[str, ...] = ()
    audio_gone: tuple[str, ...] = ()
    brought_in: int = 0

    @property
    def ok(self) -> bool:
        """Whether nothing is wrong, and all of it could be checked."""
        return not self.broken and not self.without_secret and all(one.there for one in self.seen)


def verify(
    casebook: Casebook,
    published_head: str | None = None,
    records: Mapping[str, PlanRecord] | None = None,
    kept: Sequence[KeptCode] = (),
    *,
    audio: bool = False,
) -> Verified:
    """Recompute every hash of the chain, every seal and key; compare tables, guards and catalogue with what they were.

    Parameters
    ----------
    published_head
        A chain hash published earlier (in a report, say): the record must still contain it.
    records
        The plans' records by identifier, where the caller has them already.
    kept
        Ends of the chain that somebody kept: the record must still contain them.
    audio
        Whether to look at the prepared audio on the disk too.
    """
    known = records or {}
    with casebook.snapshot() as copy:
        found = inspection.inspect(copy)
        whole = Origins(found)
        own = whole.own
        broken = [*_chain_faults(found, published_head, whole), *found.faults]
        catalogue = catalogue_marks.of_rows(found.rows)
        broken += catalogue.faults()
        plans = {one: record.plan for one, record in known.items()}
        broken += _as_written(own, catalogue, plans)
        brought_in = [laid for _, laid in whole.laid]
        broken += seen_ends.witness_faults(own, found, brought_in)
        broken += _tried("what was brought in cannot be read", whole.faults)
        chains = [own.chained]
        for origin, laid in whole.laid:
            called = f"the casebook {origin['casebook']} that was brought in"
            written = without_brought_in(laid)
            chains.append(written.chained)
            there = _as_written(written, catalogue_marks.of_rows(laid.rows), plans)
            there += [*seen_ends.witness_faults(written, laid, brought_in), *_misplaced(written)]
            broken += [f"{called}: {fault}" for fault in there]
        broken += _tried("the runs for a threshold cannot be read", partial(_threshold_faults, copy))
        broken += _tried("the viewers' tests cannot be read", partial(viewers_check.faults, copy, found))
        for row in found.rows["plans"]:
            faults = _tried("cannot be checked", partial(_faults_of, copy, own, row, known))
            broken += [f"plan {row['name']}: {fault}" for fault in faults]
    head = str(found.own["head_hash"]) if found.own else ""
    seen = tuple(seen_ends.look_for(kept, found, brought_in))
    over = {row["plan_id"] for row in found.rows["openings"]}
    heard = (
        {row["id"]: _audio(casebook, row, read=row["id"] not in over) for row in found.rows["plans"]} if audio else {}
    )
    return Verified(
        len(found.chained),
        len(found.rows["plans"]),
        head,
        broken,
        catalogue.older,
        session_counters.age(found.chained, chains),
        _end_code(found),
        seen,
        (*_without_secret(casebook, found), *viewers_check.without_secret(casebook, found)),
        len(found.rows["answers"]) - len(seen_ends.covered(kept, [found, *brought_in])),
        tuple(fault for plan, faults in heard.items() if plan not in over for fault in faults),
        tuple(fault for plan, faults in heard.items() if plan in over for fault in faults),
        len(brought_in),
    )


def _audio(casebook: Casebook, row: Row, *, read: bool) -> list[str]:
    """What of a plan's prepared audio is missing or, where it is read, changed."""

    def look() -> list[str]:
        return sealed_audio.faults(casebook, Plan.from_text(row["document"]), read=read)

    return [f"plan {row['name']}: {fault}" for fault in _tried("its prepared audio cannot be looked at", look)]


def _without_secret(casebook: Casebook, found: Inspected) -> tuple[str, ...]:
    over = {row["plan_id"] for table in ("openings", "given_up") for row in found.rows[table]}
    running = [row for row in found.rows["plans"] if row["id"] not in over]
    return tuple(
        f"plan {row['name']}: its secret is not in {secret_files.path_of(casebook.folder, row['id'])}, so that it can "
        "be neither checked nor listened to nor closed; put back the folder that belongs to this casebook"
        for row in running
        if not plan_rows.secret(casebook, row["id"])
    )


def _end_code(found: Inspected) -> str:
    """The chain's end as its code; empty where there is none, or what the file states as such is none."""
    try:
        return str(End(found.own["head_seq"], found.own["head_hash"]).code) if found.own and found.chained else ""
    except (ValueError, TypeError):
        return ""


def _as_written(written: Inspected, catalogue: MarkedCatalogue, plans: Mapping[str, Plan]) -> list[str]:
    """What a casebook wrote itself against its catalogue, its counters and its sessions' turns."""
    return [
        *_tried(
            "the catalogue cannot be compared with the sealed plans and match sheets",
            partial(catalogue_check.faults, catalogue, written.rows, plans),
        ),
        *_tried("the counters cannot be read", partial(session_counters.faults, written.chained)),
        *_tried("the sessions' turns cannot be read", partial(expected_turns.faults, written)),
    ]


def _misplaced(written: Inspected) -> list[str]:
    """Keys of any plan that stand where none may be told, in the chain of a casebook that was brought in."""
    return [
        f"plan {row['name']}: {fault}"
        for row in written.rows["plans"]
        for fault in _tried("cannot be checked", partial(_misplaced_of, written, str(row["document"])))
    ]


def _misplaced_of(written: Inspected, document: str) -> list[str]:
    return _misplaced_keys(written, Plan.from_text(document))


def _chain_faults(found: Inspected, published_head: str | None, whole: Origins) -> list[str]:
    rows = found.chained
    end = (rows[-1][1]["seq"], rows[-1][1]["hash"]) if rows else (0, hash_chain.START)
    if found.own:
        end = (found.own["head_seq"], found.own["head_hash"])
    faults = [f"{one.table} {one.row_id} (link {one.seq}): {one.what}" for one in hash_chain.breaks(rows, *end)]
    every = {row["hash"] for _, row in rows} | {row["hash"] for _, laid in whole.laid for _, row in laid.chained}
    if published_head is not None and published_head not in every:
        faults.append(f"the published chain hash {published_head} is not in this casebook: rows before it were changed")
    return faults


def _faults_of(copy: Casebook, found: Inspected, row: Row, known: Mapping[str, PlanRecord]) -> list[str]:
    record = known.get(row["id"])
    if record is None:
        sealed = SealedPlan(Plan.from_text(row["document"], row["name"]), row["seal"], row["at"], row["seq"])
        record = plan_record.record(copy, sealed)
    if record.plan.id != row["id"]:
        return ["its document is that of another plan"]
    return _plan_faults(copy, record, found)


def _threshold_faults(copy: Casebook) -> list[str]:
    """Runs for a threshold, for the highest tone, or of training, that contradict the rule they were played by."""
    every, high, trained = threshold_rows.every(copy), hearing_rows.every(copy), training_rows.every(copy)
    if not (every or high or trained):
        return []
    from ..measured import (
        own_thresholds,
        own_training,
    )  # its arithmetic is loaded only where there is something to work out

    found = [f"the run {one.id} for a threshold: {fault}" for one in every for fault in own_thresholds.faults(one)]
    found += [f"the run {one.id} of hearing: {fault}" for one in high for fault in own_thresholds.faults(one)]
    return found + [f"the run {one.id} of training: {fault}" for one in trained for fault in own_training.faults(one)]


def _tried(otherwise: str, check: Callable[[], Iterable[str]]) -> list[str]:
    """What a check finds; where what it reads was edited until it cannot even be read, that is what was found."""
    try:
        return list(check())
    except CasebookError as error:
        return [f"{otherwise}: {error}"]
    except Exception as error:  # an edited document can fail anywhere; it must be named, and end nothing
        return [f"{otherwise}: {type(error).__name__}: {error}"]


def _plan_faults(casebook: Casebook, record: PlanRecord, inspected: Inspected) -> list[str]:
    plan, rows, found = record.plan, inspected.rows, list[str]()
    secret = plan_rows.secret(casebook, plan.id)
    if secret and randomisation.seal(secret, plan.text) != record.seal:
        found.append("the plan and its kept secret do not give the seal")
    if any(secret_files.from_text(row["secret"]) != secret for row in rows["secrets"] if row["plan_id"] == plan.id):
        found.append("another secret stands in the casebook's table of secrets, where none belongs any more")
    found += _misplaced_keys(inspected, plan)
    found += expected_turns.end_faults(record)
    if record.secret is not None and any(row["plan_id"] == plan.id for row in rows["given_up"]):
        found.append("it was given up unopened, and its opening stands in the record")
    if record.secret is not None:
        return found + key_faults.key_faults(record)
    if any(row["plan_id"] == plan.id for row in rows["second_hands"]):
        found.append("its second secret stands in the record before its opening")
    if record.begun_before_phrase:
        found.append(key_faults.BEFORE_PHRASE)
    if second_hand.is_held(plan) or not secret:
        return found  # there is no key in any row, and nobody here could work one out
    return found + _keys_before_opening(casebook, plan, randomisation.coin_key(secret, record.phrase))


def _misplaced_keys(found: Inspected, plan: Plan) -> list[str]:
    """Keys that stand twice, or earlier in the chain than they may be told."""
    counts = {row["id"]: row["rehearsal"] is None for row in found.rows["sessions"] if row["plan_id"] == plan.id}
    opened = next((row["seq"] for row in found.rows["openings"] if row["plan_id"] == plan.id), None)
    first_without = min((row["seq"] for row in found.rows["trials"] if row["key"] == "null"), default=None)
    rows_of_keys, faults = {row["trial_id"]: row["seq"] for row in found.rows["keys"]}, []
    for trial in found.rows["trials"]:
        if trial["session_id"] not in counts:
            continue
        which, link = f"trial {trial['trial']} (offer {trial['offer']})", rows_of_keys.get(trial["id"])
        in_trial = trial["key"] != "null"
        if link is not None and in_trial:
            faults.append(f"the key of {which} stands there twice")
        if link is not None and opened is None:
            faults.append(f"the key of {which} stands in a row before the plan's opening")
        elif link is not None and not trial["seq"] < link < opened:
            faults.append(f"the key of {which} was not written with the plan's opening")
        late = second_hand.is_held(plan) or (first_without is not None and first_without < trial["seq"])
        if counts[trial["session_id"]] and in_trial and late:  # a casebook of before may hold keys up to its last one
            faults.append(f"{which} was written with its key, before the plan's opening")
    return faults


def _keys_before_opening(casebook: Casebook, plan: Plan, secret: bytes) -> list[str]:
    """Keys of a running plan against its coins; says which trial, never what its key is."""
    return [
        f"trial {kept.trial} (offer {kept.offer}) has another key than its coin"
        for kept in plan_record.keys_before_opening(casebook, plan.id)
        if trial_keys.key(plan, secret, kept.listener, kept.trial, kept.offer) != kept.key
    ]
