"""`pool`: many casebooks, or what they exported, give the numbers of their answers, each once."""

from __future__ import annotations

import json
import re
import shutil
import sys
from collections import Counter, defaultdict
from pathlib import Path
from typing import Any

import pyarrow
import pyarrow.parquet
import pytest
from scipy import stats

from sessions.casebook.store import create, open_casebook
from sessions.export import engine, pool
from sessions.plans.methods.method import TIE
from sessions.results import review
from sessions.results.outcome import Discrimination
from tests.command_line import Done, earwitness
from tests.many_answers import write_casebook


def pooled(*given: object, status: int = 0) -> Any:
    done = ask(*given)
    assert done.returncode == status, done.stderr
    return json.loads(done.stdout, parse_float=_to_twelve_digits)


def _to_twelve_digits(text: str) -> float:
    """Sums of fractions end otherwise in their last digit where files come in another order."""
    return float(f"{float(text):.12g}")


def ask(*given: object) -> Done:
    return earwitness(Path("none"), "pool", *map(str, given), "--json")


@pytest.fixture(scope="module")
def exports(sites: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("exports")
    for name in ("files", "gear"):
        assert earwitness(sites / name, "export", str(home / name), "--as", "parquet").returncode == 0
    return home


def groups(found: Any, *by: str) -> dict[Any, tuple[int, int, int]]:
    return {
        tuple(one[name] for name in ("method", "setups", *by)): (one["right"], one["trials"], one["listeners"])
        for one in found["groups"]
    }


def test_casebooks_come_to_the_counts_of_their_verdicts(sites: Path) -> None:
    wanted: defaultdict[Any, list[int]] = defaultdict(lambda: [0, 0])
    for site in sorted(sites.iterdir()):
        with open_casebook(site) as book:
            for one in review.review(book).plans:
                outcome, plan = one.verdict.outcome, one.record.plan
                alone = one.verdict.together.alone if one.verdict.together else None
                if not isinstance(outcome, Discrimination) or (alone or one.verdict.verdict) == "void":
                    continue
                if one.record.ended == "all sessions complete" and plan.sequential is None:
                    right, others = outcome.choices or (outcome.correct, outcome.counted - outcome.correct)
                    names = [setup.name for setup in plan.setups]
                    if len(names) == 2 and names != sorted(names):
                        right = right if plan.method.name != "preference" else others
                        others = sum(outcome.choices or (outcome.correct, outcome.counted - outcome.correct)) - right
                        names.sort()
                    own = wanted[plan.method.name, "|".join(names)]
                    own[0] += right
                    own[1] += right + others
    found = pooled(sites)
    assert {key: list(one[:2]) for key, one in groups(found).items()} == {k: v for k, v in wanted.items() if v[1]}
    assert (found["casebooks"], found["left_out"]) == (2, [])
    assert found["pooled"] == sum(one[1] for one in wanted.values())


def test_what_was_exported_comes_to_the_same_and_both_kinds_go_together(sites: Path, exports: Path) -> None:
    for by in ([], ["--by", "listener"], ["--by", "passage", "--by", "casebook"]):
        found = pooled(sites, *by)
        del found["not_read"]  # an export has nothing of plans that are not over
        for given in ([exports], [sites / "gear", exports / "files" / "judged_trials.parquet"]):
            other = pooled(*given, *by)
            assert other.pop("not_read") == []
            assert other == found


def test_a_preference_is_told_as_for_the_first_and_never_as_right(sites: Path) -> None:
    found = pooled(sites)
    for one in found["groups"]:
        first = one["setups"].split("|")[0]
        assert one["counted_as"] == (f"for {first}" if one["method"] == "preference" else "right")
    said = earwitness(Path("none"), "pool", str(sites)).stdout
    lines = [line for line in said.splitlines() if line.startswith("preference ")]
    assert lines
    assert not [line for line in lines if " right" in line]
    assert all(re.search(r" \d+ for \S+", line) for line in lines)
    assert "right" not in said.splitlines()[0]


def test_what_is_not_pooled_is_counted_by_why(sites: Path) -> None:
    """By hand from the rows: of each answer the first reason why it is in no group."""
    wanted: Counter[str] = Counter()
    waiting, answers = 0, 0
    for site in sites.iterdir():
        with open_casebook(site) as book:
            for row in book.query(
                """SELECT plan_id, COUNT(*) AS own FROM answers JOIN trials ON trials.id = trial_id
                   JOIN sessions ON sessions.id = session_id WHERE rehearsal IS NULL AND plan_id IS NOT NULL
                   AND plan_id NOT IN (SELECT plan_id FROM openings) GROUP BY plan_id"""
            ):
                waiting += row["own"]
            for one in review.review(book).plans:
                ties = 0
                for session in one.record.sessions:
                    for trial in session.trials:
                        if trial.answer is None:
                            continue
                        answers += 1
                        ties += trial.answer == TIE
                if one.record.secret and one.record.plan.sequential is None:
                    wanted["ties"] += ties
    found = pooled(sites)
    not_pooled = dict(found["not_pooled"])
    assert sum(not_pooled.values()) == found["answers"] - found["pooled"] == answers - found["pooled"]
    assert not_pooled["ties"] == wanted["ties"] > 0
    assert "controls (all of a trial was one setup)" in not_pooled
    assert dict(found["not_read"]) == {"of plans that are not over or were given up": waiting}
    said = earwitness(Path("none"), "pool", str(sites)).stdout
    assert f"; {not_pooled['ties']} ties; " in said.replace("not pooled: ", "; ")
    assert f"not read: {waiting} of plans that are not over or were given up" in said


def test_of_a_plan_that_is_void_or_closed_early_it_is_said_why_it_is_not_pooled(many: Path, tmp_path: Path) -> None:
    table = pyarrow.parquet.read_table(many / "casebook-0" / "judged_trials.parquet")
    own = table.to_pylist()
    for row in own:
        session = int(row["session_id"].split("-")[-1])
        row["void"], row["ended"] = int(session == 0), {1: "closed early", 2: "boundary"}.get(session, row["ended"])
    pyarrow.parquet.write_table(pyarrow.Table.from_pylist(own), tmp_path / "judged_trials.parquet")
    found = pooled(tmp_path)
    assert dict(found["not_pooled"]) == {
        "of plans that are void (levels, giveaways)": 20,
        "of plans closed early": 20,
        "of plans that their own rule stopped, before their last trial or at it": 20,
        "controls (all of a trial was one setup)": 37,  # one a session
    }


def test_a_casebook_is_pooled_as_it_is_and_without_the_extra_is_called_one(
    sites: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert groups(pooled(sites / "gear"))
    for library in ("pyarrow", "ibis"):
        monkeypatch.setitem(sys.modules, library, None)
        done = ask(sites / "gear")
        assert (done.returncode, done.stderr.count("\n")) == (2, 1)
        assert f"{sites / 'gear'} is a casebook, which pool reads as it is; what adds it up is an extra" in done.stderr
        assert "pipx install '.[pool]'" in done.stderr
        assert "of this one casebook: earwitness --casebook" in done.stderr


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("many")
    for number in range(3):
        write_casebook(home, number, sessions=40)
    return home


def test_the_numbers_are_those_of_the_answers_themselves(many: Path) -> None:
    right: defaultdict[Any, defaultdict[str, list[int]]] = defaultdict(lambda: defaultdict(lambda: [0, 0]))
    for path in many.rglob("*.parquet"):
        for row in pyarrow.parquet.read_table(path).to_pylist():
            if row["kind"] == "counts":
                own = right[row["method"], row["setups"]][row["listener_id"]]
                own[row["score"]] += 1
    found = {(one["method"], one["setups"]): one for one in pooled(many)["groups"]}
    assert found.keys() == right.keys()
    for key, listeners in right.items():
        table = [list(column) for column in zip(*listeners.values(), strict=True)]
        wanted, own = stats.chi2_contingency(table, correction=False), found[key]
        assert (own["right"], own["trials"]) == (sum(table[1]), sum(map(sum, table)))
        assert own["dispersion"] == pytest.approx(wanted.statistic / wanted.dof)
        assert own["dispersion_p"] == pytest.approx(wanted.pvalue)
        side = "two-sided" if key[0] == "preference" else "greater"
        exact = stats.binomtest(own["right"], own["trials"], 1 / 3 if key[0] == "triangle" else 0.5, side)
        assert own["p_value"] == pytest.approx(exact.pvalue, rel=1e-6)


def test_one_question_is_one_row_in_whichever_order_its_setups_stand(tmp_path: Path) -> None:
    """By hand: 4 of 8 for quillon (4 for merrow) and 6 of 8 for merrow are 10 of 16 for merrow; right stays right."""
    every = [
        *answers_of("preference", "quillon|merrow", 4, 8), *answers_of("preference", "merrow|quillon", 6, 8),
        *answers_of("abx", "quillon|merrow", 5, 8), *answers_of("abx", "merrow|quillon", 7, 8),
        *answers_of("abx", "merrow|quillon too", 1, 8),
    ]  # fmt: skip
    pyarrow.parquet.write_table(pyarrow.Table.from_pylist(every), tmp_path / "judged_trials.parquet")
    found = pooled(tmp_path)
    assert {key: one[:2] for key, one in groups(found).items()} == {
        ("preference", "merrow|quillon"): (10, 16),
        ("abx", "merrow|quillon"): (12, 16),
        ("abx", "merrow|quillon too"): (1, 8),
    }
    assert {one["counted_as"] for one in found["groups"]} == {"for merrow", "right"}


def answers_of(method: str, setups: str, scored: int, trials: int) -> list[dict[str, Any]]:
    """A session's rows, of which so many score 1."""
    names = ("casebook", "plan_id", "question", "session_id", "listener_id", "passage_id")
    one = {name: f"{name} of {method} {setups}" for name in names}
    ended = {"kind": "counts", "chance": 0.5, "void": 0, "ended": "as planned"}
    return [
        {**one, **ended, "method": method, "setups": setups, "trial": n + 1, "score": int(n < scored)}
        for n in range(trials)
    ]


def test_what_stands_in_several_sources_counts_once_and_is_said(sites: Path, exports: Path, tmp_path: Path) -> None:
    """A copy under another name, an export beside its casebook, a site beside the casebook it was merged into."""
    create(tmp_path / "all").close()
    assert earwitness(tmp_path / "all", "merge", str(sites / "gear")).returncode == 0
    shutil.copytree(sites / "gear", tmp_path / "copy")
    alone, whole = pooled(sites / "gear"), pooled(sites)
    assert groups(pooled(tmp_path / "all")) == groups(alone)
    exported = exports / "gear" / "judged_trials.parquet"
    for given, once, two in (
        ([sites / "gear", tmp_path / "copy"], alone, {sites / "gear", tmp_path / "copy"}),
        ([sites, exports / "gear"], whole, {sites / "gear", exported}),
        ([sites, tmp_path / "all"], whole, {sites / "gear", tmp_path / "all"}),
    ):
        found = pooled(*given)
        assert (groups(found), found["answers"], found["pooled"], found["not_read"]) == (
            groups(once), once["answers"], once["pooled"], once["not_read"],
        )  # fmt: skip
        [[files, answers]] = found["counted_once"]
        assert (set(map(Path, files)), answers) == (two, alone["answers"])
    assert (
        sum(one["trials"] for one in pooled(sites, tmp_path / "all", "--by", "casebook")["groups"]) == whole["pooled"]
    )
    said = earwitness(Path("none"), "pool", str(sites / "gear"), str(tmp_path / "copy")).stdout
    assert f"counted once: {alone['answers']} answers that stand in " in said
    assert str(tmp_path / "copy") in said
    assert pooled(sites / "gear", sites / "gear")["counted_once"] == []  # the same place, named twice


def test_a_session_that_two_sources_tell_otherwise_is_refused_with_both_names(tmp_path: Path) -> None:
    own = answers_of("abx", "one|two", 5, 8)
    for name, changed in (("site", {}), ("copy", {"score": 1 - own[0]["score"]})):
        (tmp_path / name).mkdir()
        rows = [own[0] | changed, *own[1:]]
        pyarrow.parquet.write_table(pyarrow.Table.from_pylist(rows), tmp_path / name / "judged_trials.parquet")
    done = ask(tmp_path)
    assert (done.returncode, done.stderr.count("\n")) == (2, 1)
    assert "are not alike (session_id of abx one|two in " in done.stderr
    for name in ("site", "copy"):
        assert str(tmp_path / name / "judged_trials.parquet") in done.stderr


def test_a_casebook_whose_record_does_not_hold_is_left_out_and_named(sites: Path, tmp_path: Path) -> None:
    shutil.copytree(sites, tmp_path / "sites")
    with open_casebook(tmp_path / "sites" / "files") as book:
        book.db.conn.execute("DROP TRIGGER answers_keep_content")
    found = pooled(tmp_path / "sites")
    assert groups(found) == groups(pooled(sites / "gear"))
    [[why_not_read, unread], *_] = found["not_read"]
    assert why_not_read == "of casebooks whose record does not hold"
    assert unread > 0
    [[left, why]] = found["left_out"]
    assert (Path(left).name, "answers_keep_content" in why) == ("files", True)


def test_little_memory_changes_no_number(many: Path, tmp_path: Path) -> None:
    small = pool.pool([many], ["passage_id"], lambda home: engine.duckdb(home, most_memory="64MB", threads=1))
    usual = pool.pool([many], ["passage_id"], engine.duckdb)
    for one, other in zip(small.groups, usual.groups, strict=True):
        assert one.by == other.by
        assert (one.counts.right, one.counts.trials) == (other.counts.right, other.counts.trials)
        assert one.counts.dispersion == pytest.approx(other.counts.dispersion)


def test_what_is_no_pool_is_refused_in_one_line(many: Path, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    pyarrow.parquet.write_table(pyarrow.table({"a": [1]}), tmp_path / "other.parquet")
    (tmp_path / "no.parquet").write_text("not at all")
    for given, says in (
        ("empty", "nothing to pool there"),
        ("gone", "is not there"),
        ("other.parquet", "these are no judged trials"),
        ("no.parquet", "these are no judged trials"),
    ):
        done = ask(tmp_path / given)
        assert (done.returncode, done.stderr.count("\n")) == (2, 1), done.stderr
        assert says in done.stderr


@pytest.mark.parametrize(
    ("library", "says"), [("ibis", "pool needs the extra"), ("pyarrow", "Parquet needs the extra")]
)
def test_without_the_extra_it_says_what_to_install(
    many: Path, monkeypatch: pytest.MonkeyPatch, library: str, says: str
) -> None:
    monkeypatch.setitem(sys.modules, library, None)
    done = ask(many)
    assert done.returncode == 2
    assert says in done.stderr
    assert "pipx install '.[pool]'" in done.stderr
