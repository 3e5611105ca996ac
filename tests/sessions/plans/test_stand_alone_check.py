"""The stand-alone program of the sealing rule: it says what the casebook says, and no change of a record escapes it.

The records are those of casebooks kept from an older version: every method, panels, sequences, disturbed and closed.
"""

from __future__ import annotations

import contextlib
import copy
import gzip
import hashlib
import io
import json
import os
import re
import shutil
import sys
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from functools import cache
from pathlib import Path
from types import CodeType
from typing import Any

import numpy as np
import pytest

from sessions.casebook.store import Casebook, open_casebook
from sessions.listening import session
from sessions.plans import drafting, plan_rows, seals
from sessions.plans.methods.graded import answer_of
from sessions.plans.methods.multi_stimulus import MULTI_STIMULUS
from sessions.plans.plan_rows import Wish
from sessions.results import review
from sessions.results.exported_record import exported
from sessions.results.outcome import QualityGrades
from sessions.results.plan_record import Trial
from sessions.results.verdict import Verdict, judge
from tests.answered_plans import PAIR, answer_all, run_alone, stand_alone
from tests.records import RIGHT, plan
from tests.records import record as record_of

KEPT = Path(__file__).parents[2] / "data" / "before-rooms"
OLD = {
    said["args"][2]: json.loads(said["stdout"]) if isinstance(said["stdout"], str) else said["stdout"]
    for said in json.loads(gzip.decompress((KEPT / "said.json.gz").read_bytes()))
    if said["args"][:2] == ["verify", "--record"]
}
"""Records as they were printed before they held a chain, by plan."""
OVER = sorted(name for name, record in OLD.items() if record["secret"])
ONE_OF_EACH = (
    "duo-trio-disturbed", "ties-split", "triangle-aside", "tetrad-panel", "same-or-different", "graded-pair",
    "closed-multi", "all-pairs", "ratio-heard", "mixture-preferred", "closed-preference", "abx-controls",
)  # fmt: skip
MAY_CHANGE = {
    "without .chain": "a record from before records held a chain; the program says that there is none",
    "without .phrase": "as absent as it is empty, in records from before there were phrases",
    "without .phrase_at": "the same",
    "without .second_hand": "the same, of second secrets",
    "out of sight .chain[]counters": "how old the casebook was: no result follows from it, and verify counts it anew",
}


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[dict[str, Any], Verdict]]:
    """By plan, the record that is exported now and the verdict of the casebook."""
    found = {}
    for place, source in enumerate((KEPT, KEPT / "gear")):
        folder = tmp_path_factory.mktemp(f"book-{place}")
        shutil.copyfile(source / "casebook.db", folder / "casebook.db")
        with open_casebook(folder) as casebook:
            verdicts = {one.sealed.plan.id: one.verdict for one in review.review(casebook).plans}
            for sealed in plan_rows.every_sealed(casebook):
                record = json.loads(json.dumps(exported(casebook, sealed)))
                found[sealed.plan.name] = record, verdicts[sealed.plan.id]
    return found


@pytest.fixture(scope="module")
def program() -> CodeType:
    return compile(stand_alone(), "check.py", "exec")


def said_of(program: CodeType, record: Any, monkeypatch: pytest.MonkeyPatch) -> str | None:
    """What the program prints of a record; None where it does not hold (its reason, or a part that is not there)."""
    out = io.StringIO()
    try:
        with monkeypatch.context() as here, contextlib.redirect_stdout(out):
            here.setattr(sys, "argv", ["check.py", os.devnull])
            here.setattr(sys, "excepthook", sys.excepthook)  # the program sets its own
            here.setattr(json, "load", lambda _: record)  # a file for each of thousands of changes would take long
            exec(program, {"__name__": "__main__"})
    except (SystemExit, LookupError, ValueError, TypeError, AttributeError):
        return None
    return out.getvalue()


def test_it_is_short_and_imports_the_standard_library_alone() -> None:
    program = stand_alone()
    assert program.count("\n") <= 275
    imported = re.findall(r"^(?:import|from) ([\w, ]+)", program, flags=re.MULTILINE)
    names = {name.strip() for part in imported for name in part.split(" import")[0].split(",")}
    assert names <= sys.stdlib_module_names


@pytest.mark.parametrize("plan", OVER)
def test_it_comes_to_the_casebooks_number_and_verdict(
    known: dict[str, tuple[dict[str, Any], Verdict]], program: CodeType, monkeypatch: pytest.MonkeyPatch, plan: str
) -> None:
    record, judged = known[plan]
    said = said_of(program, record, monkeypatch)
    assert said is not None
    assert f"{len(record['chain'])} rows of the chain fit" in said
    told = re.search(r"; (?:p = ([\d.e+-]+)|no p); alpha .*; by itself: ([\w ]+)", said)
    assert told is not None
    alone = judged.together.alone if judged.together else None
    assert told[2].startswith(alone or judged.verdict or "-")
    wanted = None if judged.p_value is None else pytest.approx(judged.p_value, abs=1e-6)
    assert (told[1] and float(told[1])) == wanted


@pytest.mark.parametrize("plan", OVER)
def test_a_record_from_before_is_checked_without_its_chain(
    program: CodeType, monkeypatch: pytest.MonkeyPatch, plan: str
) -> None:
    said = said_of(program, OLD[plan], monkeypatch)
    assert said is not None
    assert "seal and keys fit; NO CHAIN, so changed answers would go unseen" in said
    broken = copy.deepcopy(OLD[plan])
    key = broken["sessions"][0]["trials"][0]["key"]
    key["1" if "1" in key else "X"] += 1
    assert said_of(program, broken, monkeypatch) is None


def test_a_record_of_rule_2_without_its_chain_is_refused(casebook: Casebook, tmp_path: Path) -> None:
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=6), "evening")
    seals.seal(casebook, "evening", await_phrase=True)
    seals.give_phrase(casebook, "evening", "rain, 7 12 31")
    answer_all(casebook, 1.0)
    record = exported(casebook, seals.sealed_plan(casebook, "evening"))
    assert run_alone(record, tmp_path).returncode == 0
    del record["chain"]
    for trial in record["sessions"][0]["trials"]:
        trial["answer"] = "A"
    done = run_alone(record, tmp_path)
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr == "THIS RECORD DOES NOT HOLD: it has no chain, which records of rule 2 always had\n"


@pytest.mark.parametrize("part", ["secret", "plan", "sessions", "seal"])
def test_a_record_that_lacks_something_ends_in_one_sentence(tmp_path: Path, part: str) -> None:
    record = {name: value for name, value in OLD[OVER[0]].items() if name != part}
    done = run_alone(record, tmp_path)
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr == f"THIS RECORD DOES NOT HOLD OR CANNOT BE READ: KeyError('{part}')\n"


MEDIANS = "permutation test of the difference of medians for each pair of setups, as plans of before say"


@pytest.mark.parametrize("test", ["", MEDIANS])
@pytest.mark.parametrize(("trials", "listeners"), [(5, 1), (7, 1), (5, 3), (18, 2)])
def test_grades_of_many_stimuli_come_to_the_p_of_the_test_in_the_plan(
    program: CodeType, monkeypatch: pytest.MonkeyPatch, test: str, trials: int, listeners: int
) -> None:
    rng = np.random.default_rng(trials)
    stated = {"exclusions": MULTI_STIMULUS.exclusions} | ({"test": test} if test else {})
    made = plan("multi-stimulus", trials, listeners=listeners, stated=stated)
    bare = record_of(made, [[RIGHT] * trials] * listeners)

    def graded(trial: Trial) -> Trial:
        places = [int(rng.integers(80, 100)), int(rng.integers(70, 100)), int(rng.integers(70, 95)), 20]
        places.append(95 if rng.random() < 0.15 else 40)
        given = {label: Decimal(places[place]) for label, place in trial.key.items() if label != "R"}
        return replace(trial, answer=answer_of(given))

    sessions = tuple(replace(own, trials=tuple(graded(one) for one in own.trials)) for own in bare.sessions)
    found = replace(bare, sessions=sessions)
    judged, said = judge(found), said_of(program, found.to_document(), monkeypatch)
    assert said is not None
    assert isinstance(judged.outcome, QualityGrades)
    if judged.outcome.pairs and judged.outcome.pairs[0].p_error is not None:
        assert test
        assert "p was drawn; not recomputed here; no p" in said
    else:
        wanted = "no p" if judged.p_value is None else f"p = {judged.p_value:.6g}"
        assert f"; {wanted}; alpha 0.05; by itself: {judged.verdict}" in said


def test_a_running_plans_record_holds_neither_chain_nor_key(
    known: dict[str, tuple[dict[str, Any], Verdict]], tmp_path: Path
) -> None:
    record, _ = known["running"]
    assert "chain" not in record
    assert [session["trials"] for session in record["sessions"]] == [[]]
    done = run_alone(record, tmp_path)
    assert (done.returncode, done.stdout) == (1, "")
    assert "THIS RECORD DOES NOT HOLD: it is no record of a plan that is over" in done.stderr


def test_each_changed_field_of_a_plan_with_phrase_and_second_hand_is_found(
    casebook: Casebook, program: CodeType, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(hashlib, "pbkdf2_hmac", cache(hashlib.pbkdf2_hmac))  # slow on purpose, and the same each time
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=6), "evening")
    seals.seal(casebook, "evening", await_phrase=True, ask_second=lambda: "tengreenbottles1972")
    seals.give_phrase(casebook, "evening", "rain, 7 12 31")
    with session.begin(casebook, "evening", "Ada", "none", lambda _: "Ten green bottles, 1972") as running:
        offered = running.next_trial()
        assert offered is not None
        running.fault(offered, "underruns", 1, "late")
    answer_all(casebook, 1.0, second="Ten green bottles, 1972")
    record = json.loads(json.dumps(exported(casebook, seals.sealed_plan(casebook, "evening"))))
    kinds = {kind(record, path) for path in paths(record)}
    assert {".second_hand", ".chain[]second_hands.secret", ".chain[]keys.key", ".chain[]keys.trial_id"} <= kinds
    said = said_of(program, record, monkeypatch)
    assert said is not None
    assert "6 of 6; p = 0.015625" in said
    missed = [what for what in changes_of(record) if said_of(program, record, monkeypatch) is not None]
    assert set(missed) <= {"out of sight .chain[]counters"}
    assert said_of(program, record, monkeypatch) == said
    for table in ("keys", "second_hands"):
        chain = [
            [link["seq"], link["prior"], link["hash"]] if isinstance(link, dict) and link["table"] == table else link
            for link in record["chain"]
        ]
        assert said_of(program, {**record, "chain": chain}, monkeypatch) is None


def test_no_row_of_another_plan_is_told(known: dict[str, tuple[dict[str, Any], Verdict]]) -> None:
    for record, _ in known.values():
        sessions = {session["session"] for session in record["sessions"]}
        for row in record.get("chain", []):
            if isinstance(row, dict):
                assert row.get("session_id") is None or row["session_id"] in sessions
                assert row["table"] not in ("words", "exposures", "match_sheets", "checks")


@pytest.mark.parametrize("plan", ONE_OF_EACH)
def test_each_changed_field_is_found(
    known: dict[str, tuple[dict[str, Any], Verdict]], program: CodeType, monkeypatch: pytest.MonkeyPatch, plan: str
) -> None:
    """Each kind of field, in its first and its last place: changed, left out, and a row put out of sight."""
    record, _ = known[plan]
    before = json.dumps(record)
    missed = [what for what in changes_of(record) if said_of(program, record, monkeypatch) is not None]
    assert json.dumps(record) == before
    assert said_of(program, record, monkeypatch) is not None
    assert set(missed) <= set(MAY_CHANGE)


def changes_of(record: dict[str, Any]) -> Iterator[str]:
    """The record is changed while each name is out, and as it was afterwards."""
    places: dict[str, list[list[Any]]] = {}
    for path in paths(record):
        places.setdefault(kind(record, path), []).append(path)
    for name, found in places.items():
        for path in (found[0], found[-1])[: len(found)]:
            holder, last = at(record, path[:-1]), path[-1]
            value, whole = holder[last], copy.copy(holder)
            if isinstance(value, dict) and "seq" in value:
                holder[last] = [value["seq"], value["prior"], value["hash"]]
                yield f"out of sight {name}"
            elif not isinstance(value, (dict, list)):
                holder[last] = other(value)
                yield name
            del holder[last]
            yield f"without {name}"
            holder.clear()
            (holder.update if isinstance(holder, dict) else holder.extend)(whole)


def paths(value: Any, before: tuple[Any, ...] = ()) -> Iterator[list[Any]]:
    parts = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for name, part in parts:
        yield [*before, name]
        yield from paths(part, (*before, name))


def kind(record: Any, path: list[Any]) -> str:
    """What a place is, without its numbers; rows of the chain by their table."""
    name, value = "", record
    for step in path:
        value = value[step]
        name += f".{step}" if isinstance(step, str) else "[]" if isinstance(value, dict) else f"[{step % 3}]"
        if isinstance(value, dict) and "table" in value:
            name += value["table"]
    return name


def at(value: Any, path: list[Any]) -> Any:
    for step in path:
        value = value[step]
    return value


def other(value: Any) -> Any:
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return value + 1
    return "another" if value is None else f"{value}x"
