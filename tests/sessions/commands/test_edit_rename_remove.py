"""What is not sealed can be renamed, edited and removed, and the record says so; what is sealed stays."""

from __future__ import annotations

import io
import json
import shutil
import sys
from pathlib import Path

import pytest

from sessions.casebook import catalogue, free_rows, recordings
from sessions.casebook.catalogue import Listener, Passage, Setup, Track
from sessions.casebook.store import Casebook, open_casebook
from sessions.listening.session import begin
from sessions.plans import drafting, plan_rows, seals
from sessions.plans.plan import void_reasons
from sessions.plans.plan_rows import Wish
from sessions.preparation import giveaway_check, mends
from sessions.preparation.giveaway_check import Giveaway, GiveawayCheck
from sessions.preparation.mends import PassageMend
from sessions.preparation.passage_audio import NO_MEND
from sessions.results import verification
from sessions.words import log
from tests.casebooks import rewritten
from tests.command_line import Done, earwitness
from tests.real_gear import match_volts

PAIR = ("sallow", "bracken")


@pytest.fixture(autouse=True)
def nobody_at_the_keyboard(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO())


def done(casebook: Casebook, *words: str, status: int = 0) -> Done:
    said = earwitness(casebook.folder, *words)
    assert said.returncode == status, said
    return said


def refused(casebook: Casebook, *words: str) -> str:
    said = earwitness(casebook.folder, *words)
    assert said.returncode == 2, said
    assert said.stderr.count("\n") == 1
    return said.stderr


def marks(casebook: Casebook, entry: str) -> list[str]:
    rows = casebook.query("SELECT what FROM catalogue_marks WHERE entry = ? ORDER BY seq", [entry])
    return [row["what"] for row in rows]


def drafted(casebook: Casebook, passages: tuple[str, ...] = ()) -> None:
    drafting.draft(casebook, Wish("abx", PAIR, passages, ("Ada",), trials=8, operator="Ada"), "morning")


def test_another_name_is_kept_by_the_chain_and_followed_by_drafts(casebook: Casebook) -> None:
    drafted(casebook, ("strings 1",))
    for kind, word, old, new in (
        (Setup, "setup", "sallow", "Sallow & Sons (2/3)"),
        (Passage, "passage", "strings 1", "bow, soft + near"),
        (Listener, "listener", "Ada", "Ada B"),
        (Track, "track", "strings", "Strings, 2nd"),
    ):
        entry = catalogue.find(casebook, kind, old)
        done(casebook, "rename", word, old, new)
        assert marks(casebook, entry.id)[-1] == "changed"
        assert catalogue.find(casebook, kind, new).id == entry.id
        assert catalogue.named(casebook, kind, old) is None
    done(casebook, "rename", "draft", "morning", "evening")
    wish = plan_rows.draft(casebook, "evening").wish  # type: ignore[union-attr]
    assert wish.setups == ("Sallow & Sons (2/3)", "bracken")
    assert (wish.passages, wish.listeners, wish.operator) == (("bow, soft + near",), ("Ada B",), "Ada B")
    done(casebook, "seal", "evening")
    assert verification.verify(casebook).ok


def test_a_name_that_is_taken_or_no_name_changes_nothing(casebook: Casebook) -> None:
    assert "in this casebook already" in refused(casebook, "rename", "setup", "sallow", "bracken")
    assert "cannot be" in refused(casebook, "rename", "setup", "sallow", "\x1b[2J")
    assert "did you mean 'sallow'" in refused(casebook, "rename", "setup", "Salow", "willow")
    drafted(casebook)
    assert "already" in refused(casebook, "rename", "draft", "morning", "morning")


def test_a_giveaway_found_under_the_old_name_is_not_forgotten(casebook: Casebook) -> None:
    ids = [catalogue.find(casebook, Setup, name).id for name in PAIR]
    passages = [one.id for one in catalogue.everything(casebook, Passage)]
    one = Giveaway("onset", "sallow", "strings 1", 5.0, 1.0, "ms", "test", "sallow starts late", mendable=True)
    giveaway_check.keep(casebook, GiveawayCheck((one,), tuple(ids), tuple(passages)))
    drafted(casebook)
    done(casebook, "rename", "setup", "sallow", "willow")
    done(casebook, "rename", "passage", "strings 1", "bow")
    plan = drafting.drafted(casebook, "morning")
    assert plan is not None
    assert any("sallow starts late" in reason for reason in void_reasons(plan))
    stands = json.loads(done(casebook, "status", "--json").stdout)
    assert "giveaways --mend --setup willow --setup bracken" in stands["next"]
    assert {each["name"]: each["check"] for each in stands["passages"]} == {"bow": "found", "drums 1": "clean"}


def test_what_goes_with_a_setup_is_named_and_nothing_goes_unasked(casebook: Casebook) -> None:
    drafted(casebook)
    sallow, strings = catalogue.find(casebook, Setup, "sallow"), catalogue.find(casebook, Passage, "strings 1")
    mends.keep(casebook, [PassageMend(sallow.id, "sallow", strings.id, "strings 1", NO_MEND, "test")])
    said = refused(casebook, "remove", "setup", "sallow")
    for what in ("drums, strings", "1 match sheet, 1 giveaway check, 1 mend", "draft 'morning'", "--yes"):
        assert what in said
    assert catalogue.named(casebook, Setup, "sallow")
    assert plan_rows.draft_names(casebook) == ["morning"]
    files = [recordings.audio_path(casebook, one) for one in recordings.of_setup(casebook, sallow)]
    done(casebook, "remove", "setup", "sallow", "--yes")
    assert catalogue.named(casebook, Setup, "sallow") is None
    assert plan_rows.draft_names(casebook) == []
    assert marks(casebook, sallow.id)[-1] == "removed"
    assert all(path.is_file() for path in files)
    assert casebook.query("SELECT count(*) AS n FROM mends")[0]["n"] == 1  # what happened stays
    assert verification.verify(casebook).broken == []


def test_a_mend_of_what_was_never_removed_is_still_found(casebook: Casebook) -> None:
    sallow, strings = catalogue.find(casebook, Setup, "sallow"), catalogue.find(casebook, Passage, "strings 1")
    mends.keep(casebook, [PassageMend(sallow.id, "sallow", strings.id, "strings 1", NO_MEND, "test")])
    casebook.db.execute("PRAGMA foreign_keys = OFF")
    with casebook.writing():
        casebook.db.execute("DELETE FROM passages WHERE id = ?", [strings.id])
    assert any("mends" in fault for fault in verification.verify(casebook).broken)


@pytest.mark.parametrize(("kind", "name"), [("track", "strings"), ("passage", "strings 1"), ("listener", "Bo")])
def test_tracks_passages_and_listeners_go_too(casebook: Casebook, kind: str, name: str) -> None:
    catalogue.add_listener(casebook, "Bo")
    done(casebook, "remove", kind, name, "--yes")
    assert f"no {kind} called" in refused(casebook, "remove", kind, name)
    assert verification.verify(casebook).ok


def test_an_answer_of_no_leaves_everything(casebook: Casebook, monkeypatch: pytest.MonkeyPatch) -> None:
    typed = io.StringIO("n\n")
    typed.isatty = lambda: True  # type: ignore[method-assign]
    monkeypatch.setattr(sys, "stdin", typed)
    said = done(casebook, "remove", "passage", "strings 1", status=1)
    assert "1 match sheet" in said.stdout
    assert catalogue.named(casebook, Passage, "strings 1")


def test_a_plan_with_trials_waiting_is_closed_only_once_that_is_agreed_to(
    sealed: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    close = ("plan", "close", "evening", "--why", "enough")
    assert "To do it, add --yes" in refused(sealed, *close)
    for answer, status, words in (("n", 1, "Not closed."), ("y", 0, "'evening' is closed")):
        typed = io.StringIO(f"{answer}\n")
        typed.isatty = lambda: True  # type: ignore[method-assign]
        monkeypatch.setattr(sys, "stdin", typed)
        said = done(sealed, *close, status=status).stdout
        assert "its key is told" in said
        assert "Ada: not begun" in said
        assert words in said


def test_what_a_sealed_plan_names_stays_and_says_what_can_be_done(sealed: Casebook) -> None:
    head = sealed.head()["head_seq"]
    for words in (
        ("rename", "setup", "sallow", "willow"),
        ("rename", "passage", "strings 1", "bow"),
        ("rename", "listener", "Ada", "Bo"),
        ("remove", "setup", "sallow", "--yes"),
        ("remove", "passage", "strings 1", "--yes"),
        ("remove", "track", "strings", "--yes"),
        ("remove", "listener", "Ada", "--yes"),
        ("remove", "recording", "strings", "--setup", "sallow", "--yes"),
        ("edit", "passage", "strings 1", "--to", "0:03", "--yes"),
        ("remove", "draft", "evening"),
        ("rename", "draft", "evening", "night"),
        ("edit", "draft", "evening", "--trials", "4"),
    ):
        said = refused(sealed, *words)
        assert "'evening'" in said, said
        assert "plan close evening" in said or "add the new file as another setup" in said, said
    assert sealed.head()["head_seq"] == head
    done(sealed, "edit", "setup", "sallow", "--note", "on loan")  # nothing sealed holds the note
    assert verification.verify(sealed).ok


def test_words_hold_what_they_are_of(casebook: Casebook) -> None:
    sallow = catalogue.find(casebook, Setup, "sallow")
    log.log(casebook, catalogue.new_listener(casebook, "Ada"), log.Word("bright", 3, setup_id=sallow.id))
    assert "1 word," in refused(casebook, "remove", "setup", "sallow", "--yes")
    assert "rename listener Ada NAME" in refused(casebook, "remove", "listener", "Ada", "--yes")
    done(casebook, "rename", "setup", "sallow", "willow")
    assert "willow" in done(casebook, "word", "list").stdout


def test_what_was_heard_freely_stays(casebook: Casebook) -> None:
    ada, sallow = catalogue.add_listener(casebook, "Ada"), catalogue.find(casebook, Setup, "sallow")
    drums = catalogue.find(casebook, Track, "drums")
    new = free_rows.new_session(ada.id, [sallow.id], "none: test")
    casebook.append_many([new, free_rows.new_audition(new.id, sallow.id, drums.id, "", 0, 2000)])
    assert "1 free audition" in refused(casebook, "remove", "setup", "sallow", "--yes")
    assert "1 free audition" in refused(casebook, "remove", "track", "drums", "--yes")


def test_a_moved_passage_keeps_its_name_and_nothing_of_its_evidence(casebook: Casebook) -> None:
    drafted(casebook, ("strings 1",))
    assert void_reasons(drafting.drafted(casebook, "morning")) == []  # type: ignore[arg-type]
    before = catalogue.find(casebook, Passage, "strings 1")
    assert "--yes" in refused(casebook, "edit", "passage", "strings 1", "--from", "0:00.5")
    done(casebook, "edit", "passage", "strings 1", "--from", "0:00.5", "--to", "3.5", "--note", "bow", "--yes")
    now = catalogue.find(casebook, Passage, "strings 1")
    assert (now.start_frame, now.frames, now.note) == (24_000, 144_000, "bow")
    assert now.id != before.id
    plan = drafting.drafted(casebook, "morning")
    assert plan is not None
    assert "not level-matched" in void_reasons(plan)[0]
    assert verification.verify(casebook).ok


def test_another_delay_asks_for_another_match(routed: Casebook) -> None:
    match_volts(routed)
    giveaway_check.check(routed, drafting.select(routed, [], []))
    drafting.draft(routed, Wish("abx", PAIR, listeners=("Ada",), trials=8), "morning")
    assert not any("matched" in reason for reason in void_reasons(drafting.drafted(routed, "morning")))  # type: ignore[arg-type]
    assert "1 match sheet" in refused(routed, "edit", "setup", "bracken", "--delay", "1.5")
    done(routed, "edit", "setup", "bracken", "--delay", "1.5", "--route", "box:5,6", "--yes")
    chain = catalogue.find(routed, Setup, "bracken").chain
    assert chain is not None
    assert (chain.delay_us, chain.channels) == (1500, (4, 5))
    assert "not level-matched" in void_reasons(drafting.drafted(routed, "morning"))[0]  # type: ignore[arg-type]
    match_volts(routed)
    assert not any("matched" in reason for reason in void_reasons(drafting.drafted(routed, "morning")))  # type: ignore[arg-type]
    assert verification.verify(routed).ok


def test_a_switch_is_edited_in_part(swapped: Casebook) -> None:
    done(swapped, "edit", "setup", "sallow", "--do", "the left pair", "--hold", "5", "--yes")
    chain = catalogue.find(swapped, Setup, "sallow").chain
    assert chain is not None
    assert chain.switch is not None
    assert (chain.switch.action, chain.switch.hold_ms, chain.switch.settle_ms) == (("the left pair",), 5000, 500)


def test_recordings_have_no_route(casebook: Casebook) -> None:
    assert "setup add NAME --route" in refused(casebook, "edit", "setup", "sallow", "--route", "box:1,2")


def test_another_file_in_place_of_a_recording_asks_for_another_match(casebook: Casebook, tmp_path: Path) -> None:
    drafted(casebook)
    old = recordings.audio_path(casebook, recordings.of_setup(casebook, catalogue.find(casebook, Setup, "sallow"))[0])
    shutil.copy(
        recordings.audio_path(casebook, recordings.of_setup(casebook, catalogue.find(casebook, Setup, "bracken"))[0]),
        tmp_path / "new.flac",
    )
    track = catalogue.everything(casebook, Track)[0].name
    assert old.stem == track
    done(casebook, "remove", "recording", track, "--setup", "sallow", "--yes")
    done(casebook, "track", "add", track, "--file", f"sallow={tmp_path / 'new.flac'}")
    assert "not level-matched" in void_reasons(drafting.drafted(casebook, "morning"))[0]  # type: ignore[arg-type]
    assert verification.verify(casebook).ok


def test_a_draft_is_edited_and_deleted(casebook: Casebook) -> None:
    drafted(casebook)
    done(casebook, "edit", "draft", "morning", "--trials", "12", "--passage", "drums 1", "--exploratory")
    plan = drafting.drafted(casebook, "morning")
    assert plan is not None
    assert (plan.trials, [one.name for one in plan.passages], plan.primary) == (12, ["drums 1"], False)
    assert "out of range" in refused(casebook, "edit", "draft", "morning", "--trials", "0")
    assert "nothing to change" in refused(casebook, "edit", "draft", "morning")
    done(casebook, "remove", "draft", "morning")
    assert plan_rows.draft_names(casebook) == []


def test_a_giveaway_that_nothing_mends_is_accepted_in_the_draft(casebook: Casebook) -> None:
    ids = tuple(catalogue.find(casebook, Setup, name).id for name in PAIR)
    passages = tuple(one.id for one in catalogue.everything(casebook, Passage))
    one = Giveaway("noise-floor", "sallow", "drums 1", 9.0, 6.0, "dB", "test", "sallow hisses", mendable=False)
    giveaway_check.keep(casebook, GiveawayCheck((one,), ids, passages))
    drafted(casebook)
    assert "edit draft morning --accept noise-floor=WHY" in done(casebook, "status").stdout
    as_told = refused(casebook, "edit", "draft", "morning", "--accept", "noise-floor=WHY")
    assert "--accept noise-floor needs a reason of yours, which stays on record, in place of WHY" in as_told
    done(casebook, "edit", "draft", "morning", "--accept", "noise-floor=the amplifier is what is compared")
    assert "seal morning" in done(casebook, "status").stdout
    assert void_reasons(drafting.drafted(casebook, "morning")) == []  # type: ignore[arg-type]


def test_recordings_that_moved_are_known_by_their_content(rendered: Path, casebook: Casebook, tmp_path: Path) -> None:
    old, new = tmp_path / "old", tmp_path / "new" / "deep (2)"
    shutil.copytree(rendered / "sallow", old)
    setup = catalogue.add_setup(casebook, "third")
    for name in ("strings", "drums"):
        done(casebook, "track", "add", name, "--file", f"third={old / name}.flac")
    new.mkdir(parents=True)
    shutil.move(old / "strings.flac", new / "renamed.flac")
    (old / "drums.flac").unlink()
    assert "setup relink DIR" in done(casebook, "status").stdout
    said = done(casebook, "setup", "relink", str(tmp_path / "new"), status=1)
    assert "1 file found again" in said.stdout
    assert "drums.flac" in said.stdout
    paths = {one.path for one in recordings.of_setup(casebook, setup)}
    assert paths == {str(new / "renamed.flac"), str(old / "drums.flac")}
    shutil.copy(rendered / "sallow" / "drums.flac", old)
    assert "where they were" in done(casebook, "setup", "relink", str(new)).stdout
    assert verification.verify(casebook).ok


def test_a_casebook_of_before_the_marks_takes_them_in_first(casebook: Casebook) -> None:
    rewritten(casebook, "DELETE FROM catalogue_marks")
    sallow = catalogue.find(casebook, Setup, "sallow")
    done(casebook, "rename", "setup", "sallow", "willow")
    assert marks(casebook, sallow.id) == ["found", "changed"]
    with open_casebook(casebook.folder) as opened:
        assert "sallow" not in [one.name for one in catalogue.everything(opened, Setup)]


def test_a_draft_that_was_edited_is_still_warned_of_what_was_begun_before(casebook: Casebook) -> None:
    drafting.draft(casebook, Wish("abx", PAIR, (), ("Ada",), trials=8), "first")
    seals.seal(casebook, "first")
    begin(casebook, "first", "Ada", "box").__exit__(None, None, None)
    drafted(casebook)
    says = "This question was begun before: sealed now, the plan can be heard only where first is."
    assert says in done(casebook, "edit", "draft", "morning", "--trials", "9").stdout
    told = json.loads(done(casebook, "edit", "draft", "morning", "--trials", "10", "--json").stdout)
    assert any(line.startswith(says) for line in told["warnings"])


def test_a_plan_that_is_over_is_not_to_be_closed_again(sealed: Casebook) -> None:
    done(sealed, "plan", "close", "evening", "--why", "enough", "--yes")
    for words in (
        ("rename", "listener", "Ada", "Bo"),
        ("remove", "setup", "sallow", "--yes"),
        ("remove", "draft", "evening"),
    ):
        said = refused(sealed, *words)
        assert "plan close" not in said
        assert "over" in said
    assert "listener add NAME" in refused(sealed, "rename", "listener", "Ada", "Bo")
