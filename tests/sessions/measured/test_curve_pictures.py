from __future__ import annotations

import struct
from pathlib import Path

import numpy as np

from sessions.casebook.catalogue import Setup
from sessions.casebook.store import Casebook
from tests.sessions.commands.test_commands import run
from tests.sessions.measured.measured_files import HZ, write_level


def show(casebook: Casebook, *arguments: object) -> tuple[int, str]:
    done = run("--casebook", casebook.folder, "curve", *arguments)
    return done.returncode, done.stderr


def test_a_picture_is_written_in_the_size_asked_for_with_what_was_said_under_it(
    casebook: Casebook, sallow: Setup, tmp_path: Path
) -> None:
    path = write_level(tmp_path / "axis.txt", np.zeros(len(HZ)))
    stated = ("--distance", "1.5", "--volts", "2.83", "--gate", "8", "--when", "2026-03-04")
    assert show(casebook, "add", "sallow", path, *stated)[0] == 0
    dark = tmp_path / "dark.png"
    assert show(casebook, "show", "sallow", "--out", dark, "--size", "1920x1080", "--dark") == (0, "")
    assert struct.unpack(">II", dark.read_bytes()[16:24]) == (1920, 1080)
    assert show(casebook, "show", "sallow", "--out", tmp_path / "a.svg") == (0, "")
    drawn = (tmp_path / "a.svg").read_text()
    for words in ("1.5 m; 2.83 V; gate 8 ms, half-tukey; measured", "2026-03-04", "1/12-octave smoothing"):
        assert words in drawn
    code, said = show(casebook, "show", "sallow", "--out", tmp_path / "b.png", "--size", "huge")
    assert (code, said.count("\n"), (tmp_path / "b.png").exists()) == (2, 1, False)
    assert "no picture size is called 'huge'; name one of 1920x1080, 3840x2160, square, page" in said


def test_words_tell_the_whole_of_a_caption_that_was_cut(casebook: Casebook, tmp_path: Path) -> None:
    path = write_level(tmp_path / "a.txt", 80)
    stated = ("--distance", "1.25", "--gate", "7", "--room", "a room with a name as long as this one has " * 4)
    assert run("--casebook", casebook.folder, "curve", "add", "sallow", path, *stated).returncode == 0
    for size, is_cut in (("1920x1080", True), ("page", False)):
        done = run(
            "--casebook", casebook.folder, "curve", "show", "sallow", "--out", tmp_path / f"{size}.png", "--size", size
        )
        assert done.returncode == 0, done.stderr
        assert ("its caption is cut there" in done.stdout) is is_cut
        assert ("the whole: a room with a name as long as this one has" in done.stdout) is is_cut
