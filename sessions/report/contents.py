"""Everything a report tells, gathered from the casebook into plain values. It draws nothing and writes nothing."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import Any

from ..casebook import catalogue
from ..casebook.catalogue import Setup
from ..casebook.store import Casebook, Row
from ..measured import curve_sentences
from ..plans.methods import TIE, grades_of, score
from ..plans.plan import Plan
from ..results import plan_record, review, sentences, verdict, verification
from ..words import log


@dataclass(frozen=True)
class Mark:
    """One trial as it stands in the picture: right (or for the first setup), wrong, disturbed, unanswered."""

    number: int
    state: str
    sureness: int
    says: str


@dataclass(frozen=True)
class Strip:
    """One session's trials in order."""

    listener: str
    device: str
    marks: list[Mark]
    turns: list[str]


@dataclass(frozen=True)
class Measured:
    """The curves beside a comparison: sentences, and pictures with their captions."""

    sentences: list[str]
    pictures: list[tuple[str, str]]


@dataclass(frozen=True)
class Part:
    """One plan in the report."""

    plan: Plan
    seal: str
    sealed_at: str
    verdict: verdict.Verdict
    sentences: list[str]
    strips: list[Strip]
    sheet: dict[str, Any] | None
    mends: list[Row]
    record: dict[str, Any]
    measured: Measured
    rehearsal: bool = False

    @property
    def headline(self) -> str:
        """The verdict in one sentence."""
        return self.sentences[1 if self.rehearsal and self.verdict.verdict is not None else 0]


@dataclass(frozen=True)
class Report:
    """A whole report."""

    title: str
    made_at: str
    parts: list[Part]
    rehearsals: list[Part]
    words: list[dict[str, Any]]
    checked: verification.Verified
    limits: list[str] = field(default_factory=list)


def gather(casebook: Casebook, title: str) -> Report:
    """The report of a casebook: all its plans, and their rehearsals apart from them."""
    checked = verification.verify(casebook)
    plans = review.plans(casebook, None)
    records = [plan_record.record(casebook, row) for row in plans]
    judged = review.together([verdict.judge(told, broken=checked.broken) for told in records])
    parts = [_part(casebook, row, told, one) for row, told, one in zip(plans, records, judged, strict=True)]
    rehearsals = []
    for row in plans:
        told = plan_record.record(casebook, row, rehearsals=True)
        rehearsals.append(_part(casebook, row, told, verdict.judge(told, broken=checked.broken)))
    return Report(
        title=title,
        made_at=casebook.now(),
        parts=parts,
        rehearsals=[part for part in rehearsals if part.strips],
        words=_words(casebook, parts),
        checked=checked,
        limits=_limits(parts),
    )


def _part(casebook: Casebook, row: Row, told: dict[str, Any], judged: verdict.Verdict) -> Part:
    plan, rehearsal = judged.plan, judged.rehearsal
    sessions = told["sessions"][-1:] if rehearsal else told["sessions"]
    sheets = casebook.query("SELECT document FROM match_sheets WHERE hash = ?", [plan.document["match"]["sheet"]])
    return Part(
        plan=plan,
        seal=row["seal"],
        sealed_at=row["at"],
        verdict=judged,
        sentences=sentences.sentences(judged),
        strips=[_strip(plan, session) for session in sessions],
        sheet=json.loads(sheets[0]["document"]) if sheets else None,
        mends=_mends(casebook, plan),
        record=told,
        measured=Measured([], []) if rehearsal else _measured(casebook, plan),
        rehearsal=rehearsal,
    )


def _measured(casebook: Casebook, plan: Plan) -> Measured:
    """What was measured of the setups compared: both on one set of axes, their difference, and each by itself."""
    from audio.curves import draw

    from ..measured import drawing

    setups = [catalogue.find(casebook, Setup, setup.id) for setup in plan.setups]
    told = curve_sentences.beside(casebook, setups)
    pictures = []
    for compared in told.compared:
        apart = " less ".join(compared.names)
        pictures.append((draw.svg(drawing.overlay(compared)), f"Measured on axis: {' and '.join(compared.names)}."))
        pictures.append((draw.svg(drawing.difference(compared)), f"The difference: {apart}."))
    return Measured(told.sentences, pictures)


def _strip(plan: Plan, session: dict[str, Any]) -> Strip:
    marks = [_mark(plan, trial) for trial in session["trials"]]
    turns = [
        f"{turn['at']} {turn['what']}" + (f" ({turn['note']})" if turn["note"] else "") for turn in session["marks"]
    ]
    return Strip(session["listener_name"], session["device"], marks, turns)


def _mark(plan: Plan, trial: dict[str, Any]) -> Mark:
    number = trial["trial"]
    if trial["answer"] is None:
        state = "disturbed" if trial["faults"] else "unanswered"
        return Mark(number, state, 0, f"trial {number}, offer {trial['offer']}: {state}")
    state, says = _answered(plan, trial)
    return Mark(number, state, trial["sureness"], f"trial {number}: {says}, sureness {trial['sureness']} of 4")


def _answered(plan: Plan, trial: dict[str, Any]) -> tuple[str, str]:
    """The state of an answered trial, and what it was in words."""
    key, answer, method = trial["key"], trial["answer"], plan.method
    if plan.is_control(key):
        return "control", "a control, everything the same"
    if method.scale is not None:
        given = sorted((key[label], grade) for label, grade in grades_of(answer).items())
        return "graded", ", ".join(f"{plan.places[place]} {grade}" for place, grade in given)
    if answer == TIE:
        return "tie", "no preference"
    if method.family == "pairs":
        other = next(label for label in method.stimuli if label != answer)
        return "graded", f"{plan.places[key[answer]]} preferred to {plan.places[key[other]]}"
    scored = score(method.name, key, answer)
    if method.asks_preference:
        return ("first" if scored else "second"), f"for {plan.setups[0 if scored else 1].name}"
    state = "right" if scored else "wrong"
    return state, state


def _mends(casebook: Casebook, plan: Plan) -> list[Row]:
    rows = casebook.query(
        """SELECT mends.*, setups.name AS setup, passages.name AS passage FROM mends JOIN setups ON setups.id = setup_id
           JOIN passages ON passages.id = passage_id ORDER BY mends.seq"""
    )
    setups = {setup.id for setup in plan.setups}
    passages = {passage.id for passage in plan.passages}
    return [row for row in rows if row["setup_id"] in setups and row["passage_id"] in passages]


def _words(casebook: Casebook, parts: list[Part]) -> list[dict[str, Any]]:
    """All words in force; blind ones get their setup's name once their plan is over."""
    meant = _blind_setups(casebook, parts)
    return [
        word | {"setup": word["setup"] or meant.get((word["trial"], word["stimulus"]))} for word in log.words(casebook)
    ]


def _blind_setups(casebook: Casebook, parts: list[Part]) -> dict[tuple[str, str], str]:
    names = {}
    for part in parts:
        if part.record["secret"] is None:
            continue
        rows = casebook.query(
            "SELECT trials.id, key FROM trials JOIN sessions ON sessions.id = session_id WHERE plan_id = ?",
            [part.plan.id],
        )
        for row in rows:
            for stimulus, place in json.loads(row["key"]).items():
                names[row["id"], stimulus] = part.plan.places[place]
    return names


def _limits(parts: list[Part]) -> list[str]:
    """What the report cannot show, said plainly."""
    limits = []
    alone = [part.plan.name for part in parts if part.plan.document["operator_listens"]]
    if alone:
        limits.append(
            f"In {', '.join(alone)} the operator listened too: a seal cannot prove that they did not look at the key."
        )
    open_plans = [part.plan.name for part in parts if part.verdict.verdict is None]
    if open_plans:
        limits.append(f"Not over yet: {', '.join(open_plans)}.")
    if any(part.plan.document["match"]["by"] not in ("mic", "volts") for part in parts):
        limits.append("Levels were matched in the files; how loud it was at the ears was not measured.")
    assisted = [part.plan.name for part in parts if part.plan.blinding.startswith("single-blind")]
    if assisted:
        limits.append(f"Single-blind: {', '.join(assisted)}; the assistant knew what was playing.")
    if not any(part.measured.pictures for part in parts):
        limits.append("There are no measured curves in this report.")
    return limits
