"""What a plan is sealed with stays what was matched and checked, whatever is mended or matched afterwards."""

from __future__ import annotations

import json
import shlex
import shutil
from pathlib import Path

import numpy as np
import pytest

from audio.clip import Clip
from audio.files import reading, writing
from audio.mend import Mend
from sessions.casebook import catalogue, playback_chain
from sessions.casebook.store import create, open_casebook
from sessions.errors import ListenError
from sessions.listening import players
from sessions.plans import drafting, evidence_in_force, seals
from sessions.plans.plan import Plan
from sessions.plans.plan_rows import Wish
from sessions.preparation import match_files, mends
from sessions.preparation.mends import PassageMend
from sessions.preparation.selection import select
from tests import families
from tests.command_line import earwitness
from tests.families import RATE_HZ
from tests.real_gear import add_music, match_volts

LENGTH_S = 8


@pytest.fixture(scope="module")
def homes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three setups' recordings of one track, the second with an offset that could be heard, and their casebook."""
    home = tmp_path_factory.mktemp("mended")
    rng = np.random.default_rng(5)
    music = families.played(families.score(rng, LENGTH_S), LENGTH_S)
    music[: RATE_HZ // 2] = 0
    book = home / "book"
    assert earwitness(book, "new", str(book)).returncode == 0
    for name, offset in (("moor", 0.0), ("heath", 0.02), ("fen", 0.0)):
        (home / name).mkdir()
        writing.write(home / name / "song.wav", Clip(music + offset, RATE_HZ))
        assert earwitness(book, "setup", "add", name, "--from", str(home / name)).returncode == 0
    for start, end in (("0", "3.5"), ("4", "7.5")):
        assert earwitness(book, "passage", "add", "song", "--from", start, "--to", end).returncode == 0
    return home


@pytest.fixture
def book(homes: Path, tmp_path: Path) -> Path:
    """A copy of that casebook, with two passages, nothing matched yet."""
    shutil.copytree(homes / "book", tmp_path / "book")
    return tmp_path / "book"


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
    assert "mended after it was matched" in earwitness(book, "giveaways", "--mend", *PAIR).stderr
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


def following(book: Path) -> list[str]:
    """The words of the command that comes next, after the program's and the casebook's."""
    return shlex.split(json.loads(did(book, "status", "--json"))["next"])[3:]


def lacks(book: Path) -> list[str]:
    (plan,) = json.loads(did(book, "plan", "list", "--json"))["plans"]
    return list(plan["lacks"])


def test_a_mend_of_one_passage_checks_all_that_the_plan_uses(book: Path) -> None:
    did(book, "match", "files", *PAIR)
    did(book, "plan", "abx", *PAIR, "--listener", "Ada", "--name", "evening")
    did(book, "giveaways", *PAIR, status=1)
    assert lacks(book) == ["mend"]
    assert following(book) == ["giveaways", "--mend", *PAIR]
    half = did(book, "giveaways", "--mend", *PAIR, "--passage", "song 1", status=1)
    assert "song 2" in half  # it is told of the other one, which the plan plays too
    assert lacks(book) == ["mend"]
    said = did(book, "giveaways", "--mend", *PAIR, "--passage", "song 2")
    assert "No giveaway found." in said
    assert lacks(book) == []
    assert following(book) == ["seal", "evening"]


def test_what_a_mend_has_left_is_never_advised_again(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    did(book, "match", "files", *PAIR)
    did(book, "plan", "abx", *PAIR, "--listener", "Ada", "--name", "evening")
    monkeypatch.setattr("sessions.preparation.mends.propose", lambda *_, **__: {})  # a mend that can do nothing
    said = did(book, "giveaways", *PAIR, status=1)
    assert "To repair 2 of them: as told below\n" in said
    assert said.endswith(f": earwitness --casebook {book} giveaways --mend --setup moor --setup heath\n")
    said = did(book, "giveaways", "--mend", *PAIR, status=1)
    assert "giveaways --mend" not in said
    assert "none of which can be repaired here: play other passages instead: " in said
    assert lacks(book) == ["acceptance"]
    for told in (earwitness(book, "seal", "evening").stderr, did(book, "plan", "show", "evening")):
        assert "giveaways --mend" not in told
        assert "to accept it with your reason in place of WHY: " in told


def test_polarity_is_advised_with_the_option_that_turns_it(book: Path, homes: Path, tmp_path: Path) -> None:
    song = reading.read(homes / "moor" / "song.wav")
    home = tmp_path / "turned"
    home.mkdir()
    writing.write(home / "song.wav", Clip(-song.samples, RATE_HZ))
    did(book, "setup", "add", "turned", "--from", str(home))
    pair = ("--setup", "moor", "--setup", "turned")
    did(book, "match", "files", *pair)
    did(book, "plan", "abx", *pair, "--listener", "Ada", "--name", "evening")
    assert did(book, "giveaways", *pair, status=1).count("giveaways --mend --polarity --setup moor") == 1
    for _ in range(2):  # without the option it is left, and advised with it still
        assert lacks(book) == ["polarity"]
        assert following(book) == ["giveaways", "--mend", "--polarity", *pair]
        did(book, "giveaways", "--mend", *pair, status=1)
    did(book, *following(book))
    assert lacks(book) == []


def test_16_bits_against_24_are_a_note_and_no_giveaway(book: Path, homes: Path, tmp_path: Path) -> None:
    song = reading.read(homes / "moor" / "song.wav")
    home = tmp_path / "short"
    home.mkdir()
    writing.write(home / "song.wav", song, subtype="PCM_16", seed=3)
    did(book, "setup", "add", "short", "--from", str(home))
    pair = ("--setup", "moor", "--setup", "short")
    for when in ("raw", "prepared"):
        said = did(book, "giveaways", *pair)
        assert "No giveaway found." in said, when
        assert (
            "is made from 24 bits of moor and 16 bits of short: no giveaway, since all are played from 24 bits" in said
        )
        did(book, "match", "files", *pair)


def test_real_gear_is_never_told_to_mend(tmp_path: Path) -> None:
    book = tmp_path / "gear"
    with create(book) as casebook:
        for name in ("sallow", "bracken"):
            wish = playback_chain.SwitchWish("command", f"relay {name}")
            catalogue.add_setup(casebook, name, "", playback_chain.switched("box:1,2", wish))
        add_music(casebook)
        match_volts(casebook)
    did(book, "plan", "abx", "--listener", "Ada", "--name", "evening")
    said = did(book, "giveaways", status=1)
    assert "the switch has no neutral position" in said
    assert "--mend" not in said
    assert "edit draft evening --accept switching=WHY" in said
    assert lacks(book) == ["acceptance"]
    refused = earwitness(book, "seal", "evening")
    assert refused.returncode == 2
    assert "match" not in refused.stderr.partition(" would be void: ")[2]
    assert f"To accept it with your reason in place of WHY: earwitness --casebook {book} edit draft evening" in (
        refused.stderr
    )


def test_a_passage_mended_but_not_matched_is_matched_by_the_next_mend(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    did(book, "match", "files", *PAIR)
    with monkeypatch.context() as stopped:
        stopped.setattr("sessions.preparation.match_files.match_mended", _stopped)
        assert "stopped here" in earwitness(book, "giveaways", "--mend", *PAIR, "--passage", "song 1").stderr
    refused = earwitness(book, "giveaways", *PAIR, "--passage", "song 1")
    assert refused.returncode == 2
    assert "'song 1' was mended after it was matched" in refused.stderr
    assert f"earwitness --casebook {book} match files --setup moor --setup heath" in refused.stderr
    did(book, "giveaways", "--mend", *PAIR, "--passage", "song 1", status=1)  # song 2, of the same sheet, is told of
    with open_casebook(book) as casebook:
        assert evidence_in_force.sheet(casebook, select(casebook, ("moor", "heath"), ("song 1",))) is not None


def _stopped(*_: object) -> list[object]:
    raise ListenError("stopped here")


def test_a_mend_reaches_the_older_sheet_of_its_own_setups_too(book: Path) -> None:
    did(book, "match", "files", *PAIR, "--passage", "song 1")
    did(book, "match", "files", "--setup", "heath", "--setup", "fen", "--passage", "song 1")  # heath's newest
    with open_casebook(book) as casebook:
        own = select(casebook, ("moor", "heath"), ("song 1",))
        late = PassageMend(own.setups[1].id, "heath", own.passages[0].id, "song 1", Mend(0.001), "late")
        mends.keep(casebook, [late])
        match_files.match_mended(casebook, own)
        assert evidence_in_force.sheet(casebook, own) is not None
        assert evidence_in_force.sheet(casebook, select(casebook, ("heath", "fen"), ("song 1",))) is not None


def test_a_mend_of_one_passage_goes_without_the_file_of_another(book: Path, homes: Path, tmp_path: Path) -> None:
    gone = []
    for name in ("moor", "heath"):
        gone.append(tmp_path / name / "tune.wav")
        gone[-1].parent.mkdir()
        shutil.copy(homes / name / "song.wav", gone[-1])
        did(book, "track", "add", "tune", "--file", f"{name}={gone[-1]}")
    did(book, "passage", "add", "tune", "--from", "0", "--to", "3.5")
    did(book, "match", "files", *PAIR)
    gone[1].unlink()
    said = did(book, "giveaways", "--mend", *PAIR, "--passage", "song 1", status=1)
    assert f"tune 1 is not matched again: {gone[1]} is not there any more" in said
    with open_casebook(book) as casebook:
        for passage, holds in (("song 1", True), ("song 2", True), ("tune 1", True)):
            sheet = evidence_in_force.sheet(casebook, select(casebook, ("moor", "heath"), (passage,)))
            assert (sheet is not None) == holds, passage
    assert earwitness(book, "giveaways", "--mend", *PAIR, "--passage", "tune 1").returncode == 2
