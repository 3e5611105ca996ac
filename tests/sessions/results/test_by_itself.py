"""One plan, curve, picture or word that cannot be judged or shown takes no other down with it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from sessions.casebook import catalogue
from sessions.casebook.catalogue import Listener, Setup
from sessions.casebook.store import Casebook
from sessions.errors import PlanError
from sessions.measured import curve_import
from sessions.measured.conditions import Conditions
from sessions.measured.curve_import import Reading
from sessions.plans import seals
from sessions.report import count_pictures
from sessions.results import discrimination, plan_record, review, sentences
from sessions.results.verdict import Verdict
from sessions.words import log
from tests.answered_plans import answer_all, sealed_plan
from tests.casebooks import judged
from tests.command_line import earwitness

STUCK = Path(__file__).parents[2] / "data" / "before-rooms" / "stuck" / "casebook.db"
WORDS = {
    "finished": "heard",
    "sequence-without-a-session": "undecided",
    "mixture-without-a-session": "undecided",
    "one-preference": "not shown",  # eight trials, three ties left out: five choices could not show it at 5 %
    "one-preference-without-ties": "undecided",
    "all-ties": "not shown",
    "one-comparison": "undecided",
}


@pytest.fixture
def stuck(tmp_path: Path) -> Path:
    """A casebook whose every verdict and report ended in an error, since ordinary acts had left such plans behind."""
    (tmp_path / "stuck").mkdir()
    shutil.copyfile(STUCK, tmp_path / "stuck" / "casebook.db")
    return tmp_path / "stuck"


def test_a_casebook_that_was_stuck_has_its_verdicts_and_its_report(stuck: Path) -> None:
    done = earwitness(stuck, "verdict", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    assert {one["plan"]: one["verdict"] for one in json.loads(done.stdout)["plans"]} == WORDS
    assert earwitness(stuck, "verdict").returncode == 0
    done = earwitness(stuck, "report")
    assert (done.returncode, done.stderr) == (0, "")
    page = (stuck / "report.html").read_text(encoding="utf-8")
    assert page.count("UNDECIDED") >= 4
    assert "cannot be" not in page


def failing(monkeypatch: pytest.MonkeyPatch, name: str, error: Exception) -> None:
    """The analysis of the plan of that name fails, of the others not."""
    analyse = discrimination.analyse

    def some(plan: object, *rest: object) -> object:
        if getattr(plan, "name", "") == name:
            raise error
        return analyse(plan, *rest)  # type: ignore[arg-type]

    monkeypatch.setitem(review.judge.__globals__["ANALYSES"], "count", some)


@pytest.fixture
def two(book: Casebook) -> Casebook:
    """Two plans, both heard."""
    for name, method in (("first", "abx"), ("second", "duo-trio")):
        sealed_plan(book, name, method=method, trials=8)
        answer_all(book, 1.0, plan=name)
    return book


@pytest.mark.parametrize(
    ("error", "reason"),
    [
        (PlanError("its answers are no answers"), "its answers are no answers"),
        (
            ZeroDivisionError("by nothing"),
            "ZeroDivisionError: by nothing (a fault of this program; --debug shows where)",
        ),
    ],
)
def test_what_cannot_be_judged_says_why_in_its_place(
    two: Casebook, monkeypatch: pytest.MonkeyPatch, left_out: list[str], error: Exception, reason: str
) -> None:
    failing(monkeypatch, "first", error)
    first, second = json.loads(earwitness(two.folder, "verdict", "--json").stdout)["plans"]
    assert (first["state"], first["verdict"], first["reason"]) == ("cannot be judged", None, reason)
    assert (second["verdict"], second["p_value"]) == ("heard", pytest.approx(0.5**8))
    done = earwitness(two.folder, "verdict")
    assert (done.returncode, done.stderr) == (0, "")
    assert f"first: cannot be judged: {reason}" in done.stdout
    assert "second: sallow against bracken: a difference was HEARD on its own, but not among" in done.stdout
    assert earwitness(two.folder, "verdict", "second").returncode == 0
    assert earwitness(two.folder, "verdict", "first").returncode == 1
    assert earwitness(two.folder, "report").returncode == 0
    page = (two.folder / "report.html").read_text(encoding="utf-8")
    assert "first: cannot be judged" in page
    assert "8 of 8 right" in page
    assert "Cannot be judged: first" in page
    assert set(left_out) == {repr(error)}
    left_out.clear()


def test_the_traceback_of_what_was_left_out_is_shown_on_request(
    two: Casebook, monkeypatch: pytest.MonkeyPatch, left_out: list[str]
) -> None:
    failing(monkeypatch, "first", ZeroDivisionError("by nothing"))
    assert "Traceback" not in earwitness(two.folder, "verdict").stderr
    assert "ZeroDivisionError: by nothing" in earwitness(two.folder, "--debug", "verdict").stderr
    assert set(left_out) == {"ZeroDivisionError('by nothing')"}
    left_out.clear()


def test_a_record_that_cannot_be_read_leaves_the_others(
    two: Casebook, monkeypatch: pytest.MonkeyPatch, left_out: list[str]
) -> None:
    record = plan_record.record

    def some(casebook: Casebook, sealed: object, **rest: bool) -> object:
        if getattr(sealed, "plan").name == "second":  # noqa: B009
            raise KeyError("X")
        return record(casebook, sealed, **rest)  # type: ignore[arg-type]

    monkeypatch.setattr(plan_record, "record", some)
    found = {one.sealed.plan.name: one.verdict for one in review.review(two, rehearsals=True).plans}
    assert (found["first"].verdict, found["second"].state) == ("heard", "cannot be judged")
    left_out.clear()


def test_a_sentence_that_fails_leaves_the_other_plans(
    two: Casebook, monkeypatch: pytest.MonkeyPatch, left_out: list[str]
) -> None:
    said = sentences.numbers

    def some(verdict: Verdict) -> list[str]:
        if verdict.plan.name == "first" and verdict.outcome is not None:
            raise ValueError("nan")
        return said(verdict)

    monkeypatch.setattr(sentences, "numbers", some)
    done = earwitness(two.folder, "verdict")
    assert "first: cannot be judged: ValueError: nan" in done.stdout
    assert "second: sallow against bracken: a difference was HEARD." in done.stdout
    left_out.clear()


def test_a_picture_that_fails_leaves_the_rest_of_the_page(
    two: Casebook, monkeypatch: pytest.MonkeyPatch, left_out: list[str]
) -> None:
    earwitness(two.folder, "report")
    before = (two.folder / "report.html").read_text(encoding="utf-8").count("<svg")

    def broken(*_: object) -> str:
        raise ValueError("no scale")

    monkeypatch.setattr(count_pictures, "sensitivity", broken)
    assert earwitness(two.folder, "report").returncode == 0
    page = (two.folder / "report.html").read_text(encoding="utf-8")
    assert page.count("<svg") == before - 2
    assert page.count("This picture cannot be drawn: ValueError: no scale") == 2
    left_out.clear()


def test_a_word_that_cannot_be_shown_leaves_the_others(
    two: Casebook, monkeypatch: pytest.MonkeyPatch, left_out: list[str]
) -> None:
    listener = catalogue.find(two, Listener, "Ada")
    for term in ("grainy", "smooth"):
        log.log(two, listener, log.Word(term, 2))
    shown = log.words(two)
    object.__setattr__(shown[0], "track_ms", "soon")
    monkeypatch.setattr(log, "words", lambda _: shown)
    earwitness(two.folder, "report")
    page = (two.folder / "report.html").read_text(encoding="utf-8")
    assert "cannot be shown: TypeError" in page
    assert "<td>smooth</td>" in page
    left_out.clear()


def test_an_impedance_outside_of_what_can_be_heard_is_named_and_the_rest_stands(two: Casebook, tmp_path: Path) -> None:
    sallow, bracken = (catalogue.find(two, Setup, name) for name in ("sallow", "bracken"))
    (tmp_path / "high.txt").write_text("21000 8 10\n30000 4.5 -20\n40000 12 45\n")
    (tmp_path / "ohm.txt").write_text("20 8 10\n1000 4.5 -20\n20000 12 45\n")
    curve_import.bring(two, sallow, tmp_path / "high.txt", Reading("ohm"), Conditions())
    curve_import.bring(two, bracken, tmp_path / "ohm.txt", Reading("ohm"), Conditions())
    done = earwitness(two.folder, "verdict", "first", "--all")
    assert (done.returncode, done.stderr) == (0, "")
    assert "the impedance of sallow cannot be told: no impedance lies between 20 Hz and 20 kHz" in done.stdout
    assert "Impedance of bracken: at least 4.5 ohm" in done.stdout
    assert earwitness(two.folder, "report").returncode == 0
    page = (two.folder / "report.html").read_text(encoding="utf-8")
    assert "Impedance of sallow. It cannot be drawn: no impedance lies between 20 Hz and 20 kHz" in page


def test_curves_that_give_no_numbers_say_so_beside_those_that_do(two: Casebook, tmp_path: Path) -> None:
    sallow = catalogue.find(two, Setup, "sallow")
    (tmp_path / "high.txt").write_text("21000 8 10\n30000 4.5 -20\n40000 12 45\n")
    curve_import.bring(two, sallow, tmp_path / "high.txt", Reading("ohm"), Conditions())
    (tmp_path / "axis.txt").write_text("".join(f"{hz} 80\n" for hz in (100, 300, 1000, 3000, 10_000)))
    curve_import.bring(two, sallow, tmp_path / "axis.txt", Reading("db"), Conditions())
    done = earwitness(two.folder, "curve", "show", "sallow")
    assert (done.returncode, done.stderr) == (0, "")
    assert "on axis valid from 100 to 10000 Hz" in done.stdout
    assert "no numbers of the impedance: no impedance lies between 20 Hz and 20 kHz" in done.stdout
    document = json.loads(earwitness(two.folder, "curve", "show", "sallow", "--json").stdout)
    assert (list(document["unread"]), "impedance" in document, "on_axis" in document) == (["impedance"], False, True)


def test_a_plan_closed_before_anybody_began_has_no_numbers(book: Casebook) -> None:
    sealed_plan(book, "untouched", method="preference", trials=16)
    seals.close(book, "untouched", "the pair went back")
    document = judged(book, "untouched").to_document()
    numbers = ("p_value", "interval", "correct", "d_prime", "largest_difference_allowed", "preferred")
    assert [document[name] for name in numbers] == [None] * len(numbers)
    assert (document["verdict"], document["answered"], document["analysis"]) == ("undecided", 0, {})
