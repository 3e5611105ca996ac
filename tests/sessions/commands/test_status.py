"""`status` says where a casebook stands, to the word, and always ends in a command that can be typed."""

from __future__ import annotations

import cProfile
import io
import json
import os
import shlex
import shutil
import subprocess
import sys
from contextlib import redirect_stdout
from dataclasses import replace
from pathlib import Path

import pytest

from audio.mend import Mend
from sessions.casebook import catalogue, catalogue_changes, recordings, written_since
from sessions.casebook.catalogue import Passage, Setup
from sessions.casebook.store import Casebook, create, open_casebook
from sessions.commands import giveaways, next_step
from sessions.commands.main import main
from sessions.commands.status import passage_lines, plan_lines
from sessions.listening import session
from sessions.plans import drafting, next_steps, overview, seals
from sessions.plans.plan_rows import Wish
from sessions.preparation import mends
from sessions.preparation.giveaway_check import Giveaway, GiveawayCheck
from sessions.preparation.mends import PassageMend
from tests.answered_plans import answer_all
from tests.command_line import earwitness
from tests.large_casebook import large

PAIR = ("sallow", "bracken")
WIDE = 80  # columns


@pytest.fixture(autouse=True)
def nobody_at_the_keyboard(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    monkeypatch.delenv("EARWITNESS_CASEBOOK", raising=False)


def stands(casebook: Casebook) -> dict:
    done = earwitness(casebook.folder, "status", "--json")
    assert done.returncode == 0, done
    document = json.loads(done.stdout)
    assert isinstance(document, dict)
    return document


def following(casebook: Casebook) -> list[str]:
    """The words of the command that comes next, as a shell would take them; the casebook is named."""
    words = shlex.split(stands(casebook)["next"])
    assert words[:3] == ["earwitness", "--casebook", str(casebook.folder)]
    return words[3:]


def test_each_step_of_the_job_is_named_when_it_comes(casebook: Casebook, tmp_path: Path) -> None:
    with create(tmp_path / "new (2) & more") as empty:
        assert following(empty) == ["setup", "add", "NAME", "--from", "DIR"]
        catalogue.add_setup(empty, "one, two")
        catalogue.add_setup(empty, "b & c (2)")
        assert following(empty) == ["track", "add", "TRACK", "--file", "one, two=FILE"]
    assert following(casebook)[:3] == ["plan", "abx", "--listener"]
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada L",), trials=6), "the first & only")
    assert following(casebook) == ["seal", "the first & only"]
    seals.seal(casebook, "the first & only")
    assert following(casebook) == ["listen", "the first & only", "--listener", "Ada L"]
    answer_all(casebook, 0.5, "Ada L", "the first & only")
    assert following(casebook) == ["report"]


def test_what_prepares_ends_in_the_command_that_status_names(casebook: Casebook, tmp_path: Path) -> None:
    book = casebook.folder
    track = overview.gather(casebook).passages[0].track
    for words in (
        ("match", "files"),
        ("giveaways",),
        ("setup", "relink", str(tmp_path)),
        ("passage", "add", track, "--from", "0:01", "--to", "0:03", "--name", "late"),
    ):
        last = earwitness(book, *words).stdout.splitlines()[-1]
        assert last.startswith("Next, "), (words, last)
        assert last.endswith(f": {json.loads(earwitness(book, 'status', '--json').stdout)['next']}"), (words, last)


def test_a_passage_that_came_after_a_draft_is_told_with_what_takes_it_in(casebook: Casebook) -> None:
    book = casebook.folder
    (first, *_) = overview.gather(casebook).passages
    drafted = earwitness(book, "plan", "abx", "--name", "one", "--listener", "Ada", "--passage", first.name)
    assert drafted.returncode == 0, drafted.stderr
    added = earwitness(book, "passage", "add", first.track, "--from", "0:01", "--to", "0:03", "--name", "late").stdout
    told = f"earwitness --casebook {book} edit draft one --add-passage late"
    assert f"late is not in draft one; to take in what is new: {told}\n" in added
    assert f"late is not in draft one: {told}\n" in earwitness(book, "status").stdout
    taken = earwitness(book, "edit", "draft", "one", "--add-passage", "late", "--json")
    assert [one["name"] for one in json.loads(taken.stdout)["passages"]] == [first.name, "late"]  # no other comes back
    assert "late is not in" not in earwitness(book, "status").stdout


def test_a_draft_without_evidence_is_sent_to_get_it(casebook: Casebook) -> None:
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=6), "morning")
    catalogue.find(casebook, Setup, "sallow")
    assert earwitness(casebook.folder, "edit", "passage", "strings 1", "--to", "0:03", "--yes").returncode == 0
    assert following(casebook) == ["match", "files", "--setup", "sallow", "--setup", "bracken"]
    for words in (following(casebook), ["giveaways"]):
        assert earwitness(casebook.folder, *words).returncode == 0
    assert following(casebook) == ["seal", "morning"]


@pytest.mark.parametrize(("mend", "state"), [(Mend(delay_s=0.003), "outdated"), (Mend(), "ok")])
def test_a_sheet_of_before_a_mend_is_no_match(casebook: Casebook, mend: Mend, state: str) -> None:
    """A mend that changes nothing of what was matched leaves the match as it is."""
    setup, passage = catalogue.find(casebook, Setup, "bracken"), catalogue.find(casebook, Passage, "drums 1")
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=4), "evening")
    mends.keep(casebook, [PassageMend(setup.id, setup.name, passage.id, passage.name, mend, "by hand")])
    assert {one["name"]: one["match"] for one in stands(casebook)["passages"]} == {"strings 1": "ok", "drums 1": state}
    assert stands(casebook)["plans"][0]["lacks"] == (["match"] if state == "outdated" else [])


def test_setups_passages_and_plans_are_told_with_what_they_lack(sealed: Casebook) -> None:
    catalogue.add_setup(sealed, "third")
    with session.begin(sealed, "evening", "Ada", "none: test"):
        pass
    said = earwitness(sealed.folder, "status").stdout
    seal = seals.sealed_plan(sealed, "evening").seal
    assert f"\n    {seal}\n" in said  # whole, on a line of its own
    for words in (
        "third",
        "0 of 2 tracks; lacks drums, strings",
        "0:00.000",
        "0:04.000",
        "matched",
        "none found",
        "under way",
    ):
        assert words in said
    assert "Ada: begun, nothing answered yet, 8 trials" in said
    assert max(map(len, said.splitlines())) <= WIDE + len(str(sealed.folder))
    assert said.splitlines()[-1].strip().endswith("listen evening --listener Ada")
    document = stands(sealed)
    third = next(one for one in document["setups"] if one["name"] == "third")
    assert third["lacks"] == ["drums", "strings"]
    assert document["plans"][0]["listeners"] == [
        {"name": "Ada", "answered": 0, "trials": 8, "complete": False, "begun": True}
    ]


def test_the_bare_command_says_the_same_in_and_below_a_casebook(
    sealed: Casebook, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    below = sealed.folder / "prepared"
    assert below.is_dir()
    for folder in (sealed.folder, below):
        monkeypatch.chdir(folder)
        assert here() == here("status")
        assert here().startswith(f"Casebook {sealed.folder}\n")
    assert here().splitlines()[-1] == "  earwitness listen evening --listener Ada"  # found from here: not named
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path / "elsewhere")
    assert here().startswith("No casebook here. ")


def test_notes_of_passages_have_lines_of_their_own_where_a_column_would_be_narrow(
    casebook: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    note = "the brushes on the snare come in, and the bass holds one long note below them"
    found = tuple(replace(one, note=note) for one in overview.gather(casebook).passages)
    wide = passage_lines(found)
    assert all(note in line for line in wide[1 : 1 + len(found)])  # a pipe: all in one row
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    monkeypatch.setenv("COLUMNS", str(WIDE))
    lines = passage_lines(found)
    assert [f"{one.name}: {note}" for one in found] == lines[-len(found) :]
    assert len(lines) <= 1 + 2 * len(found) + 1
    assert "note" not in lines[0].split()


def here(*words: str) -> str:
    """What the program says in this folder, no casebook named."""
    out = io.StringIO()
    with redirect_stdout(out), pytest.raises(SystemExit) as left:
        main(list(words))
    assert left.value.code == 0
    return out.getvalue()


def test_a_plan_given_up_leaves_what_waits_and_keeps_its_reason(sealed: Casebook) -> None:
    assert following(sealed)[0] == "listen"
    earwitness(sealed.folder, "plan", "close", "evening", "--why", "the amplifier broke", "--yes")
    document = stands(sealed)
    assert (document["plans"][0]["state"], document["plans"][0]["why"]) == ("given up", "the amplifier broke")
    assert not any("evening" in step["command"] for step in document["waiting"])
    assert "given up (the amplifier broke)" in earwitness(sealed.folder, "plan", "list").stdout


def test_a_file_that_moved_stops_nobody_from_listening(casebook: Casebook, tmp_path: Path) -> None:
    old = catalogue.find(casebook, Setup, "sallow")
    music = tmp_path / "music"
    music.mkdir()
    for one in recordings.of_setup(casebook, old):
        copied = shutil.copy(recordings.audio_path(casebook, one), music)
        catalogue_changes.change(casebook, "recordings", one.id, {"path": str(copied)})
    shutil.move(music, tmp_path / "elsewhere")
    assert following(casebook) == ["setup", "relink", "DIR"]
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=4), "evening")
    assert following(casebook) == ["setup", "relink", "DIR"]
    seals.seal(casebook, "evening")
    assert following(casebook)[0] == "listen"
    assert "2 files are not where they were" in [step["what"] for step in stands(casebook)["waiting"]]
    assert earwitness(casebook.folder, "setup", "relink", str(tmp_path / "elsewhere")).returncode == 0
    assert stands(casebook)["setups"][0]["missing_files"] == []


def test_sealed_audio_that_is_gone_comes_before_listening(sealed: Casebook) -> None:
    """It sent to `listen`, which could play nothing."""
    files = sorted(sealed.prepared.glob("*.wav"))
    for path in files:
        path.unlink()
    assert following(sealed) == ["match", "files", "--rate", "48000"]
    said = earwitness(sealed.folder, "status").stdout
    assert f"{len(files)} of {len(files)} prepared files are missing" in said
    assert not any(
        words[0] == "listen" for words in (shlex.split(one["command"])[3:] for one in stands(sealed)["waiting"])
    )
    assert stands(sealed)["plans"][0]["missing_audio"] == len(files)
    assert earwitness(sealed.folder, *following(sealed)).returncode == 0
    assert following(sealed)[0] == "listen"


def test_a_recording_that_was_replaced_is_named(casebook: Casebook, tmp_path: Path) -> None:
    """Nothing was said of it, though nothing could be prepared any more."""
    own = catalogue.find(casebook, Setup, "sallow")
    one, other = recordings.of_setup(casebook, own)
    copied = tmp_path / "copied.flac"
    shutil.copy(recordings.audio_path(casebook, one), copied)  # written later, and the same
    catalogue_changes.change(casebook, "recordings", one.id, {"path": str(copied)})
    assert following(casebook)[0] == "plan"
    assert stands(casebook)["setups"][0]["changed_files"] == []
    shutil.copy(recordings.audio_path(casebook, other), copied)
    document = stands(casebook)
    assert document["setups"][0]["changed_files"] == [str(copied)]
    assert "1 file is not what was added" in document["waiting"][0]["what"]
    said = earwitness(casebook.folder, "status").stdout
    assert "sallow: recordings, 2 of 2 tracks; 1 file changed" in said
    assert str(copied) in earwitness(casebook.folder, "setup", "show", "sallow").stdout
    os.truncate(copied, written_since.READ_BYTES + 1)  # too large to be hashed at once
    document = stands(casebook)
    assert (document["setups"][0]["changed_files"], document["setups"][0]["unread_files"]) == ([], [str(copied)])
    assert "1 file written since it was added" in earwitness(casebook.folder, "status").stdout


def test_lists_are_of_the_same_data(sealed: Casebook) -> None:
    document = stands(sealed)
    own = {
        what: json.loads(earwitness(sealed.folder, what, "list", "--json").stdout)[f"{what}s"]
        for what in ("setup", "passage", "plan")
    }
    assert [one["lacks"] for one in own["setup"]] == [one["lacks"] for one in document["setups"]]
    for mine, theirs in zip(own["passage"], document["passages"], strict=True):
        assert theirs.items() <= mine.items()
    assert own["plan"][0]["listeners"] == document["plans"][0]["listeners"]
    said = earwitness(sealed.folder, "passage", "show", "strings 1").stdout
    assert "0:00.000 to 0:04.000 of strings" in said
    assert "192000" not in said  # frames are for programs


def test_without_a_command_it_is_status_inside_a_casebook_and_help_outside(
    casebook: Casebook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    program = "from sessions.commands.main import main; main()"
    (tmp_path / "elsewhere").mkdir()
    inside, outside = (
        subprocess.run([sys.executable, "-c", program], cwd=cwd, capture_output=True, text=True)
        for cwd in (casebook.folder / "prepared", tmp_path / "elsewhere")
    )
    assert inside.returncode == 0
    assert "\nNext, " in inside.stdout
    assert outside.stdout.startswith("No casebook here. With a folder of recordings for each setup, begin with:\n")
    assert outside.stdout.endswith("\n  earwitness --help\n")
    assert len(outside.stdout.splitlines()) < 24  # a small terminal: what to do first is still in sight


def test_a_large_casebook_is_told_whole(sealed: Casebook, tmp_path: Path) -> None:
    large(tmp_path / "large", sealed).close()
    document = json.loads(earwitness(tmp_path / "large", "status", "--json").stdout)
    assert [len(document[part]) for part in ("setups", "passages", "plans")] == [40, 200, 60]
    assert {one["match"] for one in document["passages"]} == {"ok"}


def statements_of(folder: Path) -> int:
    """How many SQL statements it takes to gather where a casebook stands."""
    said: list[str] = []
    with open_casebook(folder) as book:
        book.db.conn.set_trace_callback(said.append)
        next_steps.waiting(overview.gather(book))
    return len(said)


def calls_of(folder: Path) -> int:
    """How many calls `status` takes from its words to its last line: its work, the same on every machine."""
    profile = cProfile.Profile()
    assert profile.runcall(earwitness, folder, "status").returncode == 0
    return sum(each.callcount for each in profile.getstats())


def test_status_asks_no_more_of_a_large_casebook_and_works_in_proportion_to_it(
    sealed: Casebook, tmp_path: Path
) -> None:
    """How long that takes stands in `tests.benchmarks`; here is what decides it."""
    half, whole = tmp_path / "half", tmp_path / "whole"
    large(half, sealed, tracks=10, plans=30).close()
    large(whole, sealed).close()
    assert statements_of(half) == statements_of(whole) <= 2 * 40 + 20  # two a setup at most, none a passage or a plan
    calls_of(sealed.folder)  # what is loaded the first time only
    assert calls_of(whole) <= 2.1 * calls_of(half)
    assert calls_of(whole) <= 1000 * (200 + 60)  # a thousand for each passage and plan


def test_who_was_there_last_is_proposed_and_not_the_first_of_the_list(casebook: Casebook) -> None:
    for name in ("Ada", "Bo"):
        catalogue.add_listener(casebook, name)
    assert next_steps.waiting(overview.gather(casebook))[0].words[-2:] == ("--listener", "Ada")
    done = earwitness(casebook.folder, "word", "log", "bright", "--listener", "Bo")
    assert done.returncode == 0, done.stderr
    assert next_steps.waiting(overview.gather(casebook))[0].words[-2:] == ("--listener", "Bo")
    drafting.draft(casebook, Wish("abx", ("sallow", "bracken"), listeners=("Ada", "Bo"), trials=8), "evening")
    seals.seal(casebook, "evening")
    assert [step.words[-1] for step in next_steps.waiting(overview.gather(casebook))[:2]] == ["Bo", "Ada"]
    answer_all(casebook, 1.0, most=2)  # of Ada
    assert [step.words[-1] for step in next_steps.waiting(overview.gather(casebook))[:2]] == ["Ada", "Bo"]


def test_a_session_that_was_begun_without_an_answer_is_not_told_as_not_begun(sealed: Casebook) -> None:
    with session.begin(sealed, "evening", "Ada", "none: test"):
        pass
    [plan] = overview.gather(sealed).plans
    said = "\n".join(plan_lines(plan))
    assert plan.state == "under way"
    assert "Ada: begun, nothing answered yet, 8 trials" in said
    assert "not begun" not in said
    assert "Ada has begun" in "\n".join(step.what for step in next_steps.waiting(overview.gather(sealed)))


def test_what_came_after_the_last_plan_is_told_before_the_report(casebook: Casebook, rendered: Path) -> None:
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=4), "evening")
    seals.seal(casebook, "evening")
    catalogue.add_setup(casebook, "speaker C")
    waits = [one["command"] for one in stands(casebook)["waiting"]]
    assert "listen evening" in waits[0]
    assert waits[1].endswith("track add TRACK --file 'speaker C=FILE'")
    answer_all(casebook, 0.5, "Ada", "evening")
    assert following(casebook) == ["track", "add", "TRACK", "--file", "speaker C=FILE"]
    recorded = f"speaker C={rendered / 'sallow' / 'drums.flac'}"
    assert earwitness(casebook.folder, "track", "add", "drums", "--file", recorded).returncode == 0
    assert following(casebook) == ["match", "files", "--passage", "drums 1"]
    added = earwitness(casebook.folder, "passage", "add", "drums", "--from", "0:01", "--to", "0:03", "--name", "late")
    assert "late are not level-matched yet" in added.stdout
    assert following(casebook) == ["match", "files", "--passage", "drums 1", "--passage", "late"]
    assert earwitness(casebook.folder, *following(casebook)).returncode == 0
    assert following(casebook) == ["giveaways", "--passage", "drums 1", "--passage", "late"]
    stood = overview.gather(casebook)
    new = [one for one in stood.passages if "speaker C" in one.matched]
    assert len(new) == 2
    for check, repairs, comes_next in (
        ("clean", (), ("plan", "--help")),
        ("found", (), ("plan", "--help")),  # nothing mends it: accepted in the plan, or left out
        ("found", ("mend", "polarity"), ("giveaways", "--mend", "--polarity", *following(casebook)[1:])),
    ):
        judged = [replace(one, check=check, repairs=repairs) if one in new else one for one in stood.passages]
        steps = next_steps.waiting(replace(stood, passages=tuple(judged)))
        assert steps[0].words == comes_next
        assert ("report",) in [step.words for step in steps]


def test_what_a_check_advises_is_what_comes_next_once_all_plans_are_over(
    casebook: Casebook, capsys: pytest.CaptureFixture[str]
) -> None:
    passage = catalogue.everything(casebook, Passage)[0]
    own = Giveaway("dc", "bracken", passage.name, 1.0, 0.5, "dB", "ours", "an offset", mendable=True)
    for found, said in (
        (own, "giveaways --mend --setup a\n"),
        (replace(own, kind="polarity"), "giveaways --mend --polarity --setup a\n"),
        (replace(own, kind="level", unit="LU", mendable=False), "match files --setup a\n"),
    ):
        check = GiveawayCheck((found,), (), ())
        next_step.tell(casebook, "earwitness", False, giveaways.repair_of(check, ("--setup", "a")))
        assert capsys.readouterr().out.endswith(said)
    drafting.draft(casebook, Wish("abx", PAIR, listeners=("Ada",), trials=4), "evening")
    next_step.tell(casebook, "earwitness", False, giveaways.repair_of(check))  # a draft's own lacks come first
    assert "draft evening" in capsys.readouterr().out
