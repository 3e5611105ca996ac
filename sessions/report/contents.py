"""Everything a report tells, gathered from the casebook into records. It draws nothing and writes nothing."""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from audio.errors import MeasureError

from ..casebook import catalogue, left_out, session_ends, session_rows, witness_rows
from ..casebook.catalogue import Setup
from ..casebook.session_ends import ShownEnd
from ..casebook.store import Casebook
from ..errors import CatalogueError
from ..measured import curve_sentences
from ..plans import check_notes, seals, words_in_trials
from ..plans.plan import Plan
from ..plans.plan_rows import SealedPlan
from ..preparation import match_sheet, mends
from ..preparation.match_sheet import MatchSheet
from ..preparation.mends import PassageMend
from ..results import chosen_lags, end_sentences, heard_freely, review
from ..results.plan_record import PlanRecord
from ..results.verdict import CANNOT_BE_JUDGED, GIVEN_UP, NOT_BEGUN, RUNNING, Verdict
from ..results.verification import Verified
from ..words import lexicon_rows
from ..words.corrections import CorrectedWords
from ..words.lexicon import Lexicon
from . import downloads, operator_words, side_by_side, told, trial_strips, word_rows, words_heard
from .downloads import Download
from .told import Told
from .trial_strips import Strip
from .word_rows import WordRow

if TYPE_CHECKING:
    from ..measured.curve_comparison import CurveComparison
    from ..measured.figures.figure import FigureData


OF_SEVERAL = ("pair", "places", "seatings", "electronics")  # figures of curves that do not stand for their setup


@dataclass(frozen=True)
class Drawn:
    """A picture as it stands on the page, its caption, and what stands under that, a line each."""

    drawn: str
    caption: str
    below: Sequence[str] = ()


@dataclass(frozen=True)
class Measured:
    """The curves beside a comparison: sentences, and pictures with their captions."""

    sentences: list[str]
    pictures: list[Drawn]


@dataclass(frozen=True, eq=False)
class Sketch:
    """A picture that is still to be drawn: its figure, its caption, and what stands under that."""

    figure: FigureData
    caption: str
    below: Sequence[str] = ()


@dataclass(frozen=True)
class Sketched:
    """What was measured of some setups, with its pictures as far as they are."""

    sentences: list[str]
    pictures: list[Sketch | Drawn]


MeasuredOf = Callable[[tuple[str, ...]], Measured]
"""What was measured of some setups, by their identifiers."""


@dataclass(frozen=True)
class Witnessed:
    """What makes a plan's result checkable: how its key was drawn, what was published, the ends, the record itself."""

    drawn: str
    seal_published: str
    ends_published: str
    ends: list[ShownEnd]
    downloads: list[Download]


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
    begun: frozenset[str] = frozenset()
    """The listeners who began a session, by identifier."""


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


def gather(casebook: Casebook, title: str, *, rehearsals: bool = True) -> Report:
    """The report of a casebook: all its plans and, where they are wanted, their rehearsals apart from them."""
    found = review.review(casebook, rehearsals=rehearsals)
    words = word_rows.gather(casebook, [one.record for one in found.plans])

    measured = _everything_measured(casebook, [one.sealed.plan for one in found.plans], words)
    parts = [_part(casebook, one.sealed, one.record, one.verdict, measured) for one in found.plans]
    practised = [
        _part(casebook, one.sealed, one.rehearsal_record, one.rehearsal, measured)
        for one in found.plans
        if one.rehearsal_record is not None and one.rehearsal is not None
    ]
    alone = Measured([], []) if parts else measured(())
    return Report(
        title=title,
        made_at=casebook.now(),
        parts=parts,
        rehearsals=practised,
        words=words,
        checked=found.checked,
        limits=[*_limits(parts, alone), *_heard_freely(casebook, parts)],
        measured=alone,
        corrected=CorrectedWords.of(words_in_trials.corrections(casebook)).in_words,
    )


def _with_curves(casebook: Casebook) -> tuple[str, ...]:
    """The setups, by identifier, of which curves are there that count, or facts."""
    from ..measured import curve_records, fact_rows

    counting = {one.setup for one in curve_records.listed(casebook) if not one.withdrawn}
    setups = catalogue.everything(casebook, Setup)
    return tuple(one.id for one in setups if one.name in counting or fact_rows.of_setup(casebook, one))


def _part(casebook: Casebook, sealed: SealedPlan, record: PlanRecord, judged: Verdict, measured: MeasuredOf) -> Part:
    """A plan's part; where it cannot be gathered, what of it is known without the casebook, and why."""
    bare = Part(
        judged.plan, sealed.seal, sealed.at, judged, told.of(judged), [], None, [], [], [], record, Measured([], []),
        judged.rehearsal,
    )  # fmt: skip
    whole = review.by_itself(
        lambda: _noted(_whole(casebook, bare, measured)),
        lambda reason: replace(bare, told=bare.told.with_more(f"More of it cannot be shown: {reason}")),
    )
    if judged.rehearsal:
        return whole
    return review.by_itself(
        lambda: replace(whole, witnessed=_witnessed(casebook, sealed, record)),
        lambda reason: replace(whole, told=whole.told.with_more(f"How it was witnessed cannot be shown: {reason}")),
    )


def _witnessed(casebook: Casebook, sealed: SealedPlan, record: PlanRecord) -> Witnessed:
    ends, noted = session_ends.of_plan(casebook, sealed.plan.id), witness_rows.everything(casebook)
    return Witnessed(
        drawn=seals.how_drawn(casebook, sealed.plan),
        seal_published=end_sentences.seal_published([one for one in noted if one.code == sealed.seal]),
        ends_published=end_sentences.ends_published(ends, noted, session_ends.answer_rows(casebook, sealed.plan.id)),
        ends=ends,
        downloads=downloads.of_plan(casebook, sealed) if record.secret else [],
    )


def _left_out(casebook: Casebook, plan: Plan) -> list[str]:
    """The tracks that `compare` left out of what the plan's setups play, as it found them last."""
    setups = {setup.id for setup in plan.setups}
    whole = (one for one in left_out.everything(casebook) if one.left_out.whole and set(one.setups) <= setups)
    return sorted({one.left_out.track for one in whole})


def _begun(casebook: Casebook, bare: Part) -> frozenset[str]:
    if bare.rehearsal:
        return frozenset(one.id for one in bare.plan.listeners)
    return frozenset(one.listener_id for one in session_rows.progress(casebook) if one.plan_id == bare.plan.id)


def _whole(casebook: Casebook, bare: Part, measured: MeasuredOf) -> Part:
    plan = bare.plan
    return replace(
        bare,
        strips=trial_strips.of(bare.record),
        sheet=match_sheet.of_hash(casebook, plan.match.sheet),
        mends=_mends(casebook, plan),
        lags=chosen_lags.sentences(casebook, plan),
        left_out=_left_out(casebook, plan),
        begun=_begun(casebook, bare),
        notes=check_notes.of_plan(casebook, plan),
        measured=Measured([], []) if bare.rehearsal else measured(tuple(setup.id for setup in plan.setups)),
    )


def _noted(part: Part) -> Part:
    """The part with the giveaway check's notes beside its verdict."""
    return replace(part, told=part.told.with_more(*check_notes.in_words(part.notes)))


def _everything_measured(casebook: Casebook, plans: Sequence[Plan], words: Sequence[WordRow]) -> MeasuredOf:
    """What was measured of each plan's setups, or without plans of all: each picture drawn once for all who show it."""

    @functools.cache
    def of_one(setup: Setup, is_compared: bool) -> list[Sketch | Drawn]:
        return _of_one(casebook, setup, is_compared or bool(plans))

    asked = {tuple(setup.id for setup in plan.setups) for plan in plans}
    sketched = {setups: _sketched(casebook, setups, words, of_one) for setups in sorted(asked)}
    if not plans:
        sketched[()] = _sketched(casebook, _with_curves(casebook), words, of_one)
    sketches = list(dict.fromkeys(one for own in sketched.values() for one in own.pictures if isinstance(one, Sketch)))
    drawn = dict(zip(sketches, _drawn(sketches), strict=True))
    measured = {
        setups: Measured(own.sentences, [drawn[one] if isinstance(one, Sketch) else one for one in own.pictures])
        for setups, own in sketched.items()
    }
    return measured.__getitem__


def _sketched(
    casebook: Casebook,
    setups: Sequence[str],
    words: Sequence[WordRow],
    of_one: Callable[[Setup, bool], list[Sketch | Drawn]],
) -> Sketched:
    """What was measured of the setups compared: both on one set of axes, their difference, and each by itself."""
    return review.by_itself(
        lambda: _every_measured(casebook, setups, words, of_one),
        lambda reason: Sketched([f"Measured: cannot be shown: {reason}"], []),
    )


def _every_measured(
    casebook: Casebook,
    setup_ids: Sequence[str],
    words: Sequence[WordRow],
    of_one: Callable[[Setup, bool], list[Sketch | Drawn]],
) -> Sketched:
    from ..measured.figures.responses import Overlay

    setups = [catalogue.find(casebook, Setup, setup) for setup in setup_ids]
    measured = curve_sentences.measurements_of(casebook, setups)
    pictures: list[Sketch | Drawn] = []
    for one in measured.comparisons:
        pictures.append(Sketch(Overlay(one), f"Measured on axis: {' and '.join(one.names)}."))
        pictures.append(_difference(one, setups, words, lexicon_rows.in_force(casebook)))
    compared = {name for one in measured.comparisons for name in one.names}
    for setup in setups:
        pictures += of_one(setup, setup.name in compared)
    return Sketched(measured.sentences, pictures)


def _difference(
    compared: CurveComparison, setups: Sequence[Setup], words: Sequence[WordRow], lexicon: Lexicon
) -> Sketch:
    """The difference of two curves, with the words heard of their setups where a band is stated for them."""
    from ..measured.figures.responses import Difference

    own = {setup.id: name for name in compared.names for setup in setups if setup.name == name}
    heard = words_heard.words_heard(words, own, compared.difference.band, lexicon)
    figure = Difference(compared, heard.marked(), words_heard.EXPLAINED)
    return Sketch(figure, f"The difference: {' less '.join(compared.names)}.", heard.lines())


def _of_one(casebook: Casebook, setup: Setup, is_compared: bool) -> list[Sketch | Drawn]:
    """What was measured of a setup, as far as it was: its axis too, where no comparison has it."""
    from ..measured import curve_records
    from ..measured.figures.figure import Subject
    from ..measured.figures.figure_table import named
    from ..measured.figures.needs import NotMeasured
    from ..measured.frequency_response import SMOOTHING

    subject, pictures = Subject(curve_records.of_setup(casebook, setup), SMOOTHING), list[Sketch | Drawn]()
    axis = subject.measured.on_axis
    there = {
        "response": axis is not None and not is_compared,
        "directivity": len(subject.measured.directions) > 1,
        "impedance": subject.measured.impedance is not None,
        "decay": axis is not None and axis.kind == "impulse",
        **dict.fromkeys(OF_SEVERAL, True),
    }
    if subject.measured.is_loop:
        there["pair"] = False  # channels of electronics, which have a table of their own
    for what in (what for what, is_there in there.items() if is_there):
        try:
            data = named(what).of(subject)
            if what != "directivity" or len(data.to_document()["curves"]) > 1:  # more than the axis alone
                pictures.append(Sketch(data, f"{what.capitalize()} of {setup.name}."))
        except NotMeasured:
            continue
        except (CatalogueError, MeasureError) as error:
            pictures.append(Drawn("", f"{what.capitalize()} of {setup.name} cannot be drawn: {error}"))
    return pictures


def _drawn(sketches: Sequence[Sketch]) -> list[Drawn]:
    """All pictures, side by side; each by itself."""
    if sketches:
        from audio.curves import picture

        picture.load()  # once for all who draw
    return side_by_side.each(
        [lambda one=one: replace(_curve(one.figure, one.caption), below=one.below) for one in sketches]
    )


def _curve(figure: FigureData, caption: str) -> Drawn:
    from audio.curves import picture

    def drawn() -> Drawn:
        try:
            made = figure.drawn()
        except (CatalogueError, MeasureError) as error:  # of what was measured, not of the program
            return Drawn("", f"{caption} It cannot be drawn: {error}")
        return Drawn(picture.svg(made), caption + (" Hatched: not valid." if picture.is_hatched(made) else ""))

    return review.by_itself(
        drawn,
        lambda reason: Drawn("", f"{caption} It cannot be drawn: {reason}"),
    )


def _mends(casebook: Casebook, plan: Plan) -> list[PassageMend]:
    setups = {setup.id for setup in plan.setups}
    passages = {passage.id for passage in plan.passages}
    return [one for one in mends.everything(casebook) if one.setup_id in setups and one.passage_id in passages]


def _heard_freely(casebook: Casebook, parts: Sequence[Part]) -> list[str]:
    """What listeners knew of the setups' sound before plans were begun."""
    found = []
    for plan in (part.plan for part in parts):
        said = review.by_itself(functools.partial(heard_freely.sentences, casebook, plan), lambda _: list[str]())
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
