"""What each listener heard freely is told by their own trials: before their first, and between them."""

from __future__ import annotations

from sessions.casebook import catalogue, free_rows
from sessions.casebook.catalogue import Listener, Setup, Track
from sessions.casebook.store import Casebook
from sessions.plans import seals
from sessions.plans.plan import Plan
from sessions.results import heard_freely
from tests.answered_plans import answer_all, sealed_plan
from tests.command_line import earwitness


def listens(book: Casebook, name: str, setup: str, seconds: int) -> None:
    ada, of = catalogue.find(book, Listener, name), catalogue.find(book, Setup, setup)
    new = free_rows.new_session(ada.id, [of.id], "none: test")
    track = catalogue.everything(book, Track)[0]
    book.append_many([new, free_rows.new_audition(new.id, of.id, track.id, "", 0, 1000 * seconds)])


def told(book: Casebook, plan: Plan) -> list[str]:
    return [one.split(" (last on ")[0] for one in heard_freely.sentences(book, plan)]


def test_each_listener_is_told_by_their_own_trials_not_by_who_was_first(casebook: Casebook) -> None:
    plan = sealed_plan(casebook, method="abx", trials=4, listeners=("Ada", "Bo"))
    answer_all(casebook, 1.0, "Ada")
    listens(casebook, "Bo", "sallow", 65)  # after the plan's first trial, before Bo's own
    listens(casebook, "Ada", "sallow", 30)  # after Ada's last trial: it can change no answer
    assert told(casebook, plan) == ["Before their own first trial Bo had heard freely and sighted: sallow for 1:05"]
    answer_all(casebook, 1.0, "Bo")
    listens(casebook, "Bo", "bracken", 20)
    (said,) = told(casebook, plan)
    assert "bracken" not in said
    assert f"In evening: {said[0].lower()}{said[1:]}" in " ".join(_report(casebook).split())


def test_listening_between_their_trials_is_told_with_how_many_were_answered(casebook: Casebook) -> None:
    plan = sealed_plan(casebook, method="preference", trials=4, controls=2)
    answer_all(casebook, 1.0, most=3)
    listens(casebook, "Ada", "sallow", 65)
    after_three = "After 3 of 6 trials Ada listened freely and sighted to: sallow for 1:05"
    assert told(casebook, plan) == [after_three]
    assert after_three in " ".join(earwitness(casebook.folder, "verdict", "evening").stdout.split())
    answer_all(casebook, 1.0, most=1)
    listens(casebook, "Ada", "bracken", 5)
    listens(casebook, "Ada", "sallow", 10)
    assert told(casebook, plan) == [
        "After 3 and 4 of 6 trials Ada listened freely and sighted to: sallow for 1:15, bracken for 0:05"
    ]


def test_what_was_heard_after_a_plan_was_closed_came_before_no_trial_of_it(casebook: Casebook) -> None:
    plan = sealed_plan(casebook, method="abx", trials=4, listeners=("Ada", "Bo"))
    assert told(casebook, plan) == []
    seals.close(casebook, "evening", "a test")
    for name in ("Ada", "Bo"):
        listens(casebook, name, "sallow", 65)
    assert told(casebook, plan) == []


def _report(book: Casebook) -> str:
    assert earwitness(book.folder, "report").returncode == 0
    return (book.folder / "report.html").read_text(encoding="utf-8")
