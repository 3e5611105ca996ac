"""What a report carries in itself: a stranger saves two files and needs nothing else, no network and none of ours."""

from __future__ import annotations

import base64
import html
import re
import subprocess
import sys
from pathlib import Path

import pytest

from sessions.casebook import session_ends
from sessions.casebook.store import Casebook
from sessions.listening import session
from sessions.plans import seals
from sessions.report import contents, page
from sessions.results import publishing
from tests.answered_plans import answer_all


def written(casebook: Casebook) -> str:
    path = casebook.folder / "report.html"
    page.write(contents.gather(casebook, "What was heard"), path)
    return path.read_text(encoding="utf-8")


def saved(text: str, folder: Path) -> list[str]:
    """The files a reader saves from the page, by clicking each."""
    names = []
    for name, address in re.findall(r'<a download="([^"]+)" href="([^"]+)"', text):
        kind, _, data = html.unescape(address).partition(";base64,")
        assert kind.startswith("data:")
        (folder / name).write_bytes(base64.b64decode(data, validate=True))
        names.append(name)
    return names


def test_the_record_and_the_program_in_the_page_check_each_other_with_python_alone(
    sealed: Casebook, tmp_path: Path
) -> None:
    answer_all(sealed, 1.0)
    names = saved(written(sealed), tmp_path)
    assert names == ["record-evening.json", "check.py"]
    command = [sys.executable, "-I", "-S", *reversed(names)]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=True)
    assert done.stdout.startswith("seal and keys fit; ")
    assert "by itself: heard" in done.stdout
    kept = (tmp_path / names[0]).read_text(encoding="utf-8")
    edited = re.sub('"answer":"([AB])"', lambda found: f'"answer":"{"BA"["AB".index(found[1])]}"', kept, count=1)
    assert edited != kept
    (tmp_path / names[0]).write_text(edited, encoding="utf-8")
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "THIS RECORD DOES NOT HOLD" in done.stderr


def test_before_the_end_the_page_carries_no_record(sealed: Casebook, tmp_path: Path) -> None:
    with session.begin(sealed, "evening", "Ada", "none: test"):
        pass
    text = written(sealed)
    assert saved(text, tmp_path) == []
    assert "published when the plan is over" in text


def test_the_page_tells_the_ends_how_many_were_published_and_how_the_key_was_drawn(sealed: Casebook) -> None:
    plan = seals.sealed_plan(sealed, "evening").plan
    assert "No session has shown an end of the record yet." in html.unescape(written(sealed))
    answer_all(sealed, 1.0)
    begun, complete = session_ends.of_plan(sealed, plan.id)
    text = html.unescape(written(sealed))
    for wanted in (
        str(begun.end.code),
        str(complete.end.code),
        "0 of 2 ends said to be published: the file alone does not show",
        "Nobody has noted that its seal was published.",
        "The key was drawn by this machine alone",
        "1 session begun, 1 boot, clock set back 0 times",
    ):
        assert wanted in text, wanted
    publishing.note(sealed, str(complete.end.code), "the first viewer")
    publishing.note(sealed, "evening", "a pinned comment")
    text = html.unescape(written(sealed))
    assert "1 of 2 ends said to be published, 1 of them from after the last answer: the first viewer (noted " in text
    assert "Its seal was said to be published: a pinned comment (noted " in text


@pytest.mark.parametrize("name", ["evening 1", "a.b_c-d"])
def test_a_plans_name_becomes_that_of_a_file(casebook: Casebook, tmp_path: Path, name: str) -> None:
    from tests.answered_plans import sealed_plan

    sealed_plan(casebook, name, method="abx", trials=2)
    answer_all(casebook, 1.0, plan=name)
    assert saved(written(casebook), tmp_path)[0] == f"record-{name.replace(' ', '-')}.json"
