"""Seals: a draft is fixed and committed to, and opened when the plan is over. What is sealed never changes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from shlex import quote

from ..casebook import secret_files, session_rows
from ..casebook.near_names import unknown
from ..casebook.store import Casebook
from ..errors import PlanError
from . import coin_phrase, plan_rows, randomisation, reasons, second_hand, trial_keys, ways_out
from .methods.method import Key
from .plan import Plan, check_document, void_reasons
from .plan_rows import Opening, Phrase, SealedPlan


@dataclass(frozen=True)
class Unlocked:
    """A sealed plan and what its keys follow from. In memory only; its repr, and so no message, tells any of it.

    Attributes
    ----------
    second
        The second secret, normalised; None where the plan has none.
    """

    plan: Plan
    secret: bytes = field(repr=False)
    coin_key: bytes = field(repr=False)
    second: str | None = field(repr=False)


def seal(
    casebook: Casebook,
    name: str,
    *,
    anyway: bool = False,
    await_phrase: bool = False,
    ask_second: Callable[[], str] | None = None,
) -> SealedPlan:
    """Fix a draft: its plan, and the order of all its trials, committed to by the seal.

    Parameters
    ----------
    await_phrase
        The order follows from the secret and from a phrase that somebody else gives later; no trial before it.
    ask_second
        Gives the second secret that somebody else holds, normalised; asked once nothing else stands in the way.

    Raises
    ------
    PlanError
        If there is no such draft, it is sealed already, or its result could not count (unless `anyway`).
    """
    from . import drafting  # it loads the audio room: only for who seals

    plan = drafting.drafted(casebook, name)
    if plan is None:
        if plan_rows.sealed(casebook, name) is not None:
            raise PlanError(f"plan {name!r} is sealed already and stays as it is; a new question is a new plan")
        raise PlanError(no_plan("draft", name, plan_rows.draft_names(casebook)))
    reasons = void_reasons(plan)
    if reasons and not anyway:
        raise PlanError(
            f"plan {plan.name!r} would be void: {'; '.join(reasons)}. {'; '.join(ways_out.of_draft(casebook, plan))}"
        )
    if await_phrase:
        plan = Plan({**plan.document, "rule": randomisation.PHRASE_RULE, "phrase": coin_phrase.AWAITED})
    if ask_second is not None:
        hashed = second_hand.digest(ask_second(), plan.id)
        plan = Plan({**plan.document, "rule": randomisation.PHRASE_RULE, "second_hand": hashed})
    check_document(plan.document)
    secret = secret_files.fresh()
    return plan_rows.keep_sealed(casebook, plan, randomisation.seal(secret, plan.text), secret)


def sealed_plan(casebook: Casebook, name: str) -> SealedPlan:
    """The sealed plan of that name (or identifier).

    Raises
    ------
    PlanError
        If there is none; a draft is named as such.
    """
    found = plan_rows.sealed(casebook, name)
    if found is not None:
        return found
    if plan_rows.draft(casebook, name) is not None:
        raise PlanError(f"plan {name!r} is not sealed yet; seal it first: earwitness seal {quote(name)}")
    raise PlanError(no_plan("sealed plan", name, plan_rows.sealed_names(casebook)))


def no_plan(what: str, name: str, names: list[str]) -> str:
    """That there is no such plan, which there are, and how the first is made."""
    return unknown(what, name, names) + ("" if names else ": earwitness plan abx --listener NAME")


def give_phrase(casebook: Casebook, name: str, text: str) -> Phrase:
    """Keep the words from outside that a plan awaits; its coins follow from them from now on.

    Raises
    ------
    PlanError
        If the plan awaits none, has one, is over or begun, or the phrase is empty.
    """
    plan, phrase = sealed_plan(casebook, name).plan, coin_phrase.normalised(text)
    if not coin_phrase.is_awaited(plan):
        raise PlanError(
            f"plan {plan.name!r} was sealed without --await-phrase: its order follows from its secret alone and stays"
        )
    with casebook.writing():
        if plan_rows.phrase(casebook, plan.id) is not None:
            raise PlanError(f"plan {plan.name!r} has its phrase already; it stays as it is")
        if plan_rows.opening(casebook, plan.id) or plan_rows.is_begun(casebook, plan.id):
            raise PlanError(f"plan {plan.name!r} is begun or over; a phrase can only be given before")
        check_not_given_up(casebook, plan)
        return plan_rows.keep_phrase(casebook, plan.id, phrase)


def unlock(casebook: Casebook, sealed: SealedPlan, second: str | None = None) -> Unlocked:
    """What the keys of a sealed plan follow from.

    Parameters
    ----------
    second
        The second secret as it was typed; None for a plan without one.

    Raises
    ------
    PlanError
        If the plan still awaits its phrase, its secret is missing or damaged, or the second secret is not its own.
    """
    plan = sealed.plan
    if coin_phrase.is_awaited(plan) and plan_rows.phrase(casebook, plan.id) is None:
        raise PlanError(
            f"plan {plan.name!r} awaits its phrase: publish the seal, let somebody else choose words, then "
            f'earwitness phrase {quote(plan.name)} "WORDS"'
        )
    return _unlocked(casebook, sealed, second)


def _unlocked(casebook: Casebook, sealed: SealedPlan, second: str | None) -> Unlocked:
    """The same for a plan that no phrase was given for, too: it was never begun, and has no keys."""
    plan, phrase = sealed.plan, plan_rows.phrase(casebook, sealed.plan.id)
    secret = plan_rows.secret(casebook, plan.id)
    if randomisation.seal(secret, plan.text) != sealed.seal:
        path = secret_files.path_of(casebook.folder, plan.id)
        what = f"is damaged: {path} does not give its seal" if path.exists() else f"is missing: there is no {path}"
        raise PlanError(
            f"the secret of plan {plan.name!r} {what}; put back the folder {path.parent.name} that belongs to this "
            "casebook"
        )
    held = second_hand.normalised(second) if second is not None and second_hand.is_held(plan) else None
    if not second_hand.fits(plan, held):
        raise PlanError(
            f"plan {plan.name!r} has a second secret, held by somebody else, and stays sealed without it; ask them to "
            "type it"
            if held is None
            else f"this is not the second secret of plan {plan.name!r}; ask who holds it to type it again"
        )
    key = randomisation.coin_key(secret, None if phrase is None else phrase.text, held)
    return Unlocked(plan, secret, key, held)


def closable(casebook: Casebook, name: str, why: str) -> SealedPlan:
    """The plan that may be closed early for that reason.

    Raises
    ------
    PlanError
        If there is no such plan, it is over already, or no reason is given.
    """
    sealed = sealed_plan(casebook, name)
    if not why.strip():
        raise PlanError("closing a plan early needs a reason for the record; add --why TEXT")
    reasons.check_reason(why, "--why")
    if plan_rows.opening(casebook, sealed.plan.id):
        raise PlanError(f"plan {sealed.plan.name!r} is over already; see earwitness verdict {quote(sealed.plan.name)}")
    check_not_given_up(casebook, sealed.plan)
    return sealed


def check_not_given_up(casebook: Casebook, plan: Plan) -> None:
    """Nothing, unless a plan was given up unopened.

    Raises
    ------
    PlanError
        If it was; with its reason.
    """
    why = plan_rows.given_up(casebook).get(plan.id)
    if why is not None:
        raise PlanError(f"plan {plan.name!r} was given up unopened ({why}); a new question is a new plan")


def give_up(casebook: Casebook, name: str, why: str) -> None:
    """Give a plan up whose secret, or whose second secret, is lost: on record, with the reason, and never opened.

    Its unfinished sessions are marked abandoned; nothing of its answers is ever told.

    Raises
    ------
    PlanError
        If it is over, no reason is given, or nothing of it is lost: then it can be closed, and told.
    """
    with casebook.writing():
        sealed = closable(casebook, name, why)
        plan = sealed.plan
        fits = randomisation.seal(plan_rows.secret(casebook, plan.id), plan.text) == sealed.seal
        if fits and not second_hand.is_held(plan):
            raise PlanError(
                f"the secret of plan {plan.name!r} is here, so that it can be closed and told: "
                f"earwitness plan close {quote(plan.name)} --why {quote(why)}"
            )
        session_rows.abandon_unfinished(casebook, plan.id, why)
        plan_rows.keep_given_up(casebook, plan.id, why)


def how_drawn(casebook: Casebook, plan: Plan) -> str:
    """How the key of a sealed plan's trials was drawn, in a sentence."""
    opening = plan_rows.opening(casebook, plan.id)
    return coin_phrase.how_drawn(plan, plan_rows.phrase(casebook, plan.id), opening.second if opening else None)


def close(casebook: Casebook, name: str, why: str, second: str | None = None) -> Opening:
    """Close a plan for good before all its trials are answered, and open its seal.

    Its unfinished sessions are marked abandoned; they stay on record, and what their missing trials could have
    come to is told at its worst.

    Parameters
    ----------
    second
        The second secret as it was typed; None for a plan without one.

    Raises
    ------
    PlanError
        If it is open already, no reason is given, its secret is missing or damaged, or the second secret is not its
        own.
    """
    unlocked = _unlocked(casebook, closable(casebook, name, why), second)
    known = untold_keys(casebook, unlocked)
    with casebook.writing():
        closable(casebook, name, why)  # its last session may have ended meanwhile
        session_rows.abandon_unfinished(casebook, unlocked.plan.id, why)
        return open_seal(casebook, unlocked, f"closed early: {why}", known)


def untold_keys(casebook: Casebook, unlocked: Unlocked, known: Mapping[str, Key] | None = None) -> dict[str, Key]:
    """The keys of all trials offered so far that no row tells, by the identifiers of the trials' rows.

    Parameters
    ----------
    known
        Some of them that were worked out before.
    """
    plan, before = unlocked.plan, known or {}
    listeners = {one.id: one.listener_id for one in session_rows.sessions(casebook, plan.id)}
    untold = [one for one in session_rows.trials(casebook, plan.id) if one.key is None]
    return {
        one.id: before.get(one.id)
        or trial_keys.key(plan, unlocked.coin_key, listeners[one.session_id], one.trial, one.offer)
        for one in untold
    }


def open_seal(casebook: Casebook, unlocked: Unlocked, why: str, known: Mapping[str, Key]) -> Opening:
    """Write a plan's keys, its second secret and its secret to the record, at once; only when the plan is over.

    Parameters
    ----------
    known
        Its `untold_keys`, worked out before the casebook was held for writing; few were offered since.
    """
    plan = unlocked.plan
    with casebook.writing():
        keys = untold_keys(casebook, unlocked, known)
        casebook.append_many([session_rows.new_key(trial_id, key) for trial_id, key in keys.items()])
        return plan_rows.keep_opening(casebook, plan.id, unlocked.secret, why, unlocked.second)
