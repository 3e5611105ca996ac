"""What was found of recordings stays in sight: accepted, outside of a draft, or why a track is not played."""

from __future__ import annotations

import io
import json
import re
import sys
from pathlib import Path

import numpy as np
import pytest

from audio.clip import Clip
from audio.files import writing
from sessions.casebook.store import create
from sessions.plans import pair_work, two_folders
from sessions.plans.plan_rows import Wish
from tests import families
from tests.command_line import earwitness

RATE_HZ = families.RATE_HZ
LENGTH_S = 7.0


def piece(seed: int) -> np.ndarray:
    return 0.4 * families.played(families.score(np.random.default_rng(seed), LENGTH_S), LENGTH_S)


def recorded(folder: Path, **tracks: np.ndarray) -> Path:
    folder.mkdir()
    for name, samples in tracks.items():
        writing.write(folder / f"{name}.wav", Clip(samples, RATE_HZ))
    return folder


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two setups: a song that is later and fainter in one, a tune in which one falls silent, and two performances."""
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    song, tune = piece(2), piece(3)
    broken = tune.copy()
    broken[5 * RATE_HZ : 6 * RATE_HZ] = 0
    late = np.concatenate([np.zeros((RATE_HZ // 250, 2)), song])
    moor = recorded(tmp_path / "moor", song=song, tune=tune, other=song)
    heath = recorded(tmp_path / "heath", song=0.6 * late, tune=0.6 * broken, other=tune)
    made = tmp_path / "the book"
    create(made).close()
    for folder in (moor, heath):
        assert earwitness(made, "setup", "add", folder.name, "--from", str(folder)).returncode == 0
    for track, start in (("song", "0:01"), ("tune", "0:03")):
        assert earwitness(made, "passage", "add", track, "--from", start, "--to", "0:07").returncode == 0
    return made


def row(book: Path, passage: str) -> str:
    """What `status` says of a passage."""
    (line,) = [line for line in earwitness(book, "status").stdout.splitlines() if line.startswith(f"  {passage}  ")]
    return " ".join(line.split())


def test_what_was_found_or_laid_is_told_whether_matched_drafted_accepted_or_not(book: Path) -> None:
    mended = earwitness(book, "giveaways", "--mend").stdout.splitlines()
    assert mended[-1] == f"Next, levels are to be matched: earwitness --casebook '{book}' match files"
    assert any(line.startswith("level  heath in song 1: ") for line in mended)
    assert row(book, "tune 1").endswith("not matched 1 FOUND: dropout")
    assert row(book, "song 1").endswith("not matched not checked")
    told = earwitness(book, "track", "align", "song").stdout.splitlines()
    assert told[0] == "'song', against the recording of moor, which is the first of this track:"
    assert told[1].startswith("heath lies ")
    said = earwitness(book, "status").stdout
    assert "\nNot played\n  other: heath does not hold the same performance as moor (coherence 0.0" in said
    assert "have one: passage suggest" not in said
    matched = earwitness(book, "match", "files")
    (step,) = [line for line in matched.stdout.splitlines() if line.startswith("in step: ")]
    lies = re.fullmatch(r"in step: song of heath lies ([\d.]+) ms late, and is cut so", step)
    assert lies is not None, step
    assert float(lies[1]) == pytest.approx(4.0, abs=0.05)
    assert step in earwitness(book, "match", "show").stdout.splitlines()
    for words in (("giveaways",), ("plan", "abx", "--listener", "Ada", "--passage", "song 1")):
        done = earwitness(book, *words)
    assert done.returncode == 0, done.stderr
    assert "1 FOUND: dropout" in row(book, "tune 1")
    drafted = earwitness(book, "plan", "abx", "--listener", "Ada", "--accept", "dropout=it is recorded so")
    assert drafted.returncode == 0, drafted.stderr
    assert "1 accepted: dropout" in row(book, "tune 1")
    looked = earwitness(book, "giveaways")
    assert looked.returncode == 0
    assert "    accepted in draft abx-2, because: it is recorded so\n" in looked.stdout
    assert "\n1 giveaway, accepted with a reason, and played all the same.\n" in looked.stdout
    sealed = earwitness(book, "seal", "abx-2", "--elsewhere")
    assert sealed.returncode == 0, sealed.stderr
    assert "1 accepted: dropout" in row(book, "tune 1")
    looked = earwitness(book, "giveaways", "--json")
    assert looked.returncode == 0
    (taken,) = json.loads(looked.stdout)["accepted"]
    assert taken["accepted"] == "accepted in plan abx-2, because: it is recorded so"
    assert earwitness(book, "plan", "close", "abx-2", "--why", "no time", "--yes").returncode == 0
    assert "1 FOUND: dropout" in row(book, "tune 1")


def test_the_place_of_a_track_that_gives_a_setup_away_is_taken_by_one_that_does_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two places, and the marked track, which is taken first, is out of balance."""
    monkeypatch.setattr(pair_work, "MOST_PASSAGES", 2)
    music = {"tilted": piece(2), "song": piece(3), "tune": piece(4)}
    moor = recorded(tmp_path / "moor", **music)
    heard = {name: families.equaliser(np.random.default_rng(5), 0.5 * samples) for name, samples in music.items()}
    heard["tilted"] = heard["tilted"] * np.array([1.0, 10 ** (-1.5 / 20)])
    heath = recorded(tmp_path / "heath", **heard)
    with create(tmp_path / "book") as casebook:
        made = two_folders.prepare(
            casebook, moor, heath, Wish("abx", listeners=("Ada",)), around_s={"tilted": [4.0]}, choose=lambda _: None
        )
    assert {out.track for out in made.left_out} == {"tilted"}
    assert sorted(part.track.name for part in made.passages) == ["song", "tune"]
    assert made.not_played == []
