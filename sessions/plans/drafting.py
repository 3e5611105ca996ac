"""From a wish to a sealed plan, and to its opening. Drafts may change; what is sealed may not.

It gathers the evidence (match sheet, giveaway check), lets `stats` compute criterion and power, and writes the plan.
"""

from __future__ import annotations

import json
import secrets as system_random
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from ..casebook import catalogue, playback_chain
from ..casebook.catalogue import Listener, Setup
from ..casebook.ids import new_id
from ..casebook.store import Casebook, Row
from ..errors import PlanError
from ..preparation import match_files
from . import plan_evidence, planned_test, randomisation
from .methods import METHODS, MULTI_STIMULUS, Method, pairs, usual_trials
from .plan import Plan, check_document, check_numbers, void_reasons

EVERY_SESSION = "none: every session of the plan counts, stopped and abandoned ones too; "
EXCLUSIONS = {
    "count": EVERY_SESSION + "unanswered trials count as wrong",
    "hidden-reference": EVERY_SESSION + "unanswered trials count as a difference of 0; a listener whose own mean "
    "difference is not below 0 at 5 % (one-sided t-test, ITU-R BS.1116) is named, and not left out of the test",
    "multi-stimulus": "by ITU-R BS.1534-3, 4.1.2: whoever grades the hidden reference below 90 in more than 15 % "
    "of the trials, or the mid anchor above 90 in more than 15 % (trials where more than a quarter of the listeners do "
    "so left out); unanswered trials take no part, and a plan closed early is void",
    "round-robin": EVERY_SESSION + "unanswered comparisons count half for each",
}

DOUBLE_BLIND = "double-blind: nobody near the listener knows what is playing"
SINGLE_BLIND = "single-blind: an assistant who knows the setups swaps them, unseen and unheard by the listener"


@dataclass(frozen=True)
class Wish:
    """What the person asks for; names as typed, numbers as text where they are decimals.

    Attributes
    ----------
    trials
        For each listener; None: what is usual for the method. In a sequential plan the greatest number.
    effect
        Empty: what is usual for the method.
    controls
        Trials for each listener in which all stimuli are the same setup.
    rule_out
        The largest share of trials truly heard that the result is meant to rule out; empty: none.
    by_passage
        The passages are compared as planned, not afterwards.
    exploratory
        Not one of the review's primary questions.
    """

    method: str
    setups: tuple[str, ...] = ()
    passages: tuple[str, ...] = ()
    listeners: tuple[str, ...] = ()
    trials: int | None = None
    alpha: str = "0.05"
    effect: str = ""
    question: str = ""
    operator: str = ""
    accepted: tuple[tuple[str, str], ...] = ()
    stopping: str = planned_test.FIXED
    beta: str = "0.1"
    ties: str = "not offered"
    one_sided: bool = False
    controls: int = 0
    rule_out: str = ""
    by_passage: bool = False
    exploratory: bool = False


@dataclass(frozen=True)
class Sealed:
    """A plan just sealed: its row, and the plan itself. The secret stays in the casebook."""

    plan: Plan
    seal: str
    at: str


def draft(casebook: Casebook, wish: Wish, name: str = "") -> Plan:
    """A plan as it would be sealed now, kept as a draft under its name.

    Raises
    ------
    PlanError, CatalogueError
        If numbers are out of range, a name is taken or unknown, or the comparison has not two setups.
    """
    if not wish.listeners:
        raise PlanError("a plan names its listeners; add --listener NAME (again for each further one)")
    if len(set(wish.listeners)) != len(wish.listeners):
        raise PlanError(f"a listener is named twice: {', '.join(wish.listeners)}; name each once")
    chosen = name or _free_name(casebook, wish.method)
    if casebook.query("SELECT 1 FROM drafts WHERE name = ? UNION SELECT 1 FROM plans WHERE name = ?", [chosen, chosen]):
        raise PlanError(f"a plan called {chosen!r} is in this casebook already; choose another name")
    with casebook.writing():
        for listener in wish.listeners:
            catalogue.listener_named(casebook, listener)
        row = {
            "id": new_id("plan"),
            "name": chosen,
            "document": json.dumps(asdict(wish)),
            "made_at": casebook.now(),
        }
        plan = _build(casebook, row)
        casebook.insert("drafts", row)
    return plan


def drafted(casebook: Casebook, name: str) -> Plan | None:
    """The draft of that name as it would be sealed now; None if there is none."""
    rows = casebook.query("SELECT * FROM drafts WHERE name = ? OR id = ?", [name, name])
    return _build(casebook, rows[0]) if rows else None


def seal(casebook: Casebook, name: str, *, anyway: bool = False) -> Sealed:
    """Fix a draft: its plan, and the order of all its trials, committed to by the seal.

    Raises
    ------
    PlanError
        If there is no such draft, it is sealed already, or its result could not count (unless `anyway`).
    """
    rows = casebook.query("SELECT * FROM drafts WHERE name = ? OR id = ?", [name, name])
    if not rows:
        if casebook.query("SELECT 1 FROM plans WHERE name = ? OR id = ?", [name, name]):
            raise PlanError(f"plan {name!r} is sealed already and stays as it is; a new question is a new plan")
        raise PlanError(f"no plan called {name!r} to seal; {_known(casebook, 'drafts')}")
    plan = _build(casebook, rows[0])
    reasons = void_reasons(plan)
    if reasons and not anyway:
        raise PlanError(
            f"plan {plan.name!r} would be void: {'; '.join(reasons)}. Mend it (match files, giveaways), accept a "
            "giveaway in the plan with its reason, or seal it --anyway, knowing that its verdict will be void"
        )
    check_document(plan.document)
    secret = system_random.token_bytes(32)
    commitment = randomisation.seal(secret, plan.text)
    with casebook.writing():
        content = {"name": plan.name, "document": plan.text, "seal": commitment}
        row = casebook.append("plans", "plan", content, row_id=plan.id)
        casebook.insert("secrets", {"plan_id": plan.id, "secret": secret.hex()})
        casebook.delete_draft(plan.name)
    return Sealed(plan, commitment, row["at"])


def sealed_row(casebook: Casebook, name: str) -> Row:
    """The sealed plan of that name (or identifier).

    Raises
    ------
    PlanError
        If there is none; a draft is named as such.
    """
    rows = casebook.query("SELECT * FROM plans WHERE name = ? OR id = ?", [name, name])
    if rows:
        return rows[0]
    if casebook.query("SELECT 1 FROM drafts WHERE name = ? OR id = ?", [name, name]):
        raise PlanError(f"plan {name!r} is not sealed yet; seal it first: earwitness seal {name}")
    raise PlanError(f"no plan called {name!r}; {_known(casebook, 'plans')}")


def change_refused(casebook: Casebook, name: str) -> None:
    """Nothing for a draft; for a sealed plan the reason why it stays as it is.

    Raises
    ------
    PlanError
        If the plan is sealed.
    """
    if casebook.query("SELECT 1 FROM plans WHERE name = ? OR id = ?", [name, name]):
        raise PlanError(f"plan {name!r} is sealed and stays as it is; a new question is a new plan")


def close(casebook: Casebook, name: str, why: str) -> Row:
    """Close a plan for good before all its trials are answered, and open its seal.

    Its unfinished sessions are marked abandoned; they stay on record and their unanswered trials count as wrong.

    Raises
    ------
    PlanError
        If it is open already, or no reason is given.
    """
    row = sealed_row(casebook, name)
    if not why.strip():
        raise PlanError("closing a plan early needs a reason for the record; add --why TEXT")
    if opening(casebook, row["id"]):
        raise PlanError(f"plan {row['name']!r} is over already; see earwitness verdict {row['name']}")
    with casebook.writing():
        unfinished = casebook.query(
            """SELECT id FROM sessions WHERE plan_id = ? AND rehearsal IS NULL AND id NOT IN
               (SELECT session_id FROM session_marks WHERE what IN ('complete', 'abandoned'))""",
            [row["id"]],
        )
        for session in unfinished:
            content = {"session_id": session["id"], "what": "abandoned", "note": why}
            casebook.append("session_marks", "mark", content)
        return open_seal(casebook, row["id"], f"closed early: {why}")


def opening(casebook: Casebook, plan_id: str) -> Row | None:
    """The opening of a plan, if it is over."""
    rows = casebook.query("SELECT * FROM openings WHERE plan_id = ?", [plan_id])
    return rows[0] if rows else None


def open_seal(casebook: Casebook, plan_id: str, why: str) -> Row:
    """Write a plan's secret to the record; only once the plan is over."""
    secret = casebook.query("SELECT secret FROM secrets WHERE plan_id = ?", [plan_id])[0]["secret"]
    return casebook.append("openings", "opening", {"plan_id": plan_id, "secret": secret, "why": why})


def _build(casebook: Casebook, row: Mapping[str, Any]) -> Plan:
    """The document a draft's wish comes to now, with the newest evidence."""
    wish = Wish(**{k: _tuples(v) for k, v in json.loads(row["document"]).items()})
    method = METHODS[wish.method]
    selection = match_files.select(casebook, wish.setups, wish.passages)
    _check_setups(method, selection.setups)
    setups = len(selection.setups)
    trials = wish.trials
    if trials is None:
        trials = usual_trials(method, setups, len(selection.passages))
    check_numbers(trials, wish.alpha)
    _check_extras(method, wish, trials, setups)
    numbers = planned_test.Numbers(
        trials * len(wish.listeners),
        wish.alpha,
        wish.effect or planned_test.usual_effect(method),
        wish.beta,
        wish.stopping,
        wish.ties,
        wish.one_sided,
    )
    planned_test.check_numbers(method, numbers, len(wish.listeners))
    listeners = [catalogue.find(casebook, Listener, name) for name in wish.listeners]
    operator = wish.operator or wish.listeners[0]
    playback_chain.check_comparable(selection.setups)
    assisted = any(setup.chain is not None and setup.chain.assisted for setup in selection.setups)
    if assisted and operator in wish.listeners:
        raise PlanError("the assistant who swaps the setups cannot be a listener; name them with --operator NAME")
    sheet = match_files.newest_sheet(casebook, selection)
    passages = [plan_evidence.passage_part(passage, sheet) for passage in selection.passages]
    document = {
        "rule": randomisation.RULE,
        "plan": row["id"],
        "name": row["name"],
        "method": wish.method,
        "question": wish.question or method.default_question,
        "primary": not wish.exploratory,
        "setups": [plan_evidence.setup_part(setup) for setup in selection.setups],
        "blinding": SINGLE_BLIND if assisted else DOUBLE_BLIND,
        "listeners": [{"listener": li.id, "name": li.name} for li in listeners],
        "operator": operator,
        "operator_listens": operator in wish.listeners,
        "trials": trials,
        "controls": wish.controls,
        "rule_out": wish.rule_out or "none",
        "by_passage": wish.by_passage,
        "earlier": plan_evidence.earlier_parts(casebook, wish.method, selection.setups, row["id"]),
        "match": plan_evidence.match_part(sheet, selection),
        "giveaways": plan_evidence.giveaways_part(casebook, selection, sheet, wish.accepted),
        "exclusions": EXCLUSIONS.get(wish.method, EXCLUSIONS["count"]),
    }
    if method is MULTI_STIMULUS:
        document["anchors"], passages = plan_evidence.anchor_parts(casebook, passages, selection.setups[0].id)
    document["passages"] = passages
    return Plan(document | planned_test.stated(method, numbers, setups))


def _check_setups(method: Method, setups: Sequence[Setup]) -> None:
    least, most = method.setups
    if least <= len(setups) <= most:
        return
    wanted = "two setups" if most == 2 else f"{least} to {most} setups"
    extra = " (the first is the reference)" if method is MULTI_STIMULUS else ""
    raise PlanError(
        f"{method.name} compares {wanted}{extra}, this casebook has {len(setups)}; name them with --setup"
        if most > 2
        else f"{method.name} compares two setups, this casebook has {len(setups)}; name two with --setup"
    )


def _check_extras(method: Method, wish: Wish, trials: int, setups: int) -> None:
    if wish.controls:
        if method.name in ("same-different", "multi-stimulus"):
            raise PlanError(f"{method.name} has its controls built in; leave --controls out")
        if not 0 < wish.controls <= trials:
            raise PlanError(f"--controls {wish.controls} is out of range; give 1 to {trials}, as many as count at most")
    if method.family == "pairs" and trials % len(pairs(setups)):
        raise PlanError(
            f"a round robin of {setups} setups takes a multiple of {len(pairs(setups))} trials, so that every pair is "
            f"heard equally often; --trials {trials} is none"
        )
    if wish.rule_out:
        if method.family != "count" or method.asks_preference:
            raise PlanError(f"--rule-out is for methods with right answers, not for {method.name}")
        if not 0 < float(wish.rule_out) < 1:
            raise PlanError(f"--rule-out {wish.rule_out} is out of range; give a share of trials between 0 and 1")
    if wish.by_passage and method.family != "count":
        raise PlanError(f"--by-passage is for methods whose answers are counted, not for {method.name}")


def _free_name(casebook: Casebook, method: str) -> str:
    taken = {row["name"] for row in casebook.query("SELECT name FROM drafts UNION SELECT name FROM plans")}
    return next(f"{method}-{number}" for number in range(1, len(taken) + 2) if f"{method}-{number}" not in taken)


def _known(casebook: Casebook, table: str) -> str:
    names = [row["name"] for row in casebook.query(f"SELECT name FROM {table} ORDER BY name")]
    what = "drafts" if table == "drafts" else "sealed plans"
    return f"{what}: {', '.join(names)}" if names else f"there are no {what} yet: earwitness plan abx --listener NAME"


def _tuples(value: Any) -> Any:
    return tuple(_tuples(part) for part in value) if isinstance(value, list) else value
