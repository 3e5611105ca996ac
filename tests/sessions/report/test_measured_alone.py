"""A casebook with curves and no plan: its report shows them, and its status speaks of them."""

from __future__ import annotations

import json
from pathlib import Path

from sessions.casebook.store import Casebook
from tests.sessions.commands.test_commands import run
from tests.sessions.measured.measured_files import write_level


def test_a_report_without_a_plan_shows_curves_facts_and_impedance(casebook: Casebook, tmp_path: Path) -> None:
    book = ("--casebook", casebook.folder)
    for name, level in (("sallow", 80), ("bracken", 78)):
        run(*book, "curve", "add", name, write_level(tmp_path / "axis.txt", level))
    (tmp_path / "z.txt").write_text("Hz ohm\n20 8\n1000 5\n20000 8\n")
    run(*book, "curve", "add", "sallow", tmp_path / "z.txt")
    run(*book, "setup", "fact", "sallow", "minimum impedance", "5 ohm", "--read-in", "sheet")
    assert run(*book, "report", "--out", tmp_path / "r.html").returncode == 0
    page = (tmp_path / "r.html").read_text()
    assert "No plan is sealed yet." in page
    assert "There are no measured curves" not in page
    for said in (
        '<h2 id="measured">What was measured</h2>',
        "Measured on axis: sallow and bracken.",
        "The difference: sallow less bracken.",
        "Impedance of sallow.",
        "sallow: the maker states minimum impedance 5 ohm (sheet)",
    ):
        assert said in page


def test_a_report_without_a_plan_shows_one_setup_alone(casebook: Casebook, tmp_path: Path) -> None:
    book = ("--casebook", casebook.folder)
    run(*book, "curve", "add", "sallow", write_level(tmp_path / "axis.txt", 80))
    run(*book, "report", "--out", tmp_path / "r.html")
    assert "Response of sallow." in (tmp_path / "r.html").read_text()


def test_status_speaks_of_curves_and_facts_and_shows_them_next(tmp_path: Path) -> None:
    book = ("--casebook", tmp_path / "book")
    assert run("new", tmp_path / "book").returncode == 0
    for name in ("osk", "fen"):
        assert run(*book, "setup", "add", name).returncode == 0
        run(*book, "curve", "add", name, write_level(tmp_path / f"{name}.txt", 80))
    run(*book, "setup", "fact", "osk", "weight", "8 kg", "--read-in", "sheet")
    told = run(*book, "status").stdout
    assert "osk: recordings, 0 of 0 tracks, 1 curve, 1 fact of its maker" in told
    assert "fen: recordings, 0 of 0 tracks, 1 curve\n" in told
    document = json.loads(run(*book, "status", "--json").stdout)
    assert document["next"].endswith("curve show osk")
    assert any(step["command"].endswith(" report") for step in document["waiting"])
