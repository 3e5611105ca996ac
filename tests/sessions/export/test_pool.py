"""`pool`: many casebooks, or what they exported, give the numbers of their answers, each once."""

from __future__ import annotations

import json
import shutil
import sys
from collections import defaultdict
from pathlib import Path
from typing import Any

import pyarrow
import pyarrow.parquet
import pytest
from scipy import stats

from sessions.casebook.store import create, open_casebook
from sessions.export import engine, pool
from sessions.results import review
from sessions.results.outcome import Discrimination
from tests.command_line import Done, earwitness
from tests.many_answers import write_casebook


def pooled(*given: object, status: int = 0) -> Any:
    done = ask(*given)
    assert done.returncode == status, done.stderr
    return json.loads(done.stdout)


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
                    own = wanted[plan.method.name, "|".join(setup.name for setup in plan.setups)]
                    own[0] += right
                    own[1] += right + others
    found = pooled(sites)
    assert {key: list(one[:2]) for key, one in groups(found).items()} == {k: v for k, v in wanted.items() if v[1]}
    assert (found["casebooks"], found["left_out"]) == (2, [])
    assert found["pooled"] == sum(one[1] for one in wanted.values())


def test_what_was_exported_comes_to_the_same_and_both_kinds_go_together(sites: Path, exports: Path) -> None:
    for by in ([], ["--by", "listener"], ["--by", "passage", "--by", "casebook"]):
        found = pooled(sites, *by)
        assert pooled(exports, *by) == found
        assert pooled(sites / "gear", exports / "files" / "judged_trials.parquet", *by) == found


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


def test_no_session_counts_twice(sites: Path, exports: Path, tmp_path: Path) -> None:
    create(tmp_path / "all").close()
    assert earwitness(tmp_path / "all", "merge", str(sites / "gear")).returncode == 0
    for twice in ([sites, exports / "gear"], [sites, tmp_path / "all"]):
        done = ask(*twice)
        assert done.returncode == 2
        assert "answers stand there twice (sessions session-" in done.stderr
    assert groups(pooled(tmp_path / "all")) == groups(pooled(sites / "gear"))
    assert groups(pooled(sites / "gear", sites / "gear")) == groups(
        pooled(sites / "gear")
    )  # the same place, named twice


def test_a_casebook_whose_record_does_not_hold_is_left_out_and_named(sites: Path, tmp_path: Path) -> None:
    shutil.copytree(sites, tmp_path / "sites")
    with open_casebook(tmp_path / "sites" / "files") as book:
        book.db.conn.execute("DROP TRIGGER answers_keep_content")
    found = pooled(tmp_path / "sites")
    assert groups(found) == groups(pooled(sites / "gear"))
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
