"""What `compare` leaves out is named again, with a command that takes it in; a loop may be laid at any of its turns."""

from __future__ import annotations

import io
import json
import re
import shlex
import shutil
import sys
from pathlib import Path

import numpy as np
import pytest

from audio.alignment.one_lag import Fit
from audio.clip import Clip
from audio.files import writing
from audio.mend import Mend
from sessions.casebook.alignments import Alignment
from sessions.casebook.left_out import LeftOut, Noted
from sessions.commands.lags import described
from sessions.plans import two_folders
from sessions.plans.left_out_again import pointed
from sessions.preparation.mends import in_words
from sessions.preparation.track_alignment import Question
from tests import families
from tests.command_line import Done, Keyboard, earwitness

RATE_HZ, TURN_S = families.RATE_HZ, 2.0


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A song, and a loop of 2 s that runs for 16 s, of which the second folder lacks the first 5 s."""
    home, rng = tmp_path_factory.mktemp("music"), np.random.default_rng(4)
    song = families.played(families.score(np.random.default_rng(2), 8.0), 8.0)
    loop = np.concatenate([song[4 * RATE_HZ : round((4 + TURN_S) * RATE_HZ)]] * 8)
    heard = [families.noisy(rng, families.equaliser(rng, each), 66.0) for each in (song, loop[5 * RATE_HZ :])]
    for folder, both in (("moor", (song, loop)), ("heath", heard)):
        (home / folder).mkdir()
        for name, samples in zip(("song", "a loop"), both, strict=True):
            writing.write(home / folder / f"{name}.wav", Clip(0.5 * samples / np.abs(samples).max(), RATE_HZ))
    return home / "moor", home / "heath"


def stopped(*_: object, **__: object) -> None:
    raise KeyboardInterrupt


def compared(book: Path, folders: tuple[Path, Path], *more: str) -> Done:
    return earwitness(book, "compare", *map(str, folders), "--listener", "Ada", "--no-listen", *more)


def test_the_told_command_takes_in_the_loop_that_was_left_out(
    folders: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = tmp_path / "the book"
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    (out,) = [line for line in compared(book, folders, "--yes").stdout.splitlines() if line.startswith("left out")]
    assert "and all of these fit as well" in out
    told = re.search(r"choose: earwitness --casebook '.*' (compare .*?) \(or .* every 2\.000 s\)$", out)
    assert told is not None
    assert out in compared(book, folders, "--yes").stdout
    (left,) = json.loads(earwitness(book, "status", "--json").stdout)["left_out"]
    assert (left["track"], left["setups"], left["whole"]) == ("a loop", ["moor", "heath"], True)
    assert f"\nLeft out\n  {out.removeprefix('left out: ')}\n" in earwitness(book, "status").stdout
    taken_in = earwitness(book, *shlex.split(told[1]))
    assert taken_in.returncode == 0, taken_in.stderr
    assert "passages: song 1, a loop 1" in taken_in.stdout
    assert "Left out" not in earwitness(book, "status").stdout
    assert "Plan 'abx-1' was sealed before, without a loop" in taken_in.stdout
    assert taken_in.stdout.splitlines()[-1].endswith("listen abx-2 --listener Ada")
    again = earwitness(book, *shlex.split(told[1]))
    assert again.stdout.splitlines()[1:] == taken_in.stdout.splitlines()[-1:]
    other = compared(book, folders, "--yes", "--lag", "a loop=-5")
    assert "track align 'a loop' --lag heath=-5.000" in other.stderr
    aligned = earwitness(book, "track", "align", "a loop", "--lag", "heath=-5")
    assert (
        "heath lies 5.000 s early (chosen by hand; coherence 1.00); it fits as well at 1.000 s early" in aligned.stdout
    )
    refused = earwitness(book, "track", "align", "a loop", "--lag", "heath=-4.2")
    assert "do not fit at -4.200 s" in refused.stderr


def test_status_tells_the_command_so_that_it_works_where_status_is_typed(
    folders: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    for folder, name in zip(folders, ("Größe & Klang (A+)", "Nebel, neu"), strict=True):
        shutil.copytree(folder, tmp_path / "zwei" / name)
    monkeypatch.chdir(tmp_path / "zwei")
    named = Path("Größe & Klang (A+)"), Path("Nebel, neu")
    made = compared(Path("buch"), named, "--accept", "noise-floor=it is recorded so", "--yes")
    assert made.returncode == 0, made.stderr
    book = tmp_path / "zwei" / "buch"
    shutil.move(tmp_path / "zwei" / "Nebel, neu", tmp_path / "archiv")
    monkeypatch.chdir(book)
    assert earwitness(book, "setup", "relink", str(tmp_path / "archiv")).returncode == 0
    (left,) = json.loads(earwitness(book, "status", "--json").stdout)["left_out"]
    assert f"choose: {left['again']} --lag 'a loop=" in earwitness(book, "status").stdout
    words = shlex.split(f"{left['again']} --lag 'a loop=-5.000'")
    assert words[:3] == ["earwitness", "--casebook", str(book)]
    assert str(tmp_path / "archiv") in words
    taken_in = earwitness(book, *words[3:])
    assert taken_in.returncode == 0, taken_in.stderr
    assert "Left out" not in earwitness(book, "status").stdout


def test_a_mark_whose_passage_gives_itself_away_is_told_by_status_though_the_track_is_played(tmp_path: Path) -> None:
    """A pop at the mark, and a silence elsewhere: in one line. What differs most lies elsewhere yet, and is played."""
    music = families.played(families.score(np.random.default_rng(2), 26.0, drums=False), 26.0)
    heard = music.copy()
    heard[: 11 * RATE_HZ] = families.equaliser(np.random.default_rng(3), music)[: 11 * RATE_HZ]
    heard[12 * RATE_HZ : 13 * RATE_HZ] = 0
    heard[20 * RATE_HZ : 20 * RATE_HZ + 24] += 0.45
    for folder, samples in (("moor", music), ("heath", heard)):
        (tmp_path / folder).mkdir()
        writing.write(tmp_path / folder / "song.wav", Clip(0.5 * samples, RATE_HZ))
    book = tmp_path / "book"
    done = compared(book, (tmp_path / "moor", tmp_path / "heath"), "--yes", "--around", "song=0:20")
    assert done.returncode == 0, done
    assert "passages: song 1\n" in done.stdout or "song 1" in done.stdout
    (left,) = json.loads(earwitness(book, "status", "--json").stdout)["left_out"]
    assert (left["track"], left["whole"]) == ("song", False)
    assert "; heath is silent from 0:12." in left["why"]
    assert len([line for line in done.stdout.splitlines() if line.startswith("left out: song: ")]) == 1
    placed = re.search(
        r"a moment of song: what would be played gives a setup away: in the passage from 0:([\d.]+) to 0:[\d.]+, heath "
        r"has a click, .* \(once, 0:([\d.]+) into the passage",
        earwitness(book, "status").stdout,
    )
    assert placed is not None
    assert float(placed[1]) + float(placed[2]) == pytest.approx(20.0, abs=0.06)


def test_a_comparison_that_giveaways_keep_from_sealing_has_no_for_an_answer(tmp_path: Path) -> None:
    """It says so on stdout, or as its one document, with exit status 1: nothing was wrong with what was typed."""
    music = families.played(families.score(np.random.default_rng(2), 5.0), 5.0)
    for folder, balance in (("moor", (1.0, 1.0)), ("heath", (1.0, 10 ** (-1.5 / 20)))):
        (tmp_path / folder).mkdir()
        writing.write(tmp_path / folder / "song.wav", Clip(0.5 * music * np.array(balance), RATE_HZ))
    both = tmp_path / "moor", tmp_path / "heath"
    done = compared(tmp_path / "book", both, "--yes")
    assert (done.returncode, done.stderr) == (1, "")
    assert done.stdout.count("the balance of heath's channels differs from moor's") == 1
    assert "\n  Would be VOID: giveaways are open in song 1 (channel-level).\n" in done.stdout
    assert (
        "\nNot sealed, since the verdict would be void: giveaways are open in song 1 (channel-level). " in done.stdout
    )
    assert "with the draft abx-1; next: earwitness --casebook " in done.stdout
    again = compared(tmp_path / "book", both, "--yes", "--json")
    assert again.returncode == 1
    told = json.loads(again.stdout)
    assert (told["plan"], told["seal"], len(told["void_reasons"])) == ("abx-1", "", 1)


def test_a_giveaway_that_cannot_be_mended_is_accepted_with_a_reason_as_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And then the folder gets another name: its recordings are known all the same."""
    rng = np.random.default_rng(8)
    played = [families.played(families.score(np.random.default_rng(seed), 8.0), 8.0) for seed in (2, 3)]
    for folder, gains in (("moor", [(1, 1), (1, 1)]), ("heath", [(1, 1), (1, 10 ** (-1.5 / 20))])):
        (tmp_path / folder).mkdir()
        for name, both, music in zip(("song", "tilted"), gains, played, strict=True):
            heard = families.equaliser(rng, music) if folder == "heath" else music
            samples = heard * np.array(both) * 0.4 / np.abs(heard).max()
            writing.write(tmp_path / folder / f"{name}.wav", Clip(samples, RATE_HZ))
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    monkeypatch.chdir(tmp_path)
    made = compared(Path("book"), (Path("moor"), Path("heath")), "--yes")
    (left,) = [line for line in made.stdout.splitlines() if line.startswith("left out: tilted")]
    told = re.search(r"with your reason in place of WHY: (earwitness .* --accept channel-level=WHY)$", left)
    assert told is not None, left
    assert earwitness(Path("book"), "report", "--out", "told.html").returncode == 0
    page = Path("told.html").read_text(encoding="utf-8")
    assert (
        "left out of the comparison: tilted: what would be played gives a setup away: in the passage from 0:00.0 to "
        "0:08.0, the balance of"
    ) in page
    assert "--accept" not in page
    assert "stands under" not in page  # there is no curve
    assert left.removeprefix("left out: ").partition("; to hear")[0] in earwitness(Path("book"), "status").stdout
    words = shlex.split(told[1].replace("WHY", "'it is recorded so'"))[3:]
    heard = earwitness(Path("book"), *words)
    assert heard.returncode == 0, heard.stderr
    assert "tilted 1" in heard.stdout
    assert "because: it is recorded so" in heard.stdout
    assert re.search(r"  Accepted giveaway in tilted 1: .*\(because: it is recorded so\)\n", heard.stdout)
    assert earwitness(Path("book"), "report", "--out", "told.html").returncode == 0
    page = Path("told.html").read_text(encoding="utf-8")
    told = re.search(r"<p>Accepted beforehand. In tilted 1: .* \(measured (.*) dB, limit 0.5\). Because: it is", page)
    assert told is not None
    assert abs(abs(float(told[1])) - 1.5) < 0.1
    assert "    accepted, because: it is recorded so\nnote  a file that was coded lossily" in heard.stdout
    assert "\n1 giveaway, accepted with a reason, and played" in heard.stdout
    assert "can be repaired" not in heard.stdout
    assert "Left out" not in earwitness(Path("book"), "status").stdout
    assert "paired by content" not in heard.stdout  # the names are equal
    (tmp_path / "moor").rename("Größe")
    gone = earwitness(Path("book"), "match", "files")
    assert gone.returncode == 2
    assert gone.stderr.strip().endswith("in which they are now: earwitness --casebook book setup relink DIR")
    words = ("compare", "Größe", "heath", "--listener", "Ada", "--no-listen", "--yes")
    with monkeypatch.context() as early:
        early.setattr(two_folders, "prepare", stopped)  # it is said before anything is prepared
        anew = earwitness(Path("new"), *words)
    assert anew.returncode == 130
    assert f"These recordings stand in the casebook {tmp_path / 'book'} already, as 'moor' and 'heath'" in anew.stdout
    assert earwitness(Path("book"), "setup", "relink", "Größe").returncode == 0
    on = earwitness(Path("book"), *words)
    assert "These folders are compared already in book" in on.stdout


def test_a_track_whose_polarity_is_turned_is_turned_back_as_told(tmp_path: Path) -> None:
    rng = np.random.default_rng(8)
    for seed, name, sign in ((2, "song", 1), (3, "turned", -1)):
        music = 0.4 * families.played(families.score(np.random.default_rng(seed), 4.0), 4.0)
        for folder, samples in (("moor", music), ("heath", sign * families.equaliser(rng, music))):
            (tmp_path / folder).mkdir(exist_ok=True)
            writing.write(tmp_path / folder / f"{name}.wav", Clip(samples, RATE_HZ))
    book = tmp_path / "book"
    made = compared(book, (tmp_path / "moor", tmp_path / "heath"), "--yes")
    (left,) = [line for line in made.stdout.splitlines() if line.startswith("left out: ")]
    told = re.search(
        r"; to have its polarity turned round: (earwitness .* --polarity); to hear it all the same, ", left
    )
    assert told is not None, left
    turned = earwitness(book, *shlex.split(told[1])[3:])
    assert turned.returncode == 0, turned.stderr
    assert "\nmended  heath in turned 1: polarity turned round (" in turned.stdout
    assert "\nNo giveaway found.\n" in turned.stdout
    assert "Left out" not in earwitness(book, "status").stdout


def test_a_track_that_came_later_is_added_from_where_its_folder_is_now() -> None:
    add = "earwitness --casebook 'the book' track add Lied --file 'Nebel, neu=N, neu/Lied.wav' --file AB=a/Lied.wav"
    noted = Noted(
        ("1", "2"),
        LeftOut("Lied", f"its recordings fit; it came later; to add it: {add}"),
        "earwitness --casebook 'the book' compare 'N, neu' a --yes",
    )
    told = pointed(noted, Path("/b"), ("Nebel, neu", "AB"), (Path("/now/x y"), Path("/a")))
    assert told.again == "earwitness --casebook /b compare '/now/x y' /a --yes"
    assert told.left_out.why.endswith(
        "to add it: earwitness --casebook /b track add Lied --file 'Nebel, neu=/now/x y/Lied.wav' --file AB=/a/Lied.wav"
    )


def test_answering_0_and_n_leaves_a_draft_that_the_told_command_adds_to(
    folders: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = tmp_path / "book"
    monkeypatch.setattr(sys, "stdin", Keyboard("help\n0\nn\n"))
    said = compared(book, folders).stdout
    assert "\n  1: the music comes 1.000 s earlier in heath (lacks the first 1.000 s)\n" in f"\n{said}"
    assert "Error: type a number from 1 to " in said
    assert said.splitlines()[-1].endswith("seal abx-1")
    monkeypatch.setattr(sys, "stdin", Keyboard("n\n"))
    more = compared(book, folders, "--lag", "a loop=-3")
    assert more.returncode == 0, more.stderr
    assert "Plan 'abx-1'" in more.stdout
    assert "passages: song 1, a loop 1" in more.stdout
    assert "VOID" not in more.stdout


def test_stopped_before_anything_was_kept_it_says_so_and_how_to_go_on(
    folders: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(two_folders, "prepare", stopped)
    book = tmp_path / "book"
    done = compared(book, folders, "--yes")
    assert done.returncode == 130
    again = f"earwitness --casebook {book} compare {folders[0]} {folders[1]} --listener Ada --yes --no-listen"
    assert f"nothing of this comparison is kept yet in {book}; to go on: {again}\n" in done.stderr


@pytest.mark.parametrize(
    ("other", "said"),
    [
        (
            Fit(-13.0, 0.0, 1.0, 0.0, 4.0, 1e-6),
            "is as alike at 13.000 s early, but only here do the beginnings and the ends",
        ),
        (
            Fit(-13.0, 0.0, 1.0, 3.5, 0.0, 1e-6),
            "as alike at 13.000 s early, but there 3.5 s more of it would meet silence",
        ),
        (Fit(-13.0, 0.0, 0.6, 0.0, 0.0, 1e-6), "next best 13.000 s early (coherence 0.60)"),
    ],
)
def test_a_loop_laid_without_asking_says_why(other: Fit, said: str) -> None:
    laid = Alignment("", "", "", "", Fit(0.0, 0.1, 1.0, 0.0, 0.0, 1e-6, 60.0), other, 0.0, 0.01, settled=True)
    told = described(laid, "loop", "heath", "earwitness")
    assert said in told
    assert "ppm" not in told  # 0.1 ppm gathers 6 µs over the minute: less than a frame


def test_a_question_tells_four_lags_and_how_many_more() -> None:
    asked = Question("loop", "heath", (-1.0, -5.0, -9.0, 3.0, 7.0, -13.0))
    assert "1.000 s early, 5.000 s early, 9.000 s early or 3.000 s late in 'loop' (and 2 more, every 4.000 s)" in (
        asked.sentence
    )
    assert "-0.000" not in Question("loop", "heath", (-0.0001, 3.0)).options("heath")
    assert "may lie at the same place or 3.000 s late" in Question("loop", "heath", (-0.0001, 3.0)).sentence


def test_a_mend_says_which_way_and_in_one_unit() -> None:
    assert in_words(Mend(delay_s=-1.200001)) == ["cut 1.200 s earlier"]
    assert in_words(Mend(delay_s=0.0009)) == ["cut 0.900 ms later"]
    assert in_words(Mend(rate_hz=48_000)) == ["every setup brought to 48000 Hz"]
