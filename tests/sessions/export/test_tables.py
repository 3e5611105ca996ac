"""`export`: every table as it stands, with what its columns mean; of plans not over no key, score or secret."""

from __future__ import annotations

import csv
import json
import re
import sqlite3
from collections import defaultdict
from contextlib import closing
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow.parquet
import pytest

from sessions.casebook import catalogue, dictionary, schema
from sessions.casebook.catalogue import Setup
from sessions.casebook.spreadsheet_text import unguarded
from sessions.casebook.store import Casebook, open_casebook
from sessions.export import figure_numbers, folder, tables, text_files
from sessions.listening import session
from sessions.measured import curve_records
from sessions.measured.conditions import ON_AXIS, Conditions
from sessions.measured.curve_records import NewCurve, RawFile
from sessions.plans import plan_rows
from sessions.results import review
from sessions.results.outcome import Discrimination
from sessions.words import log
from tests.answered_plans import answer_trials, sealed_plan
from tests.casebooks import secret_of
from tests.command_line import earwitness
from tests.sessions.measured.measured_files import HZ

INNER = re.compile("words_search|sqlite_|_sqlite_")


@pytest.fixture(scope="module")
def exports(old: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    home = tmp_path_factory.mktemp("exports")
    for form in folder.WRITERS:
        done = earwitness(old, "export", str(home / form), "--as", form)
        assert done.returncode == 0, done.stderr
    return {form: home / form for form in folder.WRITERS}


def read_csv(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def stored_columns() -> set[tuple[str, str]]:
    with closing(sqlite3.connect(":memory:")) as empty:
        for _, sql in schema.STEPS:
            empty.executescript(sql)
        names = [name for (name,) in empty.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {
            (name, row[1])
            for name in names
            if not INNER.match(name) and name not in dictionary.NEVER_TOLD
            for row in empty.execute(f"PRAGMA table_info({name})")
        }


def test_every_column_of_every_table_has_its_meaning_and_no_meaning_lacks_its_column() -> None:
    stored = stored_columns()
    assert {table for table, _ in stored} == set(tables.STORED)
    assert [one for one in sorted(stored) if not dictionary.entry(*one).meaning] == []
    columns = {column for _, column in stored}
    assert [one for one in dictionary.entries() if one not in stored and (one[0] != "*" or one[1] not in columns)] == []


def test_a_column_whose_name_says_a_unit_has_it() -> None:
    said = {"_ms": "ms", "_hz": "Hz", "_frame": "frames", "_at": "UTC"}
    for table, column in stored_columns():
        for ending, unit in said.items():
            if column.endswith(ending):
                assert dictionary.entry(table, column).unit == unit, (table, column)


def test_csv_and_json_and_parquet_hold_the_rows_as_they_stand(old: Path, exports: dict[str, Path]) -> None:
    with open_casebook(old) as book:
        for table in tables.every(book):
            names = [column.name for column in table.columns]
            rows = [dict(zip(names, row, strict=True)) for row in table.rows()]
            assert json.loads((exports["json"] / f"{table.name}.json").read_text(encoding="utf-8")) == rows
            assert pyarrow.parquet.read_table(exports["parquet"] / f"{table.name}.parquet").to_pylist() == rows
            text = [{name: "" if value is None else str(value) for name, value in row.items()} for row in rows]
            read = read_csv(exports["csv"] / f"{table.name}.csv")
            assert [{name: unguarded(value) for name, value in row.items()} for row in read] == text


def test_the_dictionary_that_leaves_names_every_column_of_every_file(exports: dict[str, Path]) -> None:
    said = [(row["table"], row["column"]) for row in read_csv(exports["csv"] / "dictionary.csv")]
    assert all(row["meaning"] for row in read_csv(exports["csv"] / "dictionary.csv"))
    for path in exports["csv"].glob("*.csv"):
        if path.stem != "dictionary":
            with path.open(encoding="utf-8", newline="") as file:
                assert [column for table, column in said if table == path.stem] == next(csv.reader(file))
    fields = pyarrow.parquet.read_schema(exports["parquet"] / "words.parquet")
    assert fields.field("track_ms").metadata == {b"meaning": b"where in the track it was said", b"unit": b"ms"}


def test_no_key_secret_or_score_of_a_plan_that_is_not_over_leaves(old: Path, exports: dict[str, Path]) -> None:
    with open_casebook(old) as book:
        over = plan_rows.openings(book)
        running = [one.plan for one in plan_rows.every_sealed(book) if one.plan.id not in over]
        hidden = book.query(
            "SELECT trials.id, key FROM trials JOIN sessions ON sessions.id = session_id WHERE rehearsal IS NULL "
            f"AND plan_id IN ({', '.join('?' * len(running))})",
            [plan.id for plan in running],
        )
        secrets = [plan_rows.secret(book, plan.id).hex() for plan in running]
    assert len(running) >= 2
    assert len([row for row in hidden if row["key"] != "null"]) >= 3  # a casebook of before holds them
    assert all(len(secret) == 64 for secret in secrets)
    told = {row["id"]: row["key"] for row in json.loads((exports["json"] / "trials.json").read_text(encoding="utf-8"))}
    assert {told[row["id"]] for row in hidden} == {"null"}
    assert {row["plan_id"] for row in read_csv(exports["csv"] / "judged_trials.csv")} <= set(over)
    for path in (*exports["csv"].rglob("*.*"), *exports["json"].rglob("*.*")):
        text = path.read_text(encoding="utf-8")
        assert not any(secret in text for secret in secrets), path


def test_a_plan_under_way_tells_nothing_and_all_once_it_is_over(sealed: Casebook) -> None:
    def told() -> dict[str, list[dict[str, Any]]]:
        return {
            table.name: [dict(zip([c.name for c in table.columns], row, strict=True)) for row in table.rows()]
            for table in tables.every(sealed)
        }

    with session.begin(sealed, "evening", "Ada", "none: test") as running:
        for _ in range(3):
            offered = running.next_trial()
            assert offered is not None
            running.answer(offered, "A", 2, 900)
    before = told()
    assert len(before["answers"]) == 3
    assert (before["judged_trials"], before["keys"], before["openings"]) == ([], [], [])
    assert {row["key"] for row in before["trials"]} == {"null"}
    assert secret_of(sealed) not in json.dumps(before).encode()
    answer_trials(sealed, 5, 0)
    after = told()
    assert len(after["judged_trials"]) == len(after["keys"]) == 8
    assert sum(row["score"] for row in after["judged_trials"][3:]) == 5


def test_scores_come_to_the_counts_of_the_verdicts(old: Path, exports: dict[str, Path]) -> None:
    counts: defaultdict[str, list[int]] = defaultdict(list)
    for row in read_csv(exports["csv"] / "judged_trials.csv"):
        if row["kind"] == "counts" and row["score"]:
            counts[row["plan_id"]].append(int(row["score"]))
    compared = 0
    with open_casebook(old) as book:
        for one in review.review(book).plans:
            outcome = one.verdict.outcome
            if isinstance(outcome, Discrimination):
                right, others = outcome.choices or (outcome.correct, outcome.counted - outcome.correct)
                scored = counts[one.record.plan.id]
                assert (sum(scored), len(scored)) == (right, right + others), one.record.plan.name
                compared += bool(scored)
    assert compared >= 10


@pytest.mark.parametrize("text", ["=1+1", "+4", "-4", "@x", "\tx", "'tis", "a,b", 'a "b"', "two\nlines", "", " ", "ä"])
def test_a_cell_of_text_is_read_back_as_it_was_and_no_spreadsheet_runs_it(text: str, tmp_path: Path) -> None:
    text_files.write_rows(tmp_path / "one.csv", ["text", "number", "none"], [(text, -3, None)])
    with (tmp_path / "one.csv").open(encoding="utf-8", newline="") as file:
        [_, row] = csv.reader(file)
    assert row[1:] == ["-3", ""]
    assert row[0][:1] not in ("=", "+", "-", "@", "\t")
    assert unguarded(row[0]) == text
    assert (tmp_path / "one.csv").read_bytes().endswith(b'",-3,\r\n')  # no value is no text either


def test_words_leave_with_what_was_typed(sealed: Casebook, tmp_path: Path) -> None:
    from sessions.casebook.catalogue import Listener

    ada = catalogue.find(sealed, Listener, "Ada")
    setup = catalogue.everything(sealed, Setup)[0]
    log.log(sealed, ada, log.Word("bright", 3, 1000, note='=HYPERLINK("x")', setup_id=setup.id))
    assert earwitness(sealed.folder, "export", str(tmp_path / "out")).returncode == 0
    [row] = read_csv(tmp_path / "out" / "words.csv")
    assert (row["term"], row["strength"], row["track_ms"]) == ("bright", "3", "1000")
    assert row["note"] == '\'=HYPERLINK("x")'
    again = earwitness(sealed.folder, "export", str(tmp_path / "out"))
    assert (again.returncode, "is there already" in again.stderr) == (2, True)


@pytest.mark.parametrize("form", list(folder.WRITERS))
def test_the_numbers_of_every_figure_leave_in_every_form_as_they_were_measured(
    casebook: Casebook, tmp_path: Path, form: str
) -> None:
    """Two setups, 3 dB apart from 1 kHz on; by hand what a figure of each, and of both, must hold."""
    for name, more_db, ohm in (("sallow", 3.0, 5.0), ("bracken", 0.0, 7.0)):
        level_db = 84.0 + more_db * (HZ > 1000.0)
        new = [
            NewCurve("response", ON_AXIS, np.column_stack([HZ, level_db]), Conditions(2.0, 2.83, spl=True)),
            NewCurve("impedance", ON_AXIS, np.column_stack([HZ, np.full(len(HZ), ohm)]), Conditions()),
        ]
        setup = catalogue.find(casebook, Setup, name)
        curve_records.keep(casebook, setup, [(RawFile.of(f"{name}.txt", name.encode()), new)])
    made = folder.write(casebook, tmp_path / "out", form)
    assert made.figures == len(list((tmp_path / "out" / "figures").iterdir()))
    path = tmp_path / "out" / f"figure_numbers.{form}"
    rows = (
        pyarrow.parquet.read_table(path).to_pylist() if form == "parquet"
        else read_csv(path) if form == "csv" else json.loads(path.read_text(encoding="utf-8"))
    )  # fmt: skip
    said = [row["column"] for row in read_csv(tmp_path / "out" / "dictionary.csv") if row["table"] == "figure_numbers"]
    assert said == list(rows[0])

    def column(setup: str, beside: str, figure: str, part: str, unit: str) -> list[float]:
        own = [row for row in rows if [row[one] for one in ("setup", "beside", "figure", "part")] == [
            setup, beside, figure, part]]  # fmt: skip
        assert {row["unit"] for row in own} == {unit}
        assert [int(row["place"]) for row in own] == list(range(len(own)))
        return [float(row["number"]) for row in own]

    assert set(column("sallow", "", "impedance", "ohm", "ohm")) == {5.0}
    assert set(column("bracken", "", "impedance", "ohm", "ohm")) == {7.0}
    for part in ("", "difference/"):
        at = {"": ("sallow", "", "response"), "difference/": ("sallow", "bracken", "difference")}[part]
        hz, db = column(*at, f"{part}hz", "Hz"), column(*at, f"{part}db", "dB")
        low = np.mean([level for f, level in zip(hz, db, strict=True) if 300 < f < 800])
        high = np.mean([level for f, level in zip(hz, db, strict=True) if 1300 < f < 10_000])
        assert high - low == pytest.approx(3.0, abs=0.01)


def test_of_very_many_setups_those_that_a_plan_compares_stand_side_by_side(
    casebook: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    sealed_plan(casebook, "evening", method="abx", trials=8)
    catalogue.add_setup(casebook, "third")
    for setup in catalogue.everything(casebook, Setup):
        new = NewCurve("response", ON_AXIS, np.column_stack([HZ, np.full(len(HZ), 84.0)]), Conditions())
        curve_records.keep(casebook, setup, [(RawFile.of(f"{setup.name}.txt", setup.name.encode()), [new])])
    assert len(figure_numbers.pairs(casebook).taken) == 3
    monkeypatch.setattr(figure_numbers, "MOST_PAIRS", 1)
    found = figure_numbers.pairs(casebook)
    assert [{one.name for one in two} for two in found.taken] == [{"sallow", "bracken"}]
    assert found.left_out == 2
