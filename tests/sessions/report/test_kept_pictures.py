"""Pictures kept for the next report: the very ones that would be drawn, and only for who may be trusted."""

from __future__ import annotations

import copy
import os
import re
import sys
from dataclasses import replace
from importlib import metadata
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from audio.curves import picture
from audio.curves.curve import Curve, log_grid
from sessions.casebook import user_folders
from sessions.casebook.store import Casebook
from sessions.measured.conditions import ON_AXIS
from sessions.measured.figures.responses import Response
from sessions.report import kept_pictures
from sessions.report.kept_pictures import Picture
from tests.sessions.commands.test_commands import run
from tests.sessions.measured.measured_files import write_level

HZ = log_grid(20, 20_000)


@pytest.fixture(autouse=True)
def kept_here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(user_folders.CACHE, str(tmp_path / "cache"))
    return tmp_path / "cache" / "pictures"


def response() -> Response:
    return Response("sallow", ON_AXIS, Curve(HZ, np.zeros(len(HZ)), None, (200.0, 20_000.0)), "a note")


def reported(casebook: Casebook, out: Path) -> str:
    """The pictures and captions of a report."""
    assert run("--casebook", casebook.folder, "report", "--out", out).returncode == 0
    return "".join(re.findall(r"<figure.*?</figure>", out.read_text(), flags=re.DOTALL))


def test_a_report_made_again_draws_nothing_and_shows_the_same_to_the_byte(
    casebook: Casebook, tmp_path: Path, kept_here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, level in (("sallow", 80), ("bracken", 78)):
        run("--casebook", casebook.folder, "curve", "add", name, write_level(tmp_path / "axis.txt", level))
    first = reported(casebook, tmp_path / "first.html")
    assert first.count("<svg") == 2
    drawn: list[Any] = []
    once = picture.svg

    def noted(figure: Any) -> str:
        drawn.append(figure)
        return once(figure)

    monkeypatch.setattr(picture, "svg", noted)
    assert reported(casebook, tmp_path / "again.html") == first
    assert drawn == []
    for file in kept_here.iterdir():
        file.unlink()
    assert reported(casebook, tmp_path / "anew.html") == first
    assert len(drawn) == 2
    for file in kept_here.iterdir():
        file.write_text(file.read_text()[:1000])  # as a full disk or a lost current may leave it
    assert reported(casebook, tmp_path / "damaged.html") == first
    assert len(drawn) == 4
    write_level(tmp_path / "axis.txt", np.linspace(80, 81, 240))
    run("--casebook", casebook.folder, "curve", "add", "bracken", tmp_path / "axis.txt")
    assert reported(casebook, tmp_path / "other.html") != first


def test_equal_figures_have_one_key_and_the_least_change_another() -> None:
    own = response()
    assert kept_pictures.key(own) == kept_pictures.key(response())
    level = own.curve.level_db.copy()
    level[17] = np.nextafter(0.0, 1.0)
    others = [
        replace(own, name="Sallow"),
        replace(own, note="a note "),
        replace(own, unit="dB SPL"),
        replace(own, curve=replace(own.curve, level_db=level)),
        replace(own, curve=replace(own.curve, valid_hz=(200.0, 19_999.0))),
    ]
    assert len({kept_pictures.key(one) for one in [own, *others]}) == 6


def test_what_draws_belongs_to_the_key(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    keys = set()
    monkeypatch.setattr(kept_pictures, "ROOMS", ("drawn_by_this",))
    monkeypatch.syspath_prepend(tmp_path)
    (tmp_path / "drawn_by_this").mkdir()
    source = tmp_path / "drawn_by_this" / "lines.py"
    for text in ("width = 1\n", "width = 2\n"):
        source.write_text(text)
        kept_pictures._drawn_by.cache_clear()
        keys.add(kept_pictures.key(response()))
    monkeypatch.setattr(metadata, "version", lambda name: "other")
    kept_pictures._drawn_by.cache_clear()
    keys.add(kept_pictures.key(response()))
    assert len(keys) == 3
    source.unlink()  # compiled alone: nobody can tell what draws
    kept_pictures._drawn_by.cache_clear()
    assert kept_pictures.key(response()) == ""
    kept_pictures._drawn_by.cache_clear()


def test_what_cannot_be_told_is_not_kept(kept_here: Path) -> None:
    odd = copy.copy(response())
    object.__setattr__(odd, "note", lambda: "no plain words")
    assert kept_pictures.key(odd) == ""
    kept_pictures.keep({"": Picture("<svg/>", False)})
    assert list(kept_here.iterdir()) == []
    assert kept_pictures.kept([""]) == {}


@pytest.mark.skipif(sys.platform == "win32", reason="a user's folders are private there by their place")
def test_a_folder_that_others_can_write_to_gives_and_takes_no_picture(kept_here: Path) -> None:
    kept_pictures.keep({"a": Picture("<svg/>", True)})
    assert kept_pictures.kept(["a"]) == {"a": Picture("<svg/>", True)}
    kept_here.chmod(0o777)
    assert kept_pictures.kept(["a"]) == {}
    kept_pictures.keep({"b": Picture("<svg/>", False)})
    kept_here.chmod(0o700)
    assert list(kept_pictures.kept(["a", "b"])) == ["a"]


def test_those_asked_for_longest_ago_give_way(kept_here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept_pictures, "MOST", 2)
    one = Picture("<svg/>", False)
    kept_pictures.keep({"a": one, "b": one})
    for name, at_s in (("a", 1000), ("b", 2000)):
        os.utime(kept_here / name, (at_s, at_s))
    kept_pictures.kept(["a"])
    kept_pictures.keep({"c": one})
    assert set(kept_pictures.kept(["a", "b", "c"])) == {"a", "c"}


def test_without_a_place_to_keep_them_nothing_is_kept(tmp_path: Path) -> None:
    (tmp_path / "cache").write_text("in the way")
    kept_pictures.keep({"a": Picture("<svg/>", False)})
    assert kept_pictures.kept(["a"]) == {}
