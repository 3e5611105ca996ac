"""Passages suggested at the command line: by what differs most, around moments of the reviewer's, and drawn."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from audio.clip import Clip
from audio.files import writing
from sessions.casebook.catalogue import Track
from sessions.commands.comparison_summary import tell_passages
from sessions.preparation.proposed_passage import ProposedPassage
from tests import families
from tests.command_line import earwitness
from tests.families import RATE_HZ

REEL_S, WALTZ_S = 38, 13


@pytest.fixture(scope="module")
def homes(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Two tracks through two loudspeakers, the first track alike in its last third, but for a silence of 1.2 s."""
    folder = tmp_path_factory.mktemp("recordings")
    homes = folder / "moor", folder / "heath"
    for name, length_s in (("reel", REEL_S), ("waltz", WALTZ_S)):
        rng = np.random.default_rng(length_s)
        music = families.played(families.score(rng, length_s), length_s)
        other = families.equaliser(rng, music)
        if name == "reel":
            other[25 * RATE_HZ :] = music[25 * RATE_HZ :]
            other[round(36.7 * RATE_HZ) : round(37.8 * RATE_HZ)] = 0
        for home, samples in zip(homes, (music, 0.5 * other), strict=True):
            home.mkdir(exist_ok=True)
            writing.write(home / f"{name}.wav", Clip(samples, RATE_HZ))
    return homes


@pytest.fixture(scope="module")
def book(homes: tuple[Path, Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A casebook of both, which nobody adds passages to."""
    book = tmp_path_factory.mktemp("kept") / "book"
    assert earwitness(book, "new", str(book)).returncode == 0
    for home in homes:
        assert earwitness(book, "setup", "add", home.name, "--from", str(home)).returncode == 0
    return book


def suggested(book: Path, *words: str) -> list[dict[str, Any]]:
    done = earwitness(book, "passage", "suggest", *words, "--json")
    assert done.returncode == 0, done.stderr
    found: list[dict[str, Any]] = json.loads(done.stdout)["passages"]
    return found


def test_each_track_has_what_differs_most_and_what_is_marked(book: Path) -> None:
    plain = suggested(book)
    assert [(part["track"], part["by"], part["marks_s"]) for part in plain] == [
        ("reel", ["difference"], []),
        ("waltz", ["difference"], []),
    ]
    assert plain[0]["end_s"] < 27
    parts = suggested(book, "--around", "reel=0:32.5")
    assert [(part["track"], part["by"]) for part in parts] == [
        ("reel", ["difference"]),
        ("reel", ["mark"]),
        ("waltz", ["difference"]),
    ]
    assert parts[1]["marks_s"] == [32.5]
    assert parts[1]["start_s"] <= 30.5
    assert parts[1]["end_s"] >= 34.5
    assert parts[1]["difference_sone"] < parts[0]["difference_sone"]
    said = earwitness(book, "passage", "suggest", "waltz", "--around", "reel=32.5").stdout
    assert re.search(
        r"^reel: .* \(around your mark at 0:32.5; to the ear they differ by about \d+ % on average, once "
        r"equally loud \(\d\.\d of \d+ sone",
        said,
        re.M,
    )
    assert "moments of your own" not in said


def test_who_marked_nothing_is_told_how_in_one_line(book: Path) -> None:
    said = earwitness(book, "passage", "suggest").stdout
    assert said.count("\n") == 5
    assert said.startswith("reel: heath is silent from 0:36.")
    assert "To have passages around moments of your own as well: --around TRACK=M:SS, or --words\n" in said


def test_fewer_passages_than_were_asked_for_are_said_to_be_so_and_why(book: Path) -> None:
    """A track of 13 s has room for one of 10 s; one of 38 s for two that do not overlap, and not for four."""
    said = earwitness(book, "passage", "suggest", "--count", "2").stdout
    assert [line for line in said.splitlines() if "asked for" in line] == [
        f"waltz: 1 of the 2 passages asked for: of music that all recordings hold it has {WALTZ_S} s, too few for 2 of "
        "10 s that do not overlap"
    ]
    more = earwitness(book, "passage", "suggest", "reel", "--count", "4", "--json")
    found = json.loads(more.stdout)["passages"]
    assert f"reel: {len(found)} of the 4 passages asked for: " in more.stderr
    assert f"it has {REEL_S} s, too few for 4" in more.stderr


def test_moments_at_which_words_were_logged_in_sighted_listening_are_marks(book: Path, tmp_path: Path) -> None:
    book = shutil.copytree(book, tmp_path / "book")
    assert earwitness(book, "listener", "add", "Ada").returncode == 0
    for term, how, at_s in (("boomy", "--sighted", "32.5"), ("dull", "--blind", "10"), ("thin", "--sighted", "")):
        where = ["--track", "reel", "--at", at_s] if at_s else ["--track", "reel"]
        assert earwitness(book, "word", "log", term, "--listener", "Ada", how, *where).returncode == 0
    assert [part["marks_s"] for part in suggested(book, "reel", "--words")] == [[], [32.5]]
    kept = earwitness(book, "passage", "suggest", "reel", "--words", "--add")
    assert kept.returncode == 0
    shown = json.loads(earwitness(book, "passage", "list", "--json").stdout)["passages"]
    notes = [part["note"] for part in shown]
    assert notes[0].startswith("suggested: to the ear they differ by about ")
    assert notes[1].startswith("suggested: around your mark at 0:32.5; to the ear they differ by about ")


def test_the_picture_says_the_numbers_that_are_printed(book: Path, tmp_path: Path) -> None:
    picture = tmp_path / "along.svg"
    parts = suggested(book, "--around", "reel=0:32.5", "--picture", str(picture))
    text = picture.read_text(encoding="utf-8")
    for part in parts:
        assert f"{part['difference_sone']:.1f} sone apart, {part['loudness_sone']:.0f} sone loud" in text
        assert f"{int(part['start_s'] // 60)}:{part['start_s'] % 60:04.1f} to " in text
    assert "(your mark at 0:32.5)" in text
    assert "How much moor and heath differ, once equally loud" in text
    assert "place in the track, minutes:seconds" in text
    drawn = tmp_path / "along.png"
    suggested(book, "reel", "--picture", str(drawn))
    assert drawn.read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--around", "reel"), "--around takes TRACK=M:SS; got 'reel'"),
        (
            ("--around", "reel=early"),
            "'early' is no time; give minutes and seconds, such as 0:30 or 1:02.5, or seconds",
        ),
        (("--around", "jig=0:10"), "no track called 'jig'"),
        (
            ("--around", "reel=0:59"),
            "not all recordings of 'reel' hold the moment 0:59.0; choose one from 0:00.0 to 0:38.0",
        ),
        (("--picture", "along.pdf"), "pictures are written as .svg or .png"),
    ],
)
def test_what_cannot_be_is_said_in_one_line(book: Path, words: tuple[str, ...], says: str) -> None:
    done = earwitness(book, "passage", "suggest", *words)
    assert done.returncode == 2
    assert says in done.stderr
    assert done.stderr.count("\n") == 1


def test_two_folders_are_compared_on_both_kinds_of_passage(homes: tuple[Path, Path], tmp_path: Path) -> None:
    folders = [str(home) for home in homes]
    words = ["--listener", "Ada", "--yes", "--no-listen"]
    done = earwitness(tmp_path / "one", "compare", *folders, *words, "--around", "jig=0:10")
    assert done.returncode == 2
    assert "no track called 'jig' is in both folders; there are: reel, waltz" in done.stderr
    done = earwitness(tmp_path / "two", "compare", *folders, *words, "--around", "reel=0:32.5")
    assert done.returncode == 0, done.stderr
    said = re.findall(r"^(\w+) +\d:\d\d\.\d +\d:\d\d\.\d +(\d+) % +(\S.*)$", done.stdout, re.M)
    assert sorted((track, mark) for track, _, mark in said) == [
        ("reel", "-"),
        ("reel", "around your mark at 0:32.5"),
        ("waltz", "-"),
    ]
    differs = [int(percent) for _, percent, _ in said]
    assert differs == sorted(differs, reverse=True)
    assert "equally loud; the greatest first." in done.stdout
    (start, end) = re.findall(
        r"^left out: reel: heath is silent from 0:(\S+) to 0:(\S+), where another", done.stdout, re.M
    )[0]
    assert (float(start), float(end)) == pytest.approx((36.7, 37.8), abs=0.2)
    assert "a moment of reel: heath is silent from" in earwitness(tmp_path / "two", "status").stdout
    assert "moments of your own" not in done.stdout


def test_a_passage_that_does_not_hold_a_mark_says_so() -> None:
    def what(telling: bool, *marks_s: float) -> str:
        track = Track("t", "reel", "", "")
        return ProposedPassage(track, 24_000, 240_000, RATE_HZ, 1.26, 14.2, telling=telling, marks_s=marks_s).what

    assert what(False, 5.0, 10.25).startswith("around your mark at 0:05 and 0:10.2; to the ear")
    missed = (
        "does not hold your mark at 0:12: the recordings are out of step there, or one is silent; it is the nearest"
    )
    assert what(False, 12.0).startswith(missed)
    assert what(True, 5.0, 12.0).startswith(f"holds your mark at 0:05; {missed}")


def test_a_comparison_without_marks_says_how_to_make_them(capsys: pytest.CaptureFixture[str]) -> None:
    part = ProposedPassage(Track("t", "reel", "", ""), 24_000, 240_000, RATE_HZ, 1.26, 14.2, telling=True, marks_s=())
    tell_passages([part])
    assert capsys.readouterr().out.splitlines() == [
        "passage of  from    to      differs",
        "reel        0:01.0  0:11.0  9 %",
        "Differs: by how much to the ear, on average, once both are equally loud.",
        "To hear moments of your own as well, add for each: --around TRACK=M:SS",
    ]


def test_what_is_there_already_is_not_added_again(book: Path, tmp_path: Path) -> None:
    own = tmp_path / "book"
    shutil.copytree(book, own)
    (first,) = suggested(own, "reel", "--add")
    again = earwitness(own, "passage", "suggest", "reel", "--add", "--json")
    found = json.loads(again.stdout)
    assert ([part["name"] for part in found["passages"]], [part["name"] for part in found["there"]]) == ([], ["reel 1"])
    assert re.search(r"'reel 1': .* is there already; it is not added again", again.stderr)
    (marked,) = suggested(own, "reel", "--around", "reel=0:32.5", "--add")
    assert marked["name"] == "reel 2"
    assert marked["start_frame"] > first["start_frame"] + first["frames"] / 2
