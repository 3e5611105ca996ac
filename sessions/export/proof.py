"""The proof bundle: sealed plans, opened keys, the chain, match sheets and a program that checks them, in one zip.

The same casebook gives the same bytes (with the same zlib): no clock, no order of a file system stands in it. Of plans
that are not over it holds what was published: the plan and its seal.
"""

from __future__ import annotations

import hashlib
import io
import json
import re
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from importlib.resources import files as package_files
from pathlib import Path
from typing import Any

from stats.count_summary import HEARD

from ..casebook import origins, plan_chain
from ..casebook.origins import OriginLink
from ..casebook.store import Casebook
from ..errors import ExportError
from ..plans import viewers_rows
from ..plans.plan import Plan
from ..plans.viewers_rows import SealedTest
from ..results import exported_record, first_lines, review, stand_alone, viewers_results
from ..results.review import ReviewedPlan
from ..results.verdict import Verdict
from . import checker

CHECKER, VIEWERS_CHECKER = "checker.py", "viewers_checker.py"
DATED = (1980, 1, 1, 0, 0, 0)  # the first that a zip can say
SHOWN = "shown"  # what a preference is, of which nothing is heard
BEFORE_THE_END = ("plans", "phrases", "sessions", "given_up")  # tables whose rows of a plan are told before it is over
README = f"""A proof bundle of earwitness.

Unpack it and run, with Python 3.9 or newer and nothing else:
    python3 -I {CHECKER}
It compares every byte with {checker.MANIFEST}, the chain of the record with its hashes, and recomputes the order of
the trials, the scores and the p-values of every plan that is over, as the sealing rule (sealing.md) says. It holds
where it says THIS BUNDLE HOLDS. An end of the record that you kept is looked for with:
    python3 -I {CHECKER} 214-0F3A-91BC-77D2-05EE-S

plans/         each sealed plan with its seal and sessions; once it is over its keys, answers, secret and own rows
chain.json     every row of the casebook as [place, hash before it, its hash]
sealed.json    which rows of the chain are sealed plans, their sessions and ends, and viewers' tests and their ends; the
               program refuses where one of them is not here
evidence.json  match sheets and giveaway checks that the plans rest on, whole
origins.json   the chains of casebooks that were merged into this one, and where the rows told here stood in them
results.json   what earwitness says of each plan, by itself, and as a report has it: with all on its question and among
               the primary questions of its review. The program works that out too; what of it it does not recompute it
               names: p-values that were drawn, and of a merged casebook the order in time of its plans and where each
               was sealed
viewers/       each test that an audience took, with its seal; once it is over its secret, answers, count and p, which
               viewers_checker.py works out (what a report tells of passages, devices and spread stands in no bundle)
check.py       the program of the rule, as sealing.md prints it

What it proves: the plans, their keys and answers are those that the seals and ends name which were published or
kept. What it cannot prove: that whoever made it left no plan out. Rows that are not told whole stand here as hashes,
and what they are only sealed.json says; the program says how many. A plan whose seal was published must stand in
plans/: look for that seal. Nor can it prove that the person at the machine did not look. Whoever holds a casebook can
write all of it anew, and a bundle with it; compare the seals, and an end that somebody else kept from after the
sessions.
"""


def write(casebook: Casebook, out: Path) -> tuple[int, str]:
    """Write the bundle; gives how many plans it holds and its SHA-256.

    Raises
    ------
    ExportError
        If there is something already, no sealed plan, or the bundle cannot be written.
    """
    if out.exists():
        raise ExportError(f"{out} is there already; name a file that is not, so that nothing is written over")
    with casebook.snapshot() as now:
        members = dict(_members(now))
    packed = zipped(members)
    part = out.with_name(f".{out.name}.part")
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        part.write_bytes(packed)
        part.replace(out)
    except OSError as error:
        raise ExportError(f"cannot write {out}: {error.strerror}; check the disk and its permissions") from error
    finally:
        part.unlink(missing_ok=True)
    return sum(name.startswith("plans/") for name in members), hashlib.sha256(packed).hexdigest()


def zipped(members: Mapping[str, bytes]) -> bytes:
    """The files and their manifest as a zip, whose bytes follow from theirs."""
    lines = [f"{hashlib.sha256(content).hexdigest()}  {name}\n" for name, content in sorted(members.items())]
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name, content in sorted({**members, checker.MANIFEST: "".join(lines).encode()}.items()):
            info = zipfile.ZipInfo(name, DATED)
            info.compress_type, info.create_system, info.external_attr = zipfile.ZIP_DEFLATED, 3, 0o100644 << 16
            archive.writestr(info, content)
    return packed.getvalue()


def _members(casebook: Casebook) -> Iterator[tuple[str, bytes]]:
    reviewed = review.review(casebook).plans
    if not reviewed:
        raise ExportError("there is no sealed plan yet, so there is nothing to prove; see earwitness status")
    yield "README.txt", README.encode()
    yield CHECKER, (package_files("sessions.export") / "checker.py").read_bytes()
    yield stand_alone.PROGRAM, stand_alone.program().encode()
    yield "sealing.md", stand_alone.rule().encode()
    viewers = [_viewers(casebook, one) for one in viewers_rows.everything(casebook)]
    if viewers:
        yield VIEWERS_CHECKER, (package_files("sessions.export") / "viewers_checker.py").read_bytes()
        yield "viewers_sealing.md", (package_files("sessions.plans") / "viewers_sealing.md").read_bytes()
    for test_id, record in viewers:
        yield f"viewers/{test_id}.json", _json(record)
    links = casebook.query("SELECT seq, prior, hash FROM chain_links ORDER BY seq")
    yield "chain.json", _json([[link["seq"], link["prior"], link["hash"]] for link in links])
    yield "sealed.json", _json(_sealed(casebook))
    every_link = origins.every_link(casebook)
    yield "evidence.json", _json(_evidence(casebook, [one.sealed.plan for one in reviewed], every_link))
    records = [_record(casebook, one) for one in reviewed]
    told = [row["id"] for one in records for row in one["chain"]]
    told += [row["id"] for _, record in viewers for row in record["rows"]]
    yield "origins.json", _json(_origins(casebook, set(told), every_link))
    yield "results.json", _json([_result(one) for one in reviewed])
    taken = set[str]()
    for one, record in zip(reviewed, records, strict=True):
        name = f"plans/{re.sub(r'[^A-Za-z0-9_-]+', '-', one.sealed.plan.name)}.json"
        name = name if name not in taken else f"plans/{one.sealed.plan.id}.json"
        taken.add(name)
        yield name, _json(record)


def _record(casebook: Casebook, one: ReviewedPlan) -> dict[str, Any]:
    """The record of a plan with its own rows of the chain; those of other things are links in the bundle's chain."""
    record = exported_record.exported(casebook, one.sealed)
    over = record["secret"] is not None
    chain = record["chain"] if over else plan_chain.chain_of(casebook, one.sealed.plan.id)
    own = [row for row in chain if isinstance(row, dict) and (over or row["table"] in BEFORE_THE_END)]
    return {**record, "chain": own}


def _sealed(casebook: Casebook) -> dict[str, list[int]]:
    """By table, the places in the chain of every sealed plan, session that counts, end, and viewers' test."""
    only = {"sessions": " WHERE plan_id IS NOT NULL AND rehearsal IS NULL"}
    return {
        table: [row["seq"] for row in casebook.query(f"SELECT seq FROM {table}{only.get(table, '')} ORDER BY seq")]
        for table in checker.COUNTED
    }


def _viewers(casebook: Casebook, sealed: SealedTest) -> tuple[str, dict[str, Any]]:
    """A viewers' test: its identifier and its record, with nothing of its answers before its end."""
    rows = []
    for table, column in (("viewers_tests", "id"), ("viewers_openings", "viewers_id")):
        found = casebook.query(f"SELECT * FROM {table} WHERE {column} = ?", [sealed.test.id])
        rows += [{**row, "table": table} for row in found]
    told = viewers_results.told(casebook, sealed)
    return sealed.test.id, {
        "test": sealed.test.text,
        "seal": sealed.seal,
        "rows": rows,
        "secret": sealed.opening.secret if sealed.opening else None,
        "answers": viewers_rows.answers_of(casebook, sealed) if told.counts else None,
        "result": asdict(told.counts) if told.counts else None,
    }


def _evidence(casebook: Casebook, plans: list[Plan], links: Mapping[str, OriginLink]) -> list[dict[str, Any]]:
    """The match sheets and checks that plans name by their hashes, as they were hashed where they were written first.

    Of plans that were brought in their own rows too, as they were there.
    """
    named = {digest for plan in plans for digest in _named_by(plan)}
    found = []
    for table in ("match_sheets", "checks", "plans"):
        firsts = origins.named_hashes(casebook, table)
        for row in casebook.query(f"SELECT * FROM {table}"):
            first = firsts.get(row["id"], row["hash"])
            if first in named or (table == "plans" and row["id"] in firsts):
                there = origins.as_there(row, links[firsts[row["id"]]]) if row["id"] in firsts else row
                found.append({**there, "table": table})
    return sorted(found, key=lambda row: (int(row["seq"]), str(row["hash"])))


def _origins(casebook: Casebook, told: set[str], links: Mapping[str, OriginLink]) -> list[dict[str, Any]]:
    """The chains of casebooks that were brought in; of rows that the bundle tells, their places there."""
    found = []
    for origin in origins.every(casebook):
        chain = origins.chain(links, origin.head)
        places = {one.row_id: one.seq for one in chain if one.row_id in told and one.part != "plans"}
        named = {"casebook": origin.casebook, "rows": origin.rows, "head": origin.head}
        [row, *_] = casebook.query("SELECT * FROM origins WHERE casebook = :casebook AND head = :head", named)
        stated = {**named, "places": places, "row": {**row, "table": "origins"}}
        found.append({**stated, "links": [[one.seq, one.prior, one.hash] for one in chain]})
    return found


def _named_by(plan: Plan) -> set[str]:
    return {*filter(None, [plan.match.sheet]), *plan.checks}


def _result(one: ReviewedPlan) -> dict[str, Any]:
    """What a plan came to by itself and as a report has it; nothing of one that is not over."""
    plan, verdict, together = one.sealed.plan, one.verdict, one.verdict.together
    over = one.record.secret is not None
    with_others = _as_said(verdict, verdict.verdict)
    if verdict.verdict == HEARD:
        with_others = f"{with_others}{first_lines.but_alone(verdict)}"
    return {
        "plan": plan.id,
        "name": plan.name,
        "seal": one.sealed.seal,
        "over": over,
        "verdict": with_others if over else None,
        "by_itself": _as_said(verdict, (together.alone if together else None) or verdict.verdict) if over else None,
        "p_value": verdict.p_value if over else None,
        "primary_questions": together.primary_plans if over and together else None,
        "p_among_primary": together.p_holm if over and together else None,
        "review": verdict.course.review,
        "sealed_at": verdict.course.sealed,
        "begun": verdict.course.begun,
        "over_at": verdict.course.over,
    }


def _as_said(verdict: Verdict, came_to: str | None) -> str | None:
    """Of a preference nothing is heard: it was shown."""
    return SHOWN if came_to == HEARD and verdict.plan.method.asks_preference else came_to


def _json(value: Any) -> bytes:
    return (json.dumps(value, ensure_ascii=False, separators=(",", ":"), sort_keys=True) + "\n").encode()
