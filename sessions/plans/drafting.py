"""From a wish to the plan as it would be sealed now, with the newest evidence. Nothing is fixed here."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from shlex import quote

from ..casebook import catalogue, name_rule, playback_chain
from ..casebook.catalogue import Listener, Setup
from ..casebook.ids import new_id
from ..casebook.near_names import unknown
from ..casebook.store import Casebook
from ..errors import CatalogueError, PlanError
from ..preparation.selection import select
from ..words import lexicon_rows
from . import ballot_words, evidence_in_force, open_setups, plan_evidence, plan_rows, planned_test, randomisation
from .methods.method import Method
from .methods.table import METHODS
from .plan import Plan, check_numbers
from .plan_parts import KnownDifference
from .plan_rows import Draft, Wish

DOUBLE_BLIND = "double-blind: nobody near the listener knows what is playing"
LEAST_LIFT_HZ, LEAST_KNOWN_DB, MOST_KNOWN_DB = 40, 0.1, 12  # what music holds, and what a size is worth; our choice
MOST_LIFT_HZ = 16_000  # few adults hear a tone above it (common knowledge of age and hearing; from memory)
MOST_ASKED = 300  # letters of a question: half of a phone's page, read before every answer; our choice
SINGLE_BLIND = "single-blind: an assistant who knows the setups swaps them, unseen and unheard by the listener"


def draft(casebook: Casebook, wish: Wish, name: str = "") -> Plan:
    """A plan as it would be sealed now, kept as a draft under its name.

    Raises
    ------
    PlanError, CatalogueError
        If numbers are out of range, a name is taken or unknown, or the comparison has not two setups.
    """
    known = {name: catalogue.named(casebook, Listener, name) for name in wish.listeners}
    check_wish(wish, [name for name, found in known.items() if found is not None])
    taken = {*plan_rows.draft_names(casebook), *plan_rows.sealed_names(casebook)}
    chosen = name or next(
        f"{wish.method}-{number}" for number in range(1, len(taken) + 2) if f"{wish.method}-{number}" not in taken
    )
    check_free(casebook, chosen)
    made = Draft(new_id("plan"), chosen, _of_its_setups(casebook, wish))
    new = {name: catalogue.new_listener(casebook, name) for name, found in known.items() if found is None}
    plan = _build(casebook, made, new)
    with casebook.writing():
        for listener in new.values():
            catalogue.keep(casebook, listener)
        plan_rows.keep_draft(casebook, made)
    return plan


def check_wish(wish: Wish, known: Collection[str] = ()) -> None:
    """Nothing, if all of a wish is right that rests on no recording: numbers, who listens, who runs it, the question.

    Parameters
    ----------
    known
        Listeners that the casebook has; others are new, and named by the rule.

    Raises
    ------
    PlanError, CatalogueError
        If something is not.
    """
    check_numbers(1 if wish.trials is None else wish.trials, wish.alpha)
    if not wish.listeners:
        raise PlanError("a plan names its listeners; add --listener NAME (again for each further one)")
    if len(set(wish.listeners)) != len(wish.listeners):
        raise PlanError(f"a listener is named twice: {', '.join(wish.listeners)}; name each once")
    for name in wish.listeners:
        if name not in known:
            catalogue.check_name(Listener, name)
    _check_said(wish)


def redraft(casebook: Casebook, before: Draft, wish: Wish) -> Plan:
    """A draft with another wish, as it would be sealed now; kept under its name.

    Raises
    ------
    PlanError, CatalogueError
        If no plan can be made of that wish, or it names a listener who is unknown.
    """
    changed = Draft(before.id, before.name, _of_its_setups(casebook, wish))
    _check_said(wish, before.wish)
    if not wish.listeners:
        raise PlanError("a plan names its listeners; add --listener NAME (again for each further one)")
    _check_listeners(casebook, wish.listeners)
    plan = _build(casebook, changed)
    plan_rows.rewrite_draft(casebook, changed)
    return plan


def check_free(casebook: Casebook, name: str) -> None:
    """Nothing, if a plan may be called so.

    Raises
    ------
    PlanError
        If a draft or a sealed plan is, or it cannot be a name.
    """
    if not name.strip():
        raise PlanError("a plan's name cannot be empty; give it one")
    if why := name_rule.refusal("a plan's", name):
        raise PlanError(why)
    if name in plan_rows.draft_names(casebook) or name in plan_rows.sealed_names(casebook):
        raise PlanError(f"a plan called {name!r} is in this casebook already; choose another name")


def _check_listeners(casebook: Casebook, listeners: Collection[str]) -> None:
    """Nothing, if all of them are in the casebook; else what adds the one that is not."""
    for name in listeners:
        if catalogue.named(casebook, Listener, name) is None:
            catalogue.check_name(Listener, name)
            known = sorted(catalogue.names(casebook, Listener).values())
            raise CatalogueError(
                f"{unknown('listener', name, known, ' in this casebook')}; to add this one: earwitness listener add "
                f"{quote(name)}"
            )


def _check_said(wish: Wish, before: Wish | None = None) -> None:
    """Nothing, if who runs it and what it asks may be said so; what a draft said before it may go on saying."""
    of_before = Wish(wish.method) if before is None else before
    why = name_rule.refusal("the operator's", wish.operator)
    if wish.operator not in ("", of_before.operator) and why:
        raise PlanError(why)
    if len(wish.question) > MOST_ASKED and wish.question != of_before.question:
        raise PlanError(f"--question is {len(wish.question)} letters long; give at most {MOST_ASKED}")


def drafted(casebook: Casebook, name: str) -> Plan | None:
    """The draft of that name as it would be sealed now; None if there is none."""
    found = plan_rows.draft(casebook, name)
    if found is None:
        return None
    if to_name := open_setups.to_name(found.wish, catalogue.everything(casebook, Setup)):
        named = " ".join(f"--setup {quote(one.name)}" for one in to_name)
        raise PlanError(
            f"draft {found.name!r} named no setups, and this casebook has more by now than {found.wish.method} takes; "
            f"name those it is about: earwitness edit draft {quote(found.name)} {named}"
        )
    return _build(casebook, found)


def _of_its_setups(casebook: Casebook, wish: Wish) -> Wish:
    """The wish with its setups named: a setup that is added later is no part of a draft made before it."""
    setups = wish.setups or tuple(one.name for one in catalogue.everything(casebook, Setup))
    return replace(wish, setups=setups)


def _build(casebook: Casebook, made: Draft, new: Mapping[str, Listener] | None = None) -> Plan:
    """The document a draft's wish comes to now, with the newest evidence; `new` listeners are not kept yet."""
    wish, method = made.wish, METHODS[made.wish.method].asked(rated=made.wish.rated)
    selection = select(casebook, wish.setups, wish.passages)
    setups = len(selection.setups)
    method.check_setups(setups)
    trials = trials_of(method, wish, len(wish.listeners), setups, len(selection.passages))
    if method.asks_words:
        method = method.with_words(ballot_words.checked(wish.words, lexicon_rows.in_force(casebook)))
        method = method.with_labels(setups, ties=False)
    _check_extras(method, wish, trials, setups)
    numbers = checked_numbers(method, wish, trials, len(wish.listeners))
    listeners = [(new or {}).get(name) or catalogue.find(casebook, Listener, name) for name in wish.listeners]
    operator = wish.operator or wish.listeners[0]
    playback_chain.check_comparable(selection.setups)
    assisted = any(setup.chain is not None and setup.chain.assisted for setup in selection.setups)
    if assisted and operator in wish.listeners:
        raise PlanError("the assistant who swaps the setups cannot be a listener; name them with --operator NAME")
    sheet = evidence_in_force.sheet(casebook, selection)
    passages = [plan_evidence.passage_evidence(passage, sheet) for passage in selection.passages]
    document = {
        "rule": randomisation.RULE,
        "plan": made.id,
        "name": made.name,
        "method": wish.method,
        "question": wish.question or method.default_question,
        "primary": not wish.exploratory,
        "setups": [plan_evidence.setup_part(setup) for setup in selection.setups],
        "blinding": SINGLE_BLIND if assisted else DOUBLE_BLIND,
        "listeners": [{"listener": listener.id, "name": listener.name} for listener in listeners],
        "operator": operator,
        "operator_listens": operator in wish.listeners,
        "trials": trials,
        "controls": wish.controls or method.least_controls(trials),
        "rule_out": wish.rule_out or "none",
        "by_passage": wish.by_passage,
        "earlier": plan_evidence.earlier_parts(casebook, wish.method, selection.setups, made.id),
        "match": plan_evidence.match_part(sheet, selection, wish.accepted),
        "giveaways": plan_evidence.giveaways_part(casebook, selection, sheet, wish.accepted),
        "exclusions": method.exclusions,
    }
    if method.anchors_hz:
        anchors, passages = plan_evidence.with_anchors(casebook, passages, selection.setups[0].id, method.anchors_hz)
        document["anchors"] = [anchor.to_document() for anchor in anchors]
    if wish.known:
        if any(setup.chain is not None and setup.chain.switch is not None for setup in selection.setups):
            raise PlanError(
                "setups behind a switch (or swapped by an assistant) take no known difference yet: both of its sounds "
                "are the first setup's, so that nothing is switched, which can be noticed; leave --known out"
            )
        asked = KnownDifference(wish.known, wish.lift_hz or None, wish.lift_db, wish.step_db)
        known, passages = plan_evidence.with_known(casebook, passages, selection.setups[0].id, asked, sheet)
        document["known"] = known.to_document()
    if method.asks_words:
        document |= method.words_part()
    document["passages"] = [passage.to_document() for passage in passages]
    return Plan(document | planned_test.stated(method, numbers, setups))


def checked_numbers(method: Method, wish: Wish, trials: int, listeners: int) -> planned_test.Numbers:
    """The numbers of a wish's test, with these trials for each of the listeners (0: not known yet).

    Raises
    ------
    PlanError
        If one is out of range.
    """
    numbers = planned_test.Numbers(
        trials * listeners,
        wish.alpha,
        wish.effect or method.usual_effect,
        wish.beta,
        wish.stopping,
        wish.ties,
        wish.one_sided,
    )
    planned_test.check_numbers(method, numbers, listeners)
    return numbers


def trials_of(method: Method, wish: Wish, listeners: int, setups: int, passages: int) -> int:
    """A wish's trials for each listener; where it names none, the usual number.

    Raises
    ------
    PlanError
        If its numbers are out of range; nothing is searched for with an alpha that is.
    """
    check_numbers(1 if wish.trials is None else wish.trials, wish.alpha)
    if wish.trials is not None:
        return wish.trials
    numbers = checked_numbers(method, wish, 0, listeners)
    trials = planned_test.usual_trials(method, numbers, listeners, setups, passages)
    check_numbers(trials, wish.alpha)
    return trials


def _check_extras(method: Method, wish: Wish, trials: int, setups: int) -> None:
    if wish.controls:
        if not method.controls_possible:
            raise PlanError(f"{method.name} has its controls built in; leave --controls out")
        if not 0 < wish.controls <= trials:
            raise PlanError(f"--controls {wish.controls} is out of range; give 1 to {trials}, as many as count at most")
        if wish.controls < method.least_controls(trials):
            raise PlanError(
                f"--controls {wish.controls} is too few: of {trials} trials {method.name} asks for at least "
                f"{method.least_controls(trials)} more in which everything is the same, one presentation in four"
            )
    _check_known(method, wish, trials)
    method.check_trials(trials, setups)
    if wish.rule_out:
        if not method.rule_out_possible:
            raise PlanError(f"--rule-out is for methods with right answers, not for {method.name}")
        if not 0 < float(wish.rule_out) < 1:
            raise PlanError(f"--rule-out {wish.rule_out} is out of range; give a share of trials between 0 and 1")
    if wish.by_passage and method.analysis != "count":
        raise PlanError(f"--by-passage is for methods whose answers are counted, not for {method.name}")


def _check_known(method: Method, wish: Wish, trials: int) -> None:
    if not wish.known and not wish.lift_hz and not wish.step_db:
        return
    if not method.known_possible:
        raise PlanError(
            f"{method.name} has no right answer that would say whether a known difference was heard; leave --known out"
        )
    if bool(wish.lift_hz) == bool(wish.step_db) or not wish.known:
        raise PlanError("a known difference is --known N with one of --lift HZ:DB and --step DB")
    if not 0 < wish.known <= trials:
        raise PlanError(f"--known {wish.known} is out of range; give 1 to {trials}, as many as count at most")
    if wish.lift_hz and wish.lift_hz < LEAST_LIFT_HZ:
        raise PlanError(f"--lift {wish.lift_hz}:{wish.lift_db} is too low; give {LEAST_LIFT_HZ} Hz or more")
    if wish.lift_hz > MOST_LIFT_HZ:
        raise PlanError(
            f"--lift {wish.lift_hz}:{wish.lift_db} is too high: most people hear nothing above {MOST_LIFT_HZ} Hz; give "
            f"{MOST_LIFT_HZ} Hz or less"
        )
    size = float(wish.lift_db) if wish.lift_hz else abs(float(wish.step_db))
    if not LEAST_KNOWN_DB <= size <= MOST_KNOWN_DB:
        option = f"--lift {wish.lift_hz}:{wish.lift_db}" if wish.lift_hz else f"--step {wish.step_db}"
        raise PlanError(f"{option} is out of range; give {LEAST_KNOWN_DB:g} to {MOST_KNOWN_DB:g} dB")
