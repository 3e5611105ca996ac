"""A plan at the desk: as a draft with what it lacks, and as it is sealed; sealing asks what the command asks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from shlex import quote

from audio.errors import DeviceError, NoDeviceError

from ..casebook import private_files, secret_files, session_ends
from ..casebook.store import Casebook
from ..errors import PlanError
from ..listening import device_question, players
from ..plans import (
    catalogue_edits,
    check_notes,
    coin_phrase,
    draft_warnings,
    drafting,
    next_steps,
    overview,
    plan_rows,
    planned_test,
    playable,
    sealed_audio,
    sealed_beside,
    seals,
    second_hand,
    standing_words,
)
from ..plans.plan import Plan, void_reasons
from ..plans.plan_rows import SealedPlan
from ..plans.sealed_beside import WordsInVain
from ..plans.standings import DRAFT, Overview
from ..report import qr_codes
from ..results import end_sentences, plan_sentences, publishing
from . import second_secret
from .deeds import Deed, deed
from .field_labels import spoken
from .office import Office

NOT_PRIVATE = "This file system cannot keep the casebook's secrets from others who use this machine."
WHAT_PLAYS = "Before that, {} is asked whether the music can be played there as it was prepared, at its sample rate."


@dataclass(frozen=True)
class SealWish:
    """What is sealed and how.

    Attributes
    ----------
    anyway
        Even a plan whose verdict will be void, that can show nothing, or beside which a ballot's words cannot.
    elsewhere
        It will be heard on another machine: no device is asked here.
    await_phrase
        The order follows from words too that somebody else gives later.
    held
        Somebody else holds a second secret, which they typed here twice.
    """

    name: str
    anyway: bool = False
    elsewhere: bool = False
    await_phrase: bool = False
    held: bool = False
    second: str = ""
    again: str = ""


@dataclass(frozen=True)
class Acceptance:
    """A giveaway that a draft accepts, and why."""

    name: str
    kind: str
    why: str


@dataclass(frozen=True)
class Named:
    """A draft that is to be taken away."""

    name: str


@dataclass(frozen=True)
class Noted:
    """Where a plan's seal was published."""

    name: str
    by: str


@dataclass(frozen=True)
class Phrase:
    """The words from outside that a plan awaits."""

    name: str
    words: str


@dataclass(frozen=True)
class ShownPlan:
    """A plan as its page shows it.

    Attributes
    ----------
    lines
        The plan in sentences, and what is to be known of it.
    alarms
        What would make a draft void, or let it show nothing; of a sealed plan what is not all there.
    deeds
        What a draft lacks, and how that is done here.
    kinds
        The giveaways that a draft could accept with a reason.
    vain
        What stands against sealing a draft, as it is asked whether it is wished all the same; else empty.
    second
        Of its second secret: ``typed`` for the sessions to come, ``awaited``, or empty where it has none.
    waiting
        Who has trials left, in words.
    opened
        Whether its key is told, so that there is a result.
    end
        Of a plan closed early: the end of the record as it was shown then.
    state
        ``draft``, ``awaits its phrase``, ``sealed``, ``under way``, ``over`` or ``given up``.
    """

    name: str
    state: str
    lines: Sequence[str]
    alarms: Sequence[str]
    deeds: Sequence[Deed] = ()
    kinds: Sequence[str] = ()
    vain: str = ""
    void: bool = False
    plays_on: str = ""
    can_be_prepared: bool = False
    second_hand: str = ""
    second: str = ""
    seal: str = ""
    post: str = ""
    proves: str = ""
    publish: str = ""
    published: str = ""
    drawn: str = ""
    listeners: Sequence[str] = ()
    waiting: Sequence[str] = ()
    opened: bool = False
    end: Sequence[str] = ()
    assisted: str = ""

    @property
    def is_draft(self) -> bool:
        """Whether it can still be changed."""
        return self.state == DRAFT


def shown(casebook: Casebook, office: Office, name: str) -> ShownPlan:
    """A draft as it would be sealed now, or a sealed plan.

    Raises
    ------
    PlanError
        If there is none of that name.
    """
    stands = overview.gather(casebook)
    made = drafting.drafted(casebook, name)
    if made is not None:
        return _draft(casebook, office, made, stands)
    if plan_rows.sealed(casebook, name) is None:
        raise PlanError(seals.no_plan("plan", name, [one.name for one in stands.plans]))
    standing = next((one for one in stands.plans if one.name == name), None)
    waiting = [standing_words.progress_words(one) for one in standing.listeners if not one.complete] if standing else []
    return _sealed(casebook, office, name, DRAFT if standing is None else standing.state, waiting)


def _draft(casebook: Casebook, office: Office, made: Plan, stands: Overview) -> ShownPlan:
    own = next(one for one in stands.plans if one.name == made.name)
    steps = next_steps.of_plan(stands, own) if own.lacks else next_steps.further(own)
    plays_on = "a listener's browser" if office.own_sound else office.device or "this machine's usual device"
    lines = [line.strip() for line in plan_sentences.in_words(made)]
    lines += [*check_notes.sentences(casebook, made), *map(spoken, draft_warnings.warnings(casebook, made))]
    void = void_reasons(made)
    return ShownPlan(
        made.name,
        DRAFT,
        [line for line in lines if not line.startswith("Would be VOID") and line.rstrip(".") not in void],
        void,
        [deed(step, office.hint) for step in steps],
        list(dict.fromkeys(one.kind for one in made.open_giveaways)),
        _in_vain(made, sealed_beside.place_among_others(casebook, made).in_vain),
        bool(void),
        WHAT_PLAYS.format(plays_on),
        playable.can_be_prepared_again(made),
        f"{office.hint} seal {quote(made.name)} --second-hand",
    )


def _in_vain(made: Plan, words: WordsInVain) -> str:
    """Why sealing a draft would be in vain, or leave other ballots in vain; empty where nothing stands against it."""
    if planned_test.shows_nothing(made.method, made.document):
        return "it can show nothing"
    both = ["none of its words can hold"] * bool(words.own) + ["words of others can no longer hold"] * bool(
        words.others
    )
    return " and ".join(both)


def _sealed(casebook: Casebook, office: Office, name: str, state: str, waiting: Sequence[str]) -> ShownPlan:
    sealed = seals.sealed_plan(casebook, name)
    plan = sealed.plan
    path = secret_files.path_of(casebook.folder, plan.id)
    closed = session_ends.closing(casebook, plan.id)
    private = not path.exists() or private_files.is_private(path)
    return ShownPlan(
        plan.name,
        state,
        [
            *(line.strip() for line in plan_sentences.in_words(plan)),
            *check_notes.sentences(casebook, plan),
        ],
        [*([] if private else [NOT_PRIVATE]), *void_reasons(plan), *sealed_audio.faults(casebook, plan)],
        seal=sealed.seal,
        post=end_sentences.post(sealed, at_desk=True),
        proves=end_sentences.SEAL_PROVES,
        publish=end_sentences.PUBLISH,
        published=end_sentences.seal_published(publishing.of_seal(casebook, sealed.seal)),
        drawn=seals.how_drawn(casebook, plan),
        listeners=[one.name for one in plan.listeners],
        assisted=f"{office.hint} assist {quote(plan.name)} --listener NAME --cards FILE"
        if players.assisted(plan)
        else "",
        second="" if not second_hand.is_held(plan) else "typed" if plan.id in office.seconds else "awaited",
        waiting=waiting,
        opened=plan_rows.opening(casebook, plan.id) is not None,
        end=[] if closed is None else end_sentences.shown(closed),
    )


def seal_code(casebook: Casebook, name: str) -> str:
    """A plan's seal as a code for a camera holds it; empty of a draft.

    Raises
    ------
    PlanError
        If there is no plan of that name.
    """
    if plan_rows.draft(casebook, name) is not None:
        return ""
    sealed = seals.sealed_plan(casebook, name)
    return qr_codes.seal_text(sealed.seal, str(sealed.plan.document["rule"]))


def seal(casebook: Casebook, office: Office, wish: SealWish) -> SealedPlan:
    """Fix a draft, once what it will be played on was asked.

    Raises
    ------
    PlanError
        If it cannot be played here, can show nothing, would be void, or words could not hold beside it, and nobody said
        that it is wished all the same.
    """
    made = drafting.drafted(casebook, wish.name)
    if made is not None and (wish.anyway or not void_reasons(made)):
        if not wish.elsewhere:
            _check_played(office, made)
        if planned_test.shows_nothing(made.method, made.document) and not wish.anyway:
            raise PlanError(f"not sealed. {' '.join(planned_test.warnings(made.method, made.document))}")
        in_vain = sealed_beside.place_among_others(casebook, made).in_vain.said
        if in_vain and not wish.anyway:
            raise PlanError(f"not sealed. {' '.join(in_vain)} To seal it all the same, tick that on its page")
    ask = partial(second_secret.chosen, wish.second, wish.again) if wish.held else None
    return seals.seal(casebook, wish.name, anyway=wish.anyway, await_phrase=wish.await_phrase, ask_second=ask)


def _check_played(office: Office, made: Plan) -> None:
    if office.own_sound:
        office.check_own_sound(made)
        return
    try:
        apart = device_question.refused_rates(made, office.device)
    except NoDeviceError:
        return  # nobody can be asked here; whoever listens asks before they begin
    except DeviceError as error:
        raise PlanError(
            f"not sealed, since it cannot be played here: {error}; or say that it is heard elsewhere"
        ) from error
    if apart is None:
        return
    way = "set the device to that rate, or say that it is heard elsewhere"
    if apart.taken and playable.can_be_prepared_again(made):
        way = (
            f"prepare it again at {playable.rate_for(apart.wanted, apart.taken)} Hz, or say that it is heard elsewhere"
        )
    raise PlanError(f"not sealed, since {apart.in_words}: {way}")


def accept(casebook: Casebook, given: Acceptance) -> Plan:
    """Let a draft accept a giveaway, with its reason.

    Raises
    ------
    PlanError
        If no reason is given, or there is no such draft.
    """
    from audio.giveaways.findings import KINDS

    if not given.why.strip() or given.kind not in KINDS:
        raise PlanError(
            "a giveaway is accepted with its kind and a reason for the record; write why it does not matter"
        )
    draft = catalogue_edits.unsealed(casebook, given.name)
    accepted = dict(draft.wish.accepted) | {given.kind: given.why.strip()}
    return drafting.redraft(casebook, draft, replace(draft.wish, accepted=tuple(accepted.items())))


def take_away(casebook: Casebook, given: Named) -> None:
    """Take a draft out, as the command does.

    Raises
    ------
    PlanError
        If there is none of that name; a sealed plan stays.
    """
    casebook.delete_draft(catalogue_edits.unsealed(casebook, given.name).name)


def note(casebook: Casebook, given: Noted) -> None:
    """Note where a plan's seal was published."""
    publishing.note(casebook, seals.sealed_plan(casebook, given.name).seal, given.by)


def give_phrase(casebook: Casebook, given: Phrase) -> None:
    """Give a plan the words from outside that it awaits."""
    if not coin_phrase.is_awaited(seals.sealed_plan(casebook, given.name).plan):
        raise PlanError(f"plan {given.name!r} awaits no words")
    seals.give_phrase(casebook, given.name, given.words)
