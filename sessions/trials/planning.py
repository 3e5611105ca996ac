"""From a wish to a sealed plan, and to its opening. Drafts may change; what is sealed may not.

It gathers the evidence (match sheet, giveaway check), lets `stats` compute criterion and power, and writes the plan.
"""

from __future__ import annotations

import json
import secrets as system_random
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import Any

from stats import binomial
from stats import power as power_of

from ..casebook import catalogue, chains
from ..casebook.ids import new_id
from ..casebook.store import Casebook, Row
from ..errors import PlanError
from . import coins, preparing
from .methods import METHODS
from .plan import Plan, check_document, check_numbers, void_reasons

EXCLUSIONS = "none: every session of the plan counts, stopped and abandoned ones too; unanswered trials count as wrong"

DOUBLE_BLIND = "double-blind: nobody near the listener knows what is playing"
SINGLE_BLIND = "single-blind: an assistant who knows the setups swaps them, unseen and unheard by the listener"


@dataclass(frozen=True)
class Wish:
    """What the person asks for; names as typed, numbers as text where they are decimals."""

    method: str
    setups: tuple[str, ...] = ()
    passages: tuple[str, ...] = ()
    listeners: tuple[str, ...] = ()
    trials: int = 16
    alpha: str = "0.05"
    effect: str = "0.75"
    question: str = ""
    operator: str = ""
    accepted: tuple[tuple[str, str], ...] = ()


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
    check_numbers(wish.trials, wish.alpha)
    if not 0.5 < float(wish.effect) <= 1:
        raise PlanError(
            f"--effect {wish.effect} is out of range; give the proportion to be found, above 0.5 and up to 1"
        )
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
    commitment = coins.seal(secret, plan.text)
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
    selection = preparing.select(casebook, wish.setups, wish.passages)
    if len(selection.setups) != 2:
        raise PlanError(
            f"{wish.method} compares two setups, this casebook has {len(selection.setups)}; name two with --setup"
        )
    method = METHODS[wish.method]
    total = wish.trials * len(wish.listeners)
    criterion = binomial.critical(total, float(wish.alpha), alternative=method.alternative)
    reached = power_of.power(total, float(wish.effect), float(wish.alpha), alternative=method.alternative)
    listeners = [catalogue.find(casebook, "listeners", name) for name in wish.listeners]
    operator = wish.operator or wish.listeners[0]
    found = [chains.of(casebook, setup) for setup in selection.setups]
    chains.check_comparable(selection.setups, found)
    assisted = any(chain.get("switch", {}).get("how") == "assistant" for chain in found)
    if assisted and operator in wish.listeners:
        raise PlanError("the assistant who swaps the setups cannot be a listener; name them with --operator NAME")
    sheet = preparing.newest_sheet(casebook, selection)
    passages = [_passage(passage, sheet) for passage in selection.passages]
    return Plan(
        {
            "rule": coins.RULE,
            "plan": row["id"],
            "name": row["name"],
            "method": wish.method,
            "question": wish.question or method.default_question,
            "setups": [_setup(setup, chain) for setup, chain in zip(selection.setups, found, strict=True)],
            "blinding": SINGLE_BLIND if assisted else DOUBLE_BLIND,
            "passages": passages,
            "listeners": [{"listener": li["id"], "name": li["name"]} for li in listeners],
            "operator": operator,
            "operator_listens": operator in wish.listeners,
            "trials": wish.trials,
            "alpha": wish.alpha,
            "alternative": method.alternative,
            "criterion": "none" if criterion is None else criterion,
            "effect": wish.effect,
            "power": f"{reached.power:.4f}",
            "stopping": "fixed: all trials are run, and no score is shown before the end",
            "ties": "not offered",
            "match": _match(sheet, selection),
            "giveaways": _giveaways(casebook, selection, sheet, wish.accepted),
            "exclusions": EXCLUSIONS,
        }
    )


def _setup(setup: Row, chain: chains.Chain) -> dict[str, Any]:
    stated = {"setup": setup["id"], "name": setup["name"], "kind": setup["kind"]}
    return stated | {"chain": dict(chain)} if chain else stated


def _passage(passage: Row, sheet: tuple[Row, dict[str, Any]] | None) -> dict[str, Any]:
    audio: dict[str, str] = {}
    rate_hz, frames = passage["rate_hz"], passage["frames"]
    if sheet is not None:
        own = next(p["prepared"] for p in sheet[1]["passages"] if p["prepared"]["passage"] == passage["id"])
        audio = {s["setup"]: s["sha256"] for s in own["setups"]}
        rate_hz, frames = own["rate_hz"], own["frames"]
    return {
        "passage": passage["id"],
        "name": passage["name"],
        "track": passage["track_id"],
        "cut": {k: passage[k] for k in ("start_frame", "frames", "rate_hz")},
        "rate_hz": rate_hz,
        "frames": frames,
        "audio": audio,
    }


def _match(sheet: tuple[Row, dict[str, Any]] | None, selection: preparing.Selection) -> dict[str, str]:
    if sheet is None:
        return {"sheet": "none", "by": "none", "residual_lu": "none", "tolerance_lu": "none"}
    row, document = sheet
    wanted = {passage["id"] for passage in selection.passages}
    names = [setup["name"] for setup in selection.setups]
    own = [p for p in document["passages"] if p["prepared"]["passage"] in wanted]
    return {
        "sheet": row["hash"],
        "by": document["by"],
        "residual_lu": f"{max(preparing.left_between(p, names)[0] for p in own):.4f}",
        "tolerance_lu": str(Decimal(str(document["tolerance_lu"]))),
    }


def _giveaways(
    casebook: Casebook,
    selection: preparing.Selection,
    sheet: tuple[Row, dict[str, Any]] | None,
    accepted: Sequence[tuple[str, str]],
) -> dict[str, Any]:
    found = preparing.newest_check(casebook, selection, sheet[0]["seq"] if sheet else 0)
    if found is None:
        return {"check": "none", "accepted": [], "open": []}
    row, document = found
    reasons = dict(accepted)
    setups = {setup["name"] for setup in selection.setups}
    passages = {passage["name"] for passage in selection.passages}
    findings = [f for f in document["findings"] if f["setup"] in setups and f["passage"] in passages]
    stated = [{key: f[key] for key in ("kind", "setup", "passage", "what")} for f in findings]
    return {
        "check": row["hash"],
        "accepted": [f | {"why": reasons[f["kind"]]} for f in stated if f["kind"] in reasons],
        "open": [f for f in stated if f["kind"] not in reasons],
    }


def _free_name(casebook: Casebook, method: str) -> str:
    taken = {row["name"] for row in casebook.query("SELECT name FROM drafts UNION SELECT name FROM plans")}
    return next(f"{method}-{number}" for number in range(1, len(taken) + 2) if f"{method}-{number}" not in taken)


def _known(casebook: Casebook, table: str) -> str:
    names = [row["name"] for row in casebook.query(f"SELECT name FROM {table} ORDER BY name")]
    what = "drafts" if table == "drafts" else "sealed plans"
    return f"{what}: {', '.join(names)}" if names else f"there are no {what} yet: earwitness plan abx --listener NAME"


def _tuples(value: Any) -> Any:
    return tuple(_tuples(part) for part in value) if isinstance(value, list) else value
