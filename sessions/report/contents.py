"""Everything a report tells, gathered from the casebook into records. It draws nothing and writes nothing."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from ..casebook import left_out, session_ends, session_rows, witness_rows
from ..casebook.catalogue import Setup
from ..casebook.session_ends import ShownEnd
from ..casebook.store import Casebook
from ..measured import curve_records
from ..plans import check_notes, evidence_in_force, seals, words_in_trials
from ..plans.plan import Plan
from ..plans.plan_rows import SealedPlan
from ..preparation import match_sheet
from ..preparation.match_sheet import MatchSheet
from ..preparation.mends import PassageMend
from ..results import chosen_lags, ears_and_curves, end_sentences, heard_freely, practised, review, viewers_results
from ..results.plan_record import PlanRecord
from ..results.review import ReviewedPlan
from ..results.verdict import CANNOT_BE_JUDGED, GIVEN_UP, NOT_BEGUN, RUNNING, Verdict
from ..results.verification import Verified
from ..results.viewers_results import ViewersTold
from ..words.corrections import CorrectedWords
from . import (
    downloads,
    drawing,
    measured_pictures,
    names_now,
    operator_words,
    told,
    trial_strips,
    unit_review,
    word_rows,
    words_beside,
)
from .claims import judged_claims
from .claims.standing import JudgedClaim
from .downloads import Download
from .drawing import Drawn
from .measured_pictures import Measured, MeasuredOf
from .told import Told
from .trial_strips import Strip
from .unit_review import UnitReview
from .word_rows import WordRow


@dataclass(frozen=True)
class Witnessed:
    """What makes a plan's result checkable: how its key was drawn, what was published, the ends, the record itself."""

    drawn: str
    seal_published: str
    ends_published: str
    ends: list[ShownEnd]
    downloads: list[Download]
    is_apart: bool = False
    """Whether its record is too large to stand in the page."""


@dataclass(frozen=True)
class Part:
    """One plan in the report."""

    plan: Plan
    seal: str
    sealed_at: str
    verdict: Verdict
    told: Told
    strips: list[Strip]
    sheet: MatchSheet | None
    mends: list[PassageMend]
    lags: list[str]
    notes: list[str]
    record: PlanRecord
    measured: Measured
    rehearsal: bool = False
    witnessed: Witnessed | None = None
    left_out: Sequence[str] = ()
    """The tracks that were left out, each with why."""
    accepted: Sequence[str] = ()
    """The giveaways that were accepted: passage, what was found, by how much beyond which limit, and the reason."""
    renamed: Sequence[str] = ()
    names_at_check: Mapping[str, str] = field(default_factory=dict)
    begun: frozenset[str] = frozenset()
    """The listeners who began a session, by identifier."""
    beside: Sequence[Drawn] = ()
    """The words of its ballot on the measured difference."""
    viewers: Sequence[ViewersTold] = ()
    """The tests that an audience took, made from it."""


@dataclass(frozen=True)
class Report:
    """A whole report; `measured` holds the curves of a casebook in which no plan is sealed yet."""

    title: str
    made_at: str
    parts: list[Part]
    rehearsals: list[Part]
    words: list[WordRow]
    checked: Verified
    limits: list[str] = field(default_factory=list)
    measured: Measured = field(default_factory=lambda: Measured([], []))
    corrected: str = ""
    review: UnitReview | None = None
    """Of one unit or of several: then the report is about these, and its fine print stands apart."""
    claims: Sequence[JudgedClaim] = ()


def gather(
    casebook: Casebook,
    title: str,
    *,
    rehearsals: bool = True,
    units: Sequence[Setup] = (),
    meanwhile: Callable[[], object] = tuple,
) -> Report:
    """The report of a casebook: all its plans and, where they are wanted, their rehearsals apart from them.

    Parameters
    ----------
    units
        Setups that it is about: of one all plans in which it took part, of several those between them. Judged is every
        plan all the same, since some are judged together.
    meanwhile
        What this process can do while others draw pictures.
    """
    with drawing.begun(some_will_be_drawn=curve_records.are_there(casebook)) as pictures:
        found = review.review(casebook, rehearsals=rehearsals)
        plans = [one for one in found.plans if _is_about(one.sealed.plan, units)]
        ids = {one.id for one in units}
        words = word_rows.gather(casebook, [one.record for one in found.plans])
        words = [row for row in words if not units or row.setup_id in ids]
        sketched = measured_pictures.sketched(casebook, [one.sealed.plan for one in plans], words, pictures, units)
        apart = downloads.apart(casebook, [one.sealed for one in plans if one.record.secret])
        parts = [_part(casebook, one.sealed, one.record, one.verdict, apart) for one in plans]
        rehearsed = [
            _part(casebook, one.sealed, one.rehearsal_record, one.rehearsal)
            for one in plans
            if one.rehearsal_record is not None and one.rehearsal is not None
        ]
        every = [*parts, *rehearsed]
        beside = words_beside.sketched(casebook, [(one.record, one.verdict) for one in every], pictures)
        claims = judged_claims.every(casebook, reviewed=found)
        if units:
            claims = unit_review.about(claims, units, [one.verdict for one in plans])
        meanwhile()
        drawn = pictures.drawn()
    measured = measured_pictures.measured_of(sketched, drawn)
    every = [
        replace(one, beside=drawing.whole(pictures_of, drawn)) for one, pictures_of in zip(every, beside, strict=True)
    ]
    parts, rehearsed = [_measured(casebook, one, measured) for one in every[: len(parts)]], every[len(parts) :]
    alone = Measured([], []) if parts and not units else measured(())
    return Report(
        title=title,
        made_at=casebook.now(),
        parts=parts,
        rehearsals=rehearsed,
        words=words,
        checked=found.checked,
        limits=[*_limits(parts, alone), *_heard_freely(casebook, parts)],
        measured=alone,
        corrected=CorrectedWords.of(words_in_trials.corrections(casebook)).in_words,
        review=_unit_review(casebook, units, parts, claims, found.plans) if units else None,
        claims=claims,
    )


def _unit_review(
    casebook: Casebook,
    units: Sequence[Setup],
    parts: Sequence[Part],
    claims: Sequence[JudgedClaim],
    ballots: Sequence[ReviewedPlan],
) -> UnitReview:
    asked = [one for part in parts for one in part.viewers]
    return unit_review.gather(casebook, units, [one.verdict for one in parts], claims, ballots=ballots, asked=asked)


def _is_about(plan: Plan, units: Sequence[Setup]) -> bool:
    """Whether a plan belongs into a report about these: with the one, or between two of several at least."""
    took_part = {setup.id for setup in plan.setups} & {one.id for one in units}
    return len(took_part) >= min(len(units), 2)


def _part(
    casebook: Casebook, sealed: SealedPlan, record: PlanRecord, judged: Verdict, apart: frozenset[str] = frozenset()
) -> Part:
    """A plan's part without what was measured; where it cannot be gathered, what is known all the same, and why.

    `apart` are the plans whose records have no room in the page.
    """
    bare = Part(
        judged.plan, sealed.seal, sealed.at, judged, told.of(judged), [], None, [], [], [], record, Measured([], []),
        judged.rehearsal,
    )  # fmt: skip
    whole = review.by_itself(
        lambda: _noted(_whole(casebook, bare)),
        lambda reason: replace(bare, told=bare.told.with_more(f"More of it cannot be shown: {reason}")),
    )
    if judged.rehearsal:
        return whole
    return review.by_itself(
        lambda: replace(whole, witnessed=_witnessed(casebook, sealed, record, sealed.plan.id in apart)),
        lambda reason: replace(whole, told=whole.told.with_more(f"How it was witnessed cannot be shown: {reason}")),
    )


def _witnessed(casebook: Casebook, sealed: SealedPlan, record: PlanRecord, is_apart: bool) -> Witnessed:
    ends, noted = session_ends.of_plan(casebook, sealed.plan.id), witness_rows.everything(casebook)
    return Witnessed(
        drawn=seals.how_drawn(casebook, sealed.plan),
        seal_published=end_sentences.seal_published([one for one in noted if one.code == sealed.seal]),
        ends_published=end_sentences.ends_published(ends, noted, session_ends.answer_rows(casebook, sealed.plan.id)),
        ends=ends,
        downloads=downloads.of_plan(casebook, sealed) if record.secret and not is_apart else [],
        is_apart=is_apart,
    )


def _left_out(casebook: Casebook, plan: Plan) -> list[str]:
    """The tracks that `compare` left out of what the plan's setups play, as it found them last."""
    setups = {setup.id for setup in plan.setups}
    whole = (one for one in left_out.everything(casebook) if one.left_out.whole and set(one.setups) <= setups)
    return sorted({f"{one.left_out.track}: {_without_commands(one.left_out.why)}" for one in whole})


def _without_commands(why: str) -> str:
    """What is said before the first command that is to be typed."""
    told, command, _ = why.partition("earwitness ")
    return told.rpartition("; ")[0] or told.rstrip(": ") if command else why


def _accepted(casebook: Casebook, plan: Plan, names: Mapping[str, str]) -> list[str]:
    """The giveaways that a plan accepts, as they were measured; told by the setups' names now."""
    if not plan.accepted_giveaways:
        return []
    findings = {
        (one.kind, one.setup, one.passage, one.what): one
        for each in evidence_in_force.checks(casebook, plan.checks)
        for one in each.record.findings
        if one.unit
    }
    lines = []
    for one in plan.accepted_giveaways:
        found = findings.get((one.kind, one.setup, one.passage, one.what))
        numbers = f" (measured {found.measured:.4g} {found.unit}, limit {found.limit:.4g})" if found else ""
        lines.append(f"In {one.passage}: {names_now.told(one.what, names)}{numbers}. Because: {one.why}")
    return lines


def _begun(casebook: Casebook, bare: Part) -> frozenset[str]:
    if bare.rehearsal:
        return frozenset(one.id for one in bare.plan.listeners)
    return frozenset(one.listener_id for one in session_rows.progress(casebook) if one.plan_id == bare.plan.id)


def _whole(casebook: Casebook, bare: Part) -> Part:
    plan, sheet = bare.plan, match_sheet.of_hash(casebook, bare.plan.match.sheet)
    mended, before_mends = names_now.mends_of(casebook, plan)
    at_check = names_now.since_checks(casebook, plan)
    return replace(
        bare,
        strips=trial_strips.of(bare.record),
        sheet=sheet,
        mends=mended,
        renamed=names_now.in_words([before_mends, names_now.on_sheet(sheet, plan), at_check]),
        names_at_check=at_check,
        lags=chosen_lags.sentences(casebook, plan),
        left_out=_left_out(casebook, plan),
        accepted=_accepted(casebook, plan, at_check),
        begun=_begun(casebook, bare),
        viewers=[] if bare.rehearsal else viewers_results.of_plan(casebook, plan.id),
        notes=[names_now.told(note, at_check) for note in check_notes.of_plan(casebook, plan)],
    )


def _measured(casebook: Casebook, part: Part, measured: MeasuredOf) -> Part:
    """The part with what was measured of its setups, and what is remarked of its listeners beside it."""
    found = measured(tuple(setup.id for setup in part.plan.setups))
    remarks = review.by_itself(
        lambda: ears_and_curves.of_plan(casebook, part.plan, found.comparisons),
        lambda reason: [f"What listeners hear cannot be set beside it: {reason}"],
    )
    return replace(part, measured=replace(found, sentences=[*found.sentences, *remarks]))


def _noted(part: Part) -> Part:
    """The part with the giveaway check's notes beside its verdict."""
    return replace(part, told=part.told.with_more(*check_notes.in_words(part.notes)))


def _known_before(casebook: Casebook, plan: Plan) -> list[str]:
    """What its listeners heard freely, and how much they practised."""
    own = practised.sentences(practised.practised(casebook, plan))
    return [*heard_freely.sentences(casebook, plan), *own]


def _heard_freely(casebook: Casebook, parts: Sequence[Part]) -> list[str]:
    """What listeners knew of the setups' sound before plans were begun, and how much they had practised."""
    found = []
    for plan in (part.plan for part in parts):
        said = review.by_itself(functools.partial(_known_before, casebook, plan), lambda _: list[str]())
        found += [f"In {plan.name}: {sentence[0].lower()}{sentence[1:]}" for sentence in said]
    return found


def _limits(parts: Sequence[Part], without_plan: Measured) -> list[str]:
    """What the report cannot show, said plainly."""
    limits = []
    alone = [part.plan.name for part in parts if operator_words.listened(part.plan, part.begun)]
    if alone:
        limits.append(
            f"In {', '.join(alone)} the operator listened too: a seal cannot prove that they did not look at the key."
        )
    failed = [part.plan.name for part in parts if part.verdict.state == CANNOT_BE_JUDGED]
    if failed:
        limits.append(f"Cannot be judged: {', '.join(failed)}; its part says why.")
    open_plans = [part.plan.name for part in parts if part.verdict.state in (RUNNING, NOT_BEGUN)]
    if open_plans:
        limits.append(f"Not over yet: {', '.join(open_plans)}.")
    given_up = [part.plan.name for part in parts if part.verdict.state == GIVEN_UP]
    if given_up:
        limits.append(f"Given up unopened, since a secret was lost: {', '.join(given_up)}; nothing of it can be told.")
    if any(not part.plan.match.is_real_gear for part in parts):
        limits.append("Levels were matched in the files; how loud it was at the ears was not measured.")
    for part in parts:
        said = list(filter(None, [part.plan.match.unjudged_in_words])) + check_notes.in_words(part.notes)
        limits += [f"In {part.plan.name}: {sentence}" for sentence in said]
    assisted = [part.plan.name for part in parts if part.plan.blinding.startswith("single-blind")]
    if assisted:
        limits.append(f"Single-blind: {', '.join(assisted)}; the assistant knew what was playing.")
    if not any(part.measured.pictures for part in parts) and not without_plan.pictures:
        limits.append("There are no measured curves in this report.")
    return limits
