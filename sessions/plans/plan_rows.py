"""The rows of the plans room: drafts, sealed plans, their secrets and their openings. All of its SQL is here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import TYPE_CHECKING, Any

from ..casebook import documents, secret_files
from ..casebook.store import Casebook, Row

if TYPE_CHECKING:  # what lists plans need not load what they mean
    from .plan import Plan


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
        Trials for each listener in which all stimuli are the same setup; 0: as few as the method asks for.
    known, lift_hz, lift_db, step_db
        Trials for each listener with a known difference: an octave around so many Hz lifted by so many dB, or a step of
        level in dB; 0 and empty where there is none.
    rule_out
        The largest share of trials truly heard that the result is meant to rule out; empty: none.
    by_passage
        The passages are compared as planned, not afterwards.
    words, rated
        Those of a ballot, in order; whether they are rated instead of ticked.
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
    stopping: str = "fixed"
    beta: str = "0.1"
    ties: str = "not offered"
    one_sided: bool = False
    controls: int = 0
    known: int = 0
    lift_hz: int = 0
    lift_db: str = ""
    step_db: str = ""
    rule_out: str = ""
    by_passage: bool = False
    exploratory: bool = False
    words: tuple[str, ...] = ()
    rated: bool = False


@dataclass(frozen=True)
class Draft:
    """A wish under the name and identifier that its plan will have, and when it was made; empty before it is kept."""

    id: str
    name: str
    wish: Wish
    at: str = ""


@dataclass(frozen=True)
class SealedPlan:
    """A sealed plan: the plan itself, its seal, and when and in which row of the chain it was sealed; no secret."""

    plan: Plan
    seal: str
    at: str
    row: int = 0


@dataclass(frozen=True)
class Opening:
    """The end of a plan: its secret (in hexadecimal), when, why and in which row it was told, and its second secret."""

    secret: str
    at: str
    why: str
    second: str | None = None
    row: int = 0


@dataclass(frozen=True)
class Phrase:
    """The words from outside that a plan's coins follow from too, and when they were given."""

    text: str
    at: str


@dataclass(frozen=True)
class PlanSummary:
    """As much of a sealed plan's document as tells what it is; read without loading what it means."""

    plan: str
    name: str
    method: str
    setups: tuple[Mapping[str, Any], ...]
    listeners: tuple[Mapping[str, str], ...]
    trials: int
    controls: int = 0
    known: Mapping[str, Any] | None = None
    phrase: str = ""
    seal: str = ""
    at: str = ""
    passages: tuple[Mapping[str, Any], ...] = ()
    match: Mapping[str, Any] = field(default_factory=dict)
    giveaways: Mapping[str, Any] = field(default_factory=dict)

    @property
    def slots(self) -> int:
        """Trials each listener is offered, controls and known differences among them."""
        return self.trials + self.controls + (int(self.known["trials"]) if self.known else 0)


@dataclass(frozen=True)
class Listed:
    """A draft or a sealed plan as it is listed."""

    name: str
    state: str
    at: str
    seal: str


def keep_draft(casebook: Casebook, draft: Draft) -> None:
    """Keep a draft."""
    text = documents.text_of(asdict(draft.wish), sort_keys=False)
    row = {"id": draft.id, "name": draft.name, "document": text, "made_at": casebook.now()}
    casebook.insert("drafts", row)


def draft(casebook: Casebook, name: str) -> Draft | None:
    """The draft of that name (or identifier); None if there is none."""
    rows = casebook.query("SELECT * FROM drafts WHERE name = ? OR id = ?", [name, name])
    return _draft(rows[0]) if rows else None


def every_draft(casebook: Casebook) -> list[Draft]:
    """All drafts, in the order they were made."""
    return [_draft(row) for row in casebook.query("SELECT * FROM drafts ORDER BY made_at, rowid")]


def rewrite_draft(casebook: Casebook, changed: Draft) -> None:
    """Write a draft's name and wish anew."""
    text = documents.text_of(asdict(changed.wish), sort_keys=False)
    with casebook.writing():
        casebook.db.execute("UPDATE drafts SET name = ?, document = ? WHERE id = ?", [changed.name, text, changed.id])


def draft_names(casebook: Casebook) -> list[str]:
    """The names of all drafts, in alphabetical order."""
    return [row["name"] for row in casebook.query("SELECT name FROM drafts ORDER BY name")]


def keep_sealed(casebook: Casebook, plan: Plan, seal: str, secret: bytes) -> SealedPlan:
    """Keep a sealed plan with its secret; its draft is gone then.

    The secret is on disk before the plan is: a plan without its secret could never be opened, and a secret without its
    plan harms nobody.
    """
    secret_files.keep(casebook.folder, {plan.id: secret})
    with casebook.writing():
        content = {"name": plan.name, "document": plan.text, "seal": seal}
        row = casebook.append("plans", "plan", content, row_id=plan.id)
        casebook.delete_draft(plan.name)
    return SealedPlan(plan, seal, row["at"], row["seq"])


def sealed(casebook: Casebook, name: str) -> SealedPlan | None:
    """The sealed plan of that name (or identifier); None if there is none."""
    rows = casebook.query("SELECT * FROM plans WHERE name = ? OR id = ?", [name, name])
    return _sealed(rows[0]) if rows else None


def every_sealed(casebook: Casebook) -> list[SealedPlan]:
    """All sealed plans, in the order they were sealed."""
    return [_sealed(row) for row in casebook.query("SELECT * FROM plans ORDER BY seq")]


def summaries(casebook: Casebook) -> list[PlanSummary]:
    """All sealed plans as far as they tell what they are, in the order they were sealed."""
    return [
        replace(documents.from_text(row["document"], PlanSummary), name=row["name"], seal=row["seal"], at=row["at"])
        for row in casebook.query("SELECT name, document, seal, at FROM plans ORDER BY seq")
    ]


def sealed_names(casebook: Casebook) -> list[str]:
    """The names of all sealed plans, in alphabetical order."""
    return [row["name"] for row in casebook.query("SELECT name FROM plans ORDER BY name")]


def listed(casebook: Casebook) -> list[Listed]:
    """Drafts and sealed plans, in the order they were made or sealed."""
    rows = casebook.query(
        """SELECT name, 'draft' AS state, made_at AS at, '' AS seal FROM drafts UNION ALL
           SELECT name, iif(EXISTS (SELECT 1 FROM openings WHERE plan_id = plans.id), 'over', 'sealed'), at, seal
           FROM plans ORDER BY at"""
    )
    return [Listed(**row) for row in rows]


def secret(casebook: Casebook, plan_id: str) -> bytes:
    """A plan's secret; empty where the casebook does not hold it as it should (the seal does not fit then).

    It is in a file of its own; in a casebook of before there were such files, and which cannot be written, in a table.
    """
    kept = secret_files.read(casebook.folder, plan_id)
    if kept is not None:
        return kept
    rows = casebook.query("SELECT secret FROM secrets WHERE plan_id = ?", [plan_id])
    return secret_files.from_text(rows[0]["secret"]) if rows else b""


def keep_phrase(casebook: Casebook, plan_id: str, text: str) -> Phrase:
    """Keep the phrase of a plan; there is one at most."""
    return _phrase(casebook.append("phrases", "phrase", {"plan_id": plan_id, "phrase": text}))


def phrase(casebook: Casebook, plan_id: str) -> Phrase | None:
    """The phrase of a plan; None while it has none."""
    rows = casebook.query("SELECT * FROM phrases WHERE plan_id = ?", [plan_id])
    return _phrase(rows[0]) if rows else None


def is_begun(casebook: Casebook, plan_id: str) -> bool:
    """Whether a session that counts was begun."""
    return bool(casebook.query("SELECT 1 FROM sessions WHERE plan_id = ? AND rehearsal IS NULL LIMIT 1", [plan_id]))


def is_begun_before_phrase(casebook: Casebook, plan_id: str) -> bool:
    """Whether a session that counts stands in the chain before the plan's phrase (or with none)."""
    rows = casebook.query(
        """SELECT 1 FROM sessions WHERE plan_id = ? AND rehearsal IS NULL
           AND seq < ifnull((SELECT seq FROM phrases WHERE phrases.plan_id = sessions.plan_id), seq + 1) LIMIT 1""",
        [plan_id],
    )
    return bool(rows)


def keep_opening(casebook: Casebook, plan_id: str, secret: bytes, why: str, second: str | None) -> Opening:
    """Write a plan's secret, and its second secret if it has one, to the record."""
    if second is not None:
        casebook.append("second_hands", "second", {"plan_id": plan_id, "secret": second})
    content = {"plan_id": plan_id, "secret": secret.hex(), "why": why}
    return _opening(casebook.append("openings", "opening", content) | {"second": second})


def opening(casebook: Casebook, plan_id: str) -> Opening | None:
    """The opening of a plan; None while it is not over."""
    rows = casebook.query(
        """SELECT openings.*, second_hands.secret AS second
           FROM openings LEFT JOIN second_hands USING (plan_id) WHERE plan_id = ?""",
        [plan_id],
    )
    return _opening(rows[0]) if rows else None


def is_closed(casebook: Casebook, plan_id: str) -> bool:
    """Whether no answer of a plan counts any more: it was opened, or given up unopened."""
    sql = """SELECT EXISTS (SELECT 1 FROM openings WHERE plan_id = :plan)
             OR EXISTS (SELECT 1 FROM given_up WHERE plan_id = :plan) AS closed"""
    return bool(casebook.query(sql, {"plan": plan_id})[0]["closed"])


def openings(casebook: Casebook) -> dict[str, str]:
    """Why each plan that is over was opened, by the plan's identifier."""
    return {row["plan_id"]: row["why"] for row in casebook.query("SELECT plan_id, why FROM openings")}


def keep_given_up(casebook: Casebook, plan_id: str, why: str) -> None:
    """Write that a plan is given up without being opened."""
    casebook.append("given_up", "given-up", {"plan_id": plan_id, "why": why})


def given_up(casebook: Casebook) -> dict[str, str]:
    """Why each plan that was given up unopened was, by the plan's identifier."""
    return {row["plan_id"]: row["why"] for row in casebook.query("SELECT plan_id, why FROM given_up")}


def with_phrase(casebook: Casebook) -> set[str]:
    """The identifiers of the plans that have their phrase."""
    return {row["plan_id"] for row in casebook.query("SELECT plan_id FROM phrases")}


def _draft(row: Row) -> Draft:
    wish = Wish(**{part: _tuples(value) for part, value in documents.value_of(row["document"]).items()})
    return Draft(row["id"], row["name"], wish, row["made_at"])


def _sealed(row: Row) -> SealedPlan:
    from .plan import Plan

    return SealedPlan(Plan.from_text(row["document"], row["name"]), row["seal"], row["at"], row["seq"])


def _phrase(row: Row) -> Phrase:
    return Phrase(row["phrase"], row["at"])


def _opening(row: Row) -> Opening:
    return Opening(row["secret"], row["at"], row["why"], row.get("second"), row["seq"])


def _tuples(value: Any) -> Any:
    return tuple(_tuples(part) for part in value) if isinstance(value, list) else value
