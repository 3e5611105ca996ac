"""Seals: a draft is fixed and committed to, and opened when the plan is over. What is sealed never changes."""

from __future__ import annotations

import secrets

from ..casebook import session_rows
from ..casebook.store import Casebook
from ..errors import PlanError
from . import coin_phrase, drafting, plan_rows, randomisation
from .plan import Plan, check_document, void_reasons
from .plan_rows import Opening, Phrase, SealedPlan


def seal(casebook: Casebook, name: str, *, anyway: bool = False, await_phrase: bool = False) -> SealedPlan:
    """Fix a draft: its plan, and the order of all its trials, committed to by the seal.

    Parameters
    ----------
    await_phrase
        The order follows from the secret and from a phrase that somebody else gives later; no trial before it.

    Raises
    ------
    PlanError
        If there is no such draft, it is sealed already, or its result could not count (unless `anyway`).
    """
    plan = drafting.drafted(casebook, name)
    if plan is None:
        if plan_rows.sealed(casebook, name) is not None:
            raise PlanError(f"plan {name!r} is sealed already and stays as it is; a new question is a new plan")
        raise PlanError(f"no plan called {name!r} to seal; {_known('drafts', plan_rows.draft_names(casebook))}")
    reasons = void_reasons(plan)
    if reasons and not anyway:
        raise PlanError(
            f"plan {plan.name!r} would be void: {'; '.join(reasons)}. Mend it (match files, giveaways), accept a "
            "giveaway in the plan with its reason, or seal it --anyway, knowing that its verdict will be void"
        )
    if await_phrase:
        plan = Plan({**plan.document, "rule": randomisation.PHRASE_RULE, "phrase": coin_phrase.AWAITED})
    check_document(plan.document)
    secret = secrets.token_bytes(32)
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
        raise PlanError(f"plan {name!r} is not sealed yet; seal it first: earwitness seal {name}")
    raise PlanError(f"no plan called {name!r}; {_known('sealed plans', plan_rows.sealed_names(casebook))}")


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
        return plan_rows.keep_phrase(casebook, plan.id, phrase)


def coin_key(casebook: Casebook, plan: Plan) -> bytes:
    """The key that all coins of a sealed plan follow from.

    Raises
    ------
    PlanError
        If the plan still awaits its phrase.
    """
    phrase = plan_rows.phrase(casebook, plan.id)
    if phrase is None and coin_phrase.is_awaited(plan):
        raise PlanError(
            f"plan {plan.name!r} awaits its phrase: publish the seal, let somebody else choose words, then "
            f'earwitness phrase {plan.name} "WORDS"'
        )
    return randomisation.coin_key(plan_rows.secret(casebook, plan.id), None if phrase is None else phrase.text)


def close(casebook: Casebook, name: str, why: str) -> Opening:
    """Close a plan for good before all its trials are answered, and open its seal.

    Its unfinished sessions are marked abandoned; they stay on record, and what their missing trials could have
    come to is told at its worst.

    Raises
    ------
    PlanError
        If it is open already, or no reason is given.
    """
    plan = sealed_plan(casebook, name).plan
    if not why.strip():
        raise PlanError("closing a plan early needs a reason for the record; add --why TEXT")
    if plan_rows.opening(casebook, plan.id):
        raise PlanError(f"plan {plan.name!r} is over already; see earwitness verdict {plan.name}")
    with casebook.writing():
        session_rows.abandon_unfinished(casebook, plan.id, why)
        return open_seal(casebook, plan.id, f"closed early: {why}")


def open_seal(casebook: Casebook, plan_id: str, why: str) -> Opening:
    """Write a plan's secret to the record; only once the plan is over."""
    return plan_rows.keep_opening(casebook, plan_id, why)


def _known(what: str, names: list[str]) -> str:
    return f"{what}: {', '.join(names)}" if names else f"there are no {what} yet: earwitness plan abx --listener NAME"
