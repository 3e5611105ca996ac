"""What a plan is sealed with stays what was matched and checked, whatever is mended or matched afterwards."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from audio.clip import Clip
from audio.files import reading, writing
from sessions.casebook.store import open_casebook
from sessions.errors import ListenError
from sessions.listening import players
from sessions.plans import drafting, evidence_in_force, seals
from sessions.plans.plan import Plan
from sessions.plans.plan_rows import Wish
from sessions.preparation.selection import select
from tests import families
from tests.command_line import earwitness
from tests.families import RATE_HZ

LENGTH_S = 8


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Three setups on one track, the second with an offset that could be heard, all equally loud; two passages."""
    rng = np.random.default_rng(5)
    music = families.played(families.score(rng, LENGTH_S), LENGTH_S)
    music[: RATE_HZ // 2] = 0
    book = tmp_path / "book"
    assert earwitness(book, "new", str(book)).returncode == 0
    for name, offset, gain in (("moor", 0.0, 1.0), ("heath", 0.02, 1.0), ("fen", 0.0, 1.0)):
        home = tmp_path / name
        home.mkdir()
        writing.write(home / "song.wav", Clip(gain * music + offset, RATE_HZ))
        assert earwitness(book, "setup", "add", name, "--from", str(home)).returncode == 0
    for start, end in (("0", "3.5"), ("4", "7.5")):
        assert earwitness(book, "passage", "add", "song", "--from", start, "--to", end).returncode == 0
    return book


def did(book: Path, *words: str, status: int = 0) -> str:
    done = earwitness(book, *words)
    assert done.returncode == status, done.stderr
    return done.stdout


PAIR = ("--setup", "moor", "--setup", "heath")


def sealed(book: Path, name: str, accepted: tuple[tuple[str, str], ...] = ()) -> Plan:
    with open_casebook(book) as casebook:
        wish = Wish("abx", ("moor", "heath"), listeners=("Ada",), trials=6, accepted=accepted)
        drafting.draft(casebook, wish, name)
        return seals.seal(casebook, name).plan


def offsets(book: Path, plan: Plan) -> list[float]:
    """The means of the files that a plan plays."""
    found = []
    for passage in plan.passages:
        for source, sha256 in passage.audio.items():
            path = book / "prepared" / str(passage.files[source])
            assert reading.sha256(path) == sha256
            found.append(float(np.abs(reading.read(path).samples.mean(axis=0)).max()))
    return found


def test_a_mend_of_more_setups_than_were_matched_reaches_what_a_plan_plays(book: Path) -> None:
    did(book, "match", "files", *PAIR)
    assert "DC offset" in did(book, "giveaways", *PAIR, status=1)
    did(book, "giveaways", "--mend")
    plan = sealed(book, "evening")
    assert max(offsets(book, plan)) < 1e-3


def test_a_sheet_of_before_a_mend_holds_no_more(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    did(book, "match", "files", *PAIR)
    monkeypatch.setattr("sessions.preparation.match_files.match_mended", lambda *_: [])
    did(book, "giveaways", "--mend", *PAIR)
    with open_casebook(book) as casebook:
        assert evidence_in_force.sheet(casebook, select(casebook, ("moor", "heath"), ())) is None


def test_mending_and_matching_afterwards_leaves_sealed_audio_as_it_is(book: Path) -> None:
    did(book, "match", "files", *PAIR)
    did(book, "giveaways", *PAIR, status=1)
    plan = sealed(book, "evening", accepted=(("dc", "to be told from"),))
    before = offsets(book, plan)
    did(book, "giveaways", "--mend", *PAIR)
    did(book, "match", "files")
    assert offsets(book, plan) == before
    assert max(before) > 0.005
    with open_casebook(book) as casebook:
        players.check_audio(casebook, plan)
        (book / "prepared" / str(next(iter(plan.passages[0].files.values())))).unlink()
        with pytest.raises(ListenError, match="'song 1' is missing or not what was sealed"):
            players.check_audio(casebook, plan)
