from __future__ import annotations

import pytest

from sessions.desk.deeds import deed
from sessions.plans.next_steps import Step


def done(*words: str) -> tuple[str, str, dict[str, object]]:
    found = deed(Step("what", words), "earwitness")
    return found.go, found.post, found.fields


@pytest.mark.parametrize(
    ("words", "go"),
    [
        (("setup", "add", "NAME", "--from", "DIR"), "/desk/compare"),
        (("seal", "a & b"), "/desk/plan?name=a+%26+b"),
        (("phrase", "evening", "WORDS"), "/desk/plan?name=evening"),
        (("plan", "abx", "--listener", "NAME"), "/desk/plan/new"),
        (("listen", "evening", "--listener", "Ada"), "chair"),
        (("plan", "close", "evening", "--why", "WHY"), "/desk/plan?name=evening"),
        (("match", "mic", "--mic", "DEVICE:1"), "/desk/match"),
        (("crosscheck", "sallow", "bracken"), "/desk/crosscheck"),
        (("report",), "/desk/results"),
        (("curve", "show", "sallow"), "/desk/curves"),
    ],
)
def test_a_step_that_has_a_page_leads_there(words: tuple[str, ...], go: str) -> None:
    assert done(*words) == (go, "", {})


def test_a_step_that_is_long_work_is_begun_with_what_its_command_names() -> None:
    of = ("--setup", "sallow", "--setup", "bracken", "--passage", "drums 1")
    both = {"setups": ("sallow", "bracken"), "passages": ("drums 1",)}
    assert done("match", "files", *of) == ("", "/desk/work/match", both)
    check = done("giveaways", "--mend", "--polarity", *of)
    assert check == ("", "/desk/work/check", both | {"mend": True, "polarity": True})
    assert done("passage", "suggest", "--add") == ("", "/desk/work/suggest", {})


@pytest.mark.parametrize(
    "words",
    [
        ("match", "files", "--by", "a", "--rate", "48000"),
        ("setup", "relink", "DIR"),
        ("track", "align", "drums"),
    ],
)
def test_what_the_desk_cannot_do_as_it_is_wished_is_told_as_its_command(words: tuple[str, ...]) -> None:
    found = deed(Step("what", words), "earwitness --casebook here")
    assert (found.go, found.post, found.label) == ("", "", "")
    assert found.command.startswith(f"earwitness --casebook here {words[0]} ")


def test_a_plans_name_that_begins_a_sentence_stays_as_it_is() -> None:
    assert deed(Step("abx-1: Ada has begun", ("listen", "abx-1")), "").told == "abx-1: Ada has begun"
    assert deed(Step("no setup yet", ("setup", "add")), "").told == "No setup yet"
