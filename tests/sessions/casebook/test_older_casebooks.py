"""Casebooks written by the version before the rooms were divided: they open, hold, and say what they said then.

Only their casebook.db is kept: the recordings and the prepared audio are gone, as on a disk that was tidied up.
"""

from __future__ import annotations

import contextlib
import gzip
import io
import json
import math
import re
import shutil
import sys
from pathlib import Path
from typing import Any

import pytest

from sessions.commands.main import main

KEPT = Path(__file__).parents[2] / "data" / "before-rooms"
CASEBOOKS = {"files": KEPT / "casebook.db", "gear": KEPT / "gear" / "casebook.db"}
SAID: list[dict[str, Any]] = json.loads(gzip.decompress((KEPT / "said.json.gz").read_bytes()))
PLACEHOLDER = "CASEBOOK"  # instead of the folder, in arguments and in what was said
LONGEST_ROW = 60
NEAR = 1e-9  # of a number, relatively
NOTHING = 1e-12  # what is left where a number was 0


def called(said: dict[str, Any]) -> str:
    """A command as the id of its test."""
    return " ".join(
        [f"{said['casebook']}:", *(one[:12] if re.fullmatch("[0-9a-f]{64}", one) else one for one in said["args"])]
    )


@pytest.fixture(autouse=True)
def no_casebook_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("EARWITNESS_CASEBOOK", raising=False)
    monkeypatch.setattr(sys, "stdin", io.StringIO())


def opened(name: str, folder: Path) -> Path:
    """A folder with a copy of the casebook, and nothing else."""
    copy = folder / "book"
    copy.mkdir()
    shutil.copyfile(CASEBOOKS[name], copy / "casebook.db")
    return copy


def run(book: Path, arguments: list[str]) -> tuple[int, str, str]:
    """A command in this process: its exit status, and what it printed, with the folder's name taken out."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), pytest.raises(SystemExit) as left:
        main(["--casebook", str(book), *(one.replace(PLACEHOLDER, str(book)) for one in arguments)])
    assert isinstance(left.value.code, int)
    return left.value.code, *(told.getvalue().replace(str(book), PLACEHOLDER) for told in (out, err))


def thinned(value: Any) -> Any:
    """A document with every long row of values shortened to a tenth or so of them, and how many there were."""
    if isinstance(value, dict):
        return {key: thinned(part) for key, part in value.items()}
    if not isinstance(value, list):
        return value
    if len(value) <= LONGEST_ROW or any(isinstance(part, (dict, str)) for part in value):
        return [thinned(part) for part in value]
    return {"values": len(value), "every": thinned(value[:: len(value) // 30]), "last": thinned(value[-1])}


def changes(then: Any, now: Any, where: str = "") -> list[str]:
    """What is missing or differs from then; what came to it since is allowed."""
    if isinstance(then, dict) and isinstance(now, dict):
        missing = [f"{where}.{key} is missing" for key in then if key not in now]
        return missing + [
            found for key in then if key in now for found in changes(then[key], now[key], f"{where}.{key}")
        ]
    if isinstance(then, list) and isinstance(now, list):
        if len(then) != len(now):
            return [f"{where} has {len(now)} parts, had {len(then)}"]
        return [
            found for n, (a, b) in enumerate(zip(then, now, strict=True)) for found in changes(a, b, f"{where}[{n}]")
        ]
    if is_number(then) and is_number(now):
        same = math.isclose(then, now, rel_tol=NEAR, abs_tol=NOTHING)
    else:
        same = type(then) is type(now) and then == now
    return [] if same else [f"{where} is {now!r}, was {then!r}"]


def is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def page_of(path: Path) -> str:
    """A report's page without when it was made and without what matplotlib drew, which differs between its versions."""
    page = re.sub(r"Made \S+ by", "Made MADE_AT by", path.read_text(encoding="utf-8"))
    return re.sub(r'(<figure class="curve">)\s*<svg.*?</svg>', r"\1<svg/>", page, flags=re.DOTALL)


@pytest.mark.parametrize("said", SAID, ids=called)
def test_a_casebook_of_before_says_what_it_said(said: dict[str, Any], tmp_path: Path) -> None:
    book = opened(said["casebook"], tmp_path)
    status, out, err = run(book, said["args"])
    assert (status, err) == (said["exit"], said["stderr"])
    if isinstance(said["stdout"], dict):
        assert changes(said["stdout"], thinned(json.loads(out))) == []
    else:
        assert out.splitlines() == said["stdout"].splitlines()
    if "page" in said:
        assert page_of(book / "report.html").splitlines() == said["page"].splitlines()


@pytest.mark.parametrize("name", CASEBOOKS)
def test_its_record_holds(name: str, tmp_path: Path) -> None:
    book = opened(name, tmp_path)
    status, out, _ = run(book, ["verify", "--json"])
    found = json.loads(out)
    assert (status, found["ok"], found["broken"]) == (0, True, [])
    assert found["plans"] > 0


def test_a_plan_on_real_gear_has_its_report(tmp_path: Path) -> None:
    """The version before failed here, wherever levels were matched by microphone or voltmeter."""
    book = opened("gear", tmp_path)
    status, _, err = run(book, ["report", "--out", str(book / "report.html")])
    assert (status, err) == (0, "")
    text = (book / "report.html").read_text(encoding="utf-8")
    assert text.count("The uncertainty for") >= 4  # each pair of each plan that was matched so
    assert "by-volts" in text
