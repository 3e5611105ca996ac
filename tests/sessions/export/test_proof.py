"""The proof bundle: anybody recomputes order, scores and p-values from it, and no altered byte escapes its program."""

from __future__ import annotations

import hashlib
import json
import random
import re
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from sessions.casebook import session_ends
from sessions.casebook.store import Casebook, open_casebook
from sessions.export import checker, proof, viewers_checker
from sessions.plans import plan_rows, seals
from sessions.plans.methods.table import METHODS
from sessions.results import first_lines, review, stand_alone
from tests.answered_plans import answer_all, sealed_plan
from tests.casebooks import secret_of
from tests.command_line import earwitness
from tests.proof_bundles import HOLDS, members, remanifested, said, unpacked
from tests.viewers_tests import FORMS, end_viewers_test, seal_viewers_tests

IN_EACH = 8  # places of a member where a byte is altered; all of them: python -m tests.benchmarks.altered_bytes


@pytest.fixture(scope="module")
def bundle(old: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The bundle of a casebook with plans of every method: over, closed, under way."""
    with open_casebook(old) as book:
        return unpacked(book, tmp_path_factory.mktemp("bundle"))


@pytest.fixture(scope="module")
def answered(matched_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Casebook]:
    """A casebook with one plan, evening, that was answered."""
    home = tmp_path_factory.mktemp("answered")
    shutil.copytree(matched_folder, home / "book")
    with open_casebook(home / "book") as book:
        sealed_plan(book, method="abx", trials=5)
        answer_all(book, 1.0)
        unpacked(book, home)
        yield book


@pytest.fixture
def small(answered: Casebook, tmp_path: Path) -> Path:
    """A copy of its bundle."""
    shutil.copytree(answered.folder.parent / "proof", tmp_path / "proof")
    return tmp_path / "proof"


def test_it_is_checked_by_the_standard_library_alone_and_comes_to_the_verdicts(bundle: Path, old: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-I", "-S", "checker.py"], cwd=bundle, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    lines = {line.split(": ", 1)[0]: line for line in done.stdout.splitlines()}
    assert HOLDS in lines
    numbers = fallen = 0
    with open_casebook(old) as book:
        for one in review.review(book).plans:
            line = lines[one.sealed.plan.name]
            assert one.sealed.seal in line
            if one.record.secret is None:
                assert "sealed, not over" in line
            elif one.verdict.p_value is not None:
                stated = re.search(r"p = ([\d.e+-]+)", line)
                assert stated is not None, line
                assert float(stated[1]) == pytest.approx(one.verdict.p_value, rel=1e-5)
                numbers += 1
                own = f"with all plans of its review, {one.sealed.plan.name}"
                whole = lines[own].removeprefix(own)
                headline = first_lines.first_lines(one.verdict)[0]
                among = re.search(r"on its own, but not among the \d+ primary questions taken together", headline)
                fallen += among is not None
                assert (among[0] in whole) if among else ("on its own" not in whole)
                preference = one.sealed.plan.method.asks_preference
                assert ("heard" in whole, ": shown" in whole) == (
                    ("HEARD" in headline, False) if not preference else (False, "was SHOWN" in headline)
                ), (whole, headline)
    assert numbers >= 15
    assert fallen >= 3


def test_its_program_imports_the_standard_library_alone() -> None:
    for program in (checker, viewers_checker):
        source = Path(program.__file__).read_text(encoding="utf-8")
        imported = re.findall(r"^(?:import|from) (\w+)", source, flags=re.MULTILINE)
        assert set(imported) <= sys.stdlib_module_names


def test_the_same_casebook_gives_the_same_bytes(old: Path, tmp_path: Path) -> None:
    digests = []
    for name in ("one.zip", "two.zip"):
        done = earwitness(old, "export", str(tmp_path / name), "--proof", "--json")
        digests.append(json.loads(done.stdout)["sha256"])
        assert digests[-1] == hashlib.sha256((tmp_path / name).read_bytes()).hexdigest()
    assert digests[0] == digests[1]
    again = earwitness(old, "export", str(tmp_path / "one.zip"), "--proof")
    assert (again.returncode, "is there already" in again.stderr) == (2, True)
    with zipfile.ZipFile(tmp_path / "one.zip") as archive:
        assert {one.date_time for one in archive.infolist()} == {proof.DATED}
        assert archive.namelist() == sorted(archive.namelist())


def test_of_a_plan_that_is_not_over_it_holds_what_was_published(old: Path, bundle: Path) -> None:
    with open_casebook(old) as book:
        over = plan_rows.openings(book)
        running = [one.plan for one in plan_rows.every_sealed(book) if one.plan.id not in over]
        secrets = [plan_rows.secret(book, plan.id).hex() for plan in running]
    assert len(running) >= 2
    every = "".join(path.read_text(encoding="utf-8") for path in members(bundle))
    assert not any(secret in every for secret in secrets)
    for plan in running:
        record = json.loads((bundle / "plans" / f"{plan.name}.json").read_text(encoding="utf-8"))
        tables = [row["table"] for row in record["chain"]]
        assert set(tables) <= {"plans", "sessions", "given_up"}
        assert tables.count("sessions") == len(record["sessions"])
        assert all(session["trials"] == [] for session in record["sessions"])
    results = json.loads((bundle / "results.json").read_text(encoding="utf-8"))
    told = {one["plan"]: (one["over"], one["verdict"], one["by_itself"], one["p_value"]) for one in results}
    assert {told[plan.id] for plan in running} == {(False, None, None, None)}


def test_each_altered_byte_is_found(small: Path) -> None:
    rng = random.Random(20)
    assert said(small).startswith(HOLDS)
    for path in members(small):
        content = path.read_bytes()
        places = {0, len(content) - 1, *rng.sample(range(len(content)), min(IN_EACH, len(content)))}
        for place in places:
            altered = bytearray(content)
            altered[place] ^= rng.randrange(1, 256)
            path.write_bytes(altered)
            assert HOLDS not in said(small), (path.name, place)
        path.write_bytes(content)
    assert said(small).startswith(HOLDS)


def test_a_file_too_many_or_too_few_is_found(small: Path) -> None:
    (small / "plans" / "other.json").write_text("{}")
    assert "plans/other.json" in said(small)
    (small / "plans" / "other.json").unlink()
    (small / "sealing.md").unlink()
    assert "sealing.md" in said(small)


def changed(path: Path, change: Callable[[Any], None]) -> None:
    document = json.loads(path.read_text(encoding="utf-8"))
    change(document)
    path.write_text(json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=False) + "\n")


def turn_an_answer(record: Any) -> None:
    row = next(one for one in record["chain"] if one["table"] == "answers")
    row["answer"] = "B" if row["answer"] == "A" else "A"


def unwritten() -> dict[str, Any]:
    """A casebook that nobody brought in: with one, places in the chain would be compared no more."""
    named: dict[str, Any] = {"casebook": "none", "rows": 0, "head": checker.START}
    row = {**named, "table": "origins", "seq": 1, "prior": checker.START, "id": "origin-none", "at": ""}
    return {**named, "places": {}, "links": [], "row": {**row, "hash": checker.digest_of(row)}}


def turn_a_told_answer(record: Any) -> None:
    trial = record["sessions"][0]["trials"][0]
    trial["answer"] = "B" if trial["answer"] == "A" else "A"


@pytest.mark.parametrize(
    ("name", "change", "says"),
    [
        ("plans/evening.json", turn_an_answer, "was changed, or is not the one of the chain"),
        ("plans/evening.json", turn_a_told_answer, "the sessions are not those of the chain"),
        ("plans/evening.json", lambda record: record["chain"].pop(), "the chain holds other openings"),
        ("plans/evening.json", lambda record: record.update(secret="00" * 32), "the seal does not fit"),
        ("plans/evening.json", lambda record: record.update(secret=None), "is not over, and something of its answers"),
        ("plans/evening.json", lambda record: record.update(seal="00" * 32), "is not the one that was sealed"),
        ("chain.json", lambda links: links[3].__setitem__(2, "0" * 64), "the chain is broken at its row 5"),
        ("chain.json", lambda links: links.pop(), "not the one of the chain|cannot be read"),
        ("evidence.json", lambda rows: rows[0].update(document="{}"), "was changed, or is not the one of the chain"),
        ("evidence.json", lambda rows: rows.clear(), "rests on a match sheet or check that is not here"),
        ("results.json", lambda results: results[0].update(p_value=0.001), "something else than results.json says"),
        ("results.json", lambda results: results[0].update(by_itself="void"), "something else than results.json says"),
        (
            "results.json",
            lambda results: results[0].update(by_itself="", verdict=""),
            "something else than results.json",
        ),
        (
            "results.json",
            lambda results: results[0].update(by_itself="hear", verdict="hear"),
            "something else than resul",
        ),
        ("results.json", lambda results: results[0].update(name="morning"), "says something else of the plan evening"),
        ("results.json", lambda results: results[0].update(seal="00" * 32), "says something else of the plan evening"),
        ("results.json", lambda results: results[0].update(over=False), "says something else of the plan evening"),
        ("results.json", lambda results: results[0].update(begun=1), "says otherwise when the plan evening was sealed"),
        ("results.json", lambda results: results[0].update(verdict="not shown"), "together with those on its question"),
        ("results.json", lambda results: results.clear(), "speaks of other plans"),
        ("origins.json", lambda origins: origins.append(unwritten()), "the row of the casebook none was changed"),
        ("sealed.json", lambda sealed: sealed["plans"].clear(), "sealed.json does not count row"),
        ("sealed.json", lambda sealed: sealed["viewers_tests"].append(3), "1 viewers' tests of this chain are not in"),
    ],
)
def test_what_was_altered_with_its_manifest_is_found_by_what_it_says(
    small: Path, name: str, change: Callable[[Any], None], says: str
) -> None:
    changed(small / name, change)
    remanifested(small)
    told = said(small)
    assert HOLDS not in told
    assert re.search(says, told), told


@pytest.fixture(scope="module")
def several(matched_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The bundle of a casebook where first is under way, second was heard, by itself alone, and third is not begun."""
    home = tmp_path_factory.mktemp("several")
    shutil.copytree(matched_folder, home / "book")
    with open_casebook(home / "book") as book:
        sealed_plan(book, "first", method="abx", trials=30)
        answer_all(book, 1.0, plan="first", most=2)
        sealed_plan(book, "second", method="abx", trials=25)
        answer_all(book, 1.0, plan="second")
        sealed_plan(book, "third", method="triangle", trials=5)
        return unpacked(book, home)


def result_of(results: Any, name: str) -> Any:
    return next(one for one in results if one["name"] == name)


def left_out(bundle: Path, name: str) -> None:
    """A plan out of a bundle, as whoever would rather not show it does."""
    (bundle / "plans" / f"{name}.json").unlink()
    changed(bundle / "results.json", lambda results: results.remove(result_of(results, name)))


def not_begun(bundle: Path) -> None:
    changed(bundle / "results.json", lambda one: result_of(one, "first").update(begun=None))
    changed(bundle / "results.json", lambda one: result_of(one, "second").update(verdict="heard"))


def not_begun_in_its_record(bundle: Path) -> None:
    not_begun(bundle)

    def without(record: Any) -> None:
        record["sessions"], record["chain"] = [], record["chain"][:1]

    changed(bundle / "plans" / "first.json", without)


def not_over(bundle: Path) -> None:
    def hidden(record: Any) -> None:
        record["secret"], record["chain"] = (
            None,
            [one for one in record["chain"] if one["table"] in ("plans", "sessions")],
        )
        record["sessions"] = [{**one, "trials": []} for one in record["sessions"]]

    none = dict.fromkeys(("verdict", "by_itself", "p_value", "over_at"))
    changed(bundle / "plans" / "second.json", hidden)
    changed(bundle / "results.json", lambda one: result_of(one, "second").update(**none, over=False))


def small_p(bundle: Path) -> None:
    """Of 25 right of 25 p is 3e-8, which is no other small number."""
    changed(bundle / "results.json", lambda one: result_of(one, "second").update(p_value=1e-6))


def milder(bundle: Path) -> None:
    changed(bundle / "results.json", lambda one: result_of(one, "second").update(verdict="heard"))


def among_fewer(bundle: Path) -> None:
    none = {"primary_questions": None, "p_among_primary": None}
    changed(bundle / "results.json", lambda one: result_of(one, "second").update(none))


def less_corrected(bundle: Path) -> None:
    changed(bundle / "results.json", lambda one: result_of(one, "second").update(p_among_primary=0.01))


def in_another_review(bundle: Path) -> None:
    changed(bundle / "results.json", lambda one: result_of(one, "third").update(review="elsewhere"))


@pytest.mark.parametrize(
    ("alter", "says"),
    [
        (not_begun, "says otherwise when the plan first was sealed, begun"),
        (
            not_begun_in_its_record,
            "1 sessions of sealed plans are not in this bundle, so that plans stand here as not be",
        ),
        (lambda bundle: left_out(bundle, "third"), "1 sealed plans of this chain are not in this bundle (row"),
        (not_over, "1 plans of this chain were ended, and stand here as not over (row"),
        (small_p, "came to something else than results.json says"),
        (milder, "the plan second is not shown, not what results.json says"),
        (among_fewer, "says otherwise among which primary questions the plan second is judged"),
        (less_corrected, "among the primary questions the plan second has p = 1, not what results.json says"),
        (in_another_review, "tells of several reviews, and no casebook was brought into this one"),
    ],
)
def test_a_plan_left_out_or_told_as_not_begun_or_not_over_is_found_against_a_kept_end(
    several: Path, tmp_path: Path, alter: Callable[[Path], None], says: str
) -> None:
    end = re.search(r"The end of this record: (\S+)", said(several))
    assert end is not None
    bundle = Path(shutil.copytree(several, tmp_path / "proof"))
    alter(bundle)
    remanifested(bundle)
    told = said(bundle, end[1])
    assert HOLDS not in told
    assert says in told, told


def test_it_says_how_many_plans_the_chain_holds_and_what_tells_that(several: Path) -> None:
    told = said(several)
    assert (
        "3 sealed plans and 0 viewers' tests of this chain, all of them here. Told by sealed.json alone: that" in told
    )
    assert "look for that seal" in (several / "README.txt").read_text(encoding="utf-8")


def test_what_plans_on_one_question_come_to_together_is_recomputed_by_stages() -> None:
    """By hand: Holm's 3 x 0.01 = 0.03 and 2 x 0.03 = 0.06; what is sealed after them waits for both to hold."""
    could = {
        "match": {"sheet": "s", "residual_lu": "0", "tolerance_lu": "0.1"},
        "giveaways": {"check": "c", "open": []},
    }
    setups = [{"setup": "one"}, {"setup": "two"}]

    def told(p_values: dict[str, float], method: str = "abx") -> list[str]:
        plans = {name: {**could, "method": method, "setups": setups, "alpha": "0.05"} for name in p_values}
        rows = {"a": (1, 4), "b": (2, 5), "c": (3, 6), "late": (7, 8)}
        results = {
            name: {
                "p_value": p, "by_itself": "heard" if p <= 0.05 else "not shown", "sealed_at": rows[name][0],
                "begun": rows[name][1], "over_at": 9,
            }
            for name, p in p_values.items()
        }  # fmt: skip
        return list(checker.together(plans, results).values())

    assert told({"a": 0.01, "b": 0.03, "c": 0.2}) == ["heard", "not shown", "not shown"]
    assert told({"a": 0.01, "b": 0.03, "late": 0.001}) == ["heard", "heard", "heard"]
    assert told({"a": 0.01, "b": 0.2, "late": 0.001}) == ["heard", "not shown", "not shown"]
    assert told({"a": 0.01, "b": 0.03}, "words") == ["heard", "not shown"]  # 2 x 0.03: Bonferroni over ballots


def test_the_primary_questions_of_a_review_are_corrected_for_together_whatever_they_ask() -> None:
    """By hand, of three questions in one stage: 3 x 0.01, 2 x 0.02 and 0.04 hold, of four 4 x 0.01 alone does."""
    could = {
        "match": {"sheet": "s", "residual_lu": "0", "tolerance_lu": "0.1"},
        "giveaways": {"check": "c", "open": []},
        "alpha": "0.05",
    }

    def told(
        p_values: dict[str, float], *, aside: str = "", review: str = "", void: str = "", began: int = 90
    ) -> dict[str, tuple[Any, Any, Any]]:
        methods = {"a": "abx", "b": "preference", "c": "triangle", "d": "tetrad"}
        plans = {
            name: {**could, "method": methods[name], "setups": [], "primary": name != aside}
            | ({"giveaways": {"check": "none", "open": []}} if name == void else {})
            for name in p_values
        }
        results = {
            name: {
                "p_value": p, "by_itself": ("shown" if name == "b" else "heard") if p <= 0.05 else "not shown",
                "review": review if name == "d" else "", "sealed_at": 10 * place,
                "begun": 10 * place + began, "over_at": 900,
            }
            for place, (name, p) in enumerate(p_values.items(), 1)
        }  # fmt: skip
        return checker.among_primary(plans, results, checker.together(plans, results))

    three = {"a": 0.01, "b": 0.02, "c": 0.04}
    assert [one[0] for one in told(three).values()] == ["heard", "shown", "heard"]
    four = told({**three, "d": 0.5})
    fallen = " on its own, but not among the 4 primary questions taken together"
    assert [one[0] for one in four.values()] == ["heard", f"shown{fallen}", f"heard{fallen}", "not shown"]
    assert [one[1] for one in four.values()] == pytest.approx([0.04, 0.06, 0.08, 0.5])
    assert {one[2] for one in four.values()} == {4}
    with_d = {**three, "d": 0.5}
    for found in (told(with_d, aside="d"), told(with_d, review="elsewhere"), told(with_d, void="d")):  # none of these
        assert [one[0] for one in found.values()] == ["heard", "shown", "heard", "not shown"]
        assert found["d"][1:] == (None, None)
    late = told({"a": 0.2, "b": 0.001}, began=1)  # b was sealed (20) after a was begun (11), which does not hold
    assert late["b"] == ("shown on its own, but not among the 2 primary questions taken together", 1.0, 2)


def test_which_methods_ask_for_a_preference_is_known_to_the_program() -> None:
    assert {name for name, method in METHODS.items() if method.asks_preference} == set(checker.PREFERENCES)


def test_an_end_that_was_kept_is_looked_for(answered: Casebook, small: Path) -> None:
    plan = seals.sealed_plan(answered, "evening").plan
    shown = [str(one.end.code) for one in session_ends.of_plan(answered, plan.id)]
    assert len(shown) >= 2
    told = said(small, *shown)
    assert told.startswith(HOLDS)
    assert all(f"the end {code} is there" in told for code in shown)
    assert said(small).rstrip().endswith(f"({answered.head()['head_hash']})")
    other = shown[0][:-1] + ("0" if shown[0][-1] != "0" else "1")
    assert "is no end code, or was mistyped" in said(small, other)
    digits = shown[0].split("-")
    moved = f"{int(digits[0]) + 1}{''.join(digits[1:5])}"
    code = "-".join([str(int(digits[0]) + 1), *digits[1:5], checker.check_character(moved)])
    assert "is not in this record" in said(small, code)


def test_a_casebook_without_a_sealed_plan_has_nothing_to_prove(casebook: Casebook, tmp_path: Path) -> None:
    done = earwitness(casebook.folder, "export", str(tmp_path / "proof.zip"), "--proof")
    assert (done.returncode, "nothing to prove" in done.stderr) == (2, True)
    assert not (tmp_path / "proof.zip").exists()


def test_it_holds_the_rule_and_its_program_and_no_secret_before_the_end(sealed: Casebook, tmp_path: Path) -> None:
    bundle = unpacked(sealed, tmp_path)
    assert (bundle / "check.py").read_text(encoding="utf-8") == stand_alone.program()
    assert (bundle / "sealing.md").read_text(encoding="utf-8") == stand_alone.rule()
    assert secret_of(sealed).hex() not in "".join(path.read_text(encoding="utf-8") for path in members(bundle))
    assert "evening: sealed, not over" in said(bundle)


@pytest.fixture(scope="module")
def asked(answered: Casebook, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The bundle of a casebook with a viewers' page and a soundtrack that are over, and a page that is not."""
    home = tmp_path_factory.mktemp("asked")
    shutil.copytree(answered.folder, home / "book")
    with open_casebook(home / "book") as book:
        seal_viewers_tests(book, "evening", ("page", "soundtrack"))
        for form in FORMS:
            end_viewers_test(book, "evening", form)
        seal_viewers_tests(book, "evening", ("page",), name="later")
        return unpacked(book, home)


def test_counts_and_p_of_viewers_tests_are_recomputed_and_nothing_is_told_before_the_end(asked: Path) -> None:
    """40 viewers who hear all of five trials: 2^-200; ten right votes in each of five: one key of 32."""
    told = said(asked)
    assert told.startswith(HOLDS)
    assert f"viewers' page viewers-page: 200 of 200 by 40; p = {2.0**-200:.6g}; by itself: heard; seal " in told
    assert "viewers' soundtrack viewers-soundtrack: 50 of 50 by 50; p = 0.03125; by itself: heard; seal " in told
    assert "viewers' page later-page: sealed, not over (seal " in told
    waiting = json.loads((asked / "viewers" / "later-page.json").read_text())
    assert (waiting["secret"], waiting["answers"], waiting["result"]) == (None, None, None)
    assert [row["table"] for row in waiting["rows"]] == ["viewers_tests"]


def turn_a_code(record: Any) -> None:
    record["answers"] = record["answers"].replace(record["answers"].split()[0], record["answers"].split()[1], 1)


def hide_the_end(record: Any) -> None:
    record["rows"].pop()
    record.update(secret=None, answers=None, result=None)


def test_what_was_altered_of_a_viewers_test_is_found_with_its_manifest(asked: Path, tmp_path: Path) -> None:
    changes: list[tuple[str, Callable[[Any], None], str]] = [
        ("page", lambda one: one["result"].update(right=199), "it came to 200 of 200 by 40"),
        ("page", lambda one: one["result"].update(p_value=2.0**-199), "it came to 200 of 200 by 40"),
        ("soundtrack", lambda one: one["result"].update(verdict="not shown"), "it came to 50 of 50 by 50"),
        ("page", turn_a_code, "these are not the answers that were there"),
        ("page", lambda one: one.update(secret="00" * 32), "its secret is not the one of the chain"),
        ("page", lambda one: one["rows"][1].update(answers_sha256="00" * 32), "was changed, or is not the one of the"),
        ("page", lambda one: one["rows"].pop(), "is not over, and something of its answers is told"),
        ("page", lambda one: one.update(seal="00" * 32), "it is not the one that was sealed"),
        ("page", hide_the_end, "1 viewers' tests of this chain were ended, and stand here as not over"),
    ]
    for number, (form, change, says) in enumerate(changes):
        bundle = tmp_path / str(number)
        shutil.copytree(asked, bundle)
        changed(bundle / "viewers" / f"viewers-{form}.json", change)
        remanifested(bundle)
        told = said(bundle)
        assert HOLDS not in told
        assert says in told, told
