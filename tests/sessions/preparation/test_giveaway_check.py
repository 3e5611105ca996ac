"""The giveaway check: what is found, kept, and read again."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from audio.clip import Clip
from audio.files import reading, writing
from audio.giveaways.findings import Finding
from sessions.casebook import catalogue, playback_chain
from sessions.casebook.catalogue import Passage
from sessions.casebook.store import Casebook, create
from sessions.commands import giveaways
from sessions.preparation import giveaway_check, match_sheet, passage_audio, passage_notes
from sessions.preparation.giveaway_check import Giveaway, GiveawayCheck
from sessions.preparation.selection import select
from tests.answered_plans import SETUPS
from tests.command_line import earwitness
from tests.real_gear import add_music, match_volts


def test_a_clicking_switch_without_a_neutral_position_is_a_giveaway(tmp_path: Path) -> None:
    for number, (park, silent, ok) in enumerate((("", False, False), ("relay off", False, True), ("", True, True))):
        with create(tmp_path / f"book{number}") as casebook:
            for name in ("sallow", "bracken"):
                wish = playback_chain.SwitchWish("command", f"relay {name}", park=park, silent=silent)
                catalogue.add_setup(casebook, name, "", playback_chain.switched("box:1,2", wish))
            add_music(casebook)
            match_volts(casebook)
            found = giveaway_check.check(casebook, select(casebook, [], []))
            assert found.ok is ok
            assert {one.kind for one in found.findings} == (set() if ok else {"switching"})


@pytest.mark.parametrize("how", ["fainter", "gone"])
def test_a_prepared_file_that_is_not_what_the_sheet_says_is_not_judged(casebook: Casebook, how: str) -> None:
    """It was judged as if it were what was prepared, or the raw recordings were, and what was found was kept."""
    drums = catalogue.find(casebook, Passage, "drums 1")
    sheet = next(match_sheet.newest_first(casebook)).record.passage(drums.id)
    assert sheet is not None
    path = casebook.prepared / sheet.prepared.setups[1].file
    clip = reading.read(path)
    path.unlink()
    if how == "fainter":
        writing.write(path, Clip(0.7 * clip.samples, clip.rate_hz))
    before = casebook.query("SELECT count(*) AS n FROM checks")
    done = earwitness(casebook.folder, "giveaways")
    assert (done.returncode, done.stdout, done.stderr.count("missing or changed")) == (2, "", 1)
    run = f"run: earwitness --casebook {casebook.folder} match files"
    assert done.stderr.endswith(f"a prepared file of 'drums 1' is missing or changed; {run}\n")
    assert casebook.query("SELECT count(*) AS n FROM checks") == before
    assert earwitness(casebook.folder, "match", "files").returncode == 0
    assert earwitness(casebook.folder, "giveaways").returncode == 0


@pytest.mark.parametrize(
    ("kinds", "plays", "end"),
    [
        (("level",), ("four 1",), "1 giveaway. To repair 1 of them: earwitness match files"),
        (
            ("level", "noise"),
            ("four 1", "five 1"),
            "The other one, which cannot be repaired here: leave four 1 out: earwitness edit draft abx-1 --passage "
            "'five 1'; or bring other recordings; or accept it with your reason in place of WHY: earwitness edit draft "
            "abx-1 --accept noise=WHY",
        ),
        (
            ("noise",),
            ("four 1", "five 1"),
            "1 giveaway, which cannot be repaired here: leave four 1 out: earwitness edit draft abx-1 --passage "
            "'five 1'; or bring other recordings; or accept it with your reason in place of WHY: earwitness edit draft "
            "abx-1 --accept noise=WHY",
        ),
        (
            ("noise",),
            (),
            "1 giveaway, which cannot be repaired here: leave four 1 out of a plan, with --passage NAME for each "
            "passage that it plays; or bring other recordings; or accept it with your reason in place of WHY: a plan, "
            "with --accept noise=WHY",
        ),
    ],
)
def test_levels_are_said_to_be_repaired_by_matching(
    kinds: tuple[str, ...], plays: tuple[str, ...], end: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """It was said that none could be repaired, beside a finding that ended in: match the levels."""
    found = tuple(Giveaway(kind, "two", "four 1", 3.1, 0.2, "LU", "", "two differs", mendable=False) for kind in kinds)
    giveaways.tell(GiveawayCheck(found, ("a", "b"), ("p",)), [], "earwitness", draft="abx-1" * bool(plays), plays=plays)
    assert capsys.readouterr().out.splitlines()[-1] == end


def test_the_bits_of_a_recording_are_counted_once_and_not_for_each_pair(
    book: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    selection, counted = select(book, [], []), []
    monkeypatch.setattr(passage_notes.unjudged, "unjudged", lambda *_: [])
    monkeypatch.setattr(passage_notes.production, "word_length", lambda info: counted.append(info.path.parent.name))
    passage = selection.passages[0]
    sources = passage_audio.sources_of(book, selection.setups, passage.track_id)
    passage_notes.notes_on(passage, sources, passage_audio.cut(sources, passage, {}))
    assert counted == list(SETUPS)


@pytest.mark.parametrize(("other", "told"), [("twin", True), ("sallow-again", False), ("sallow-agains", True)])
def test_two_setups_of_the_very_same_audio_are_noted_unless_the_name_says_that_it_is_meant(
    book: Casebook, monkeypatch: pytest.MonkeyPatch, other: str, told: bool
) -> None:
    """A file added twice went through the check and into a plan without a word."""
    selection = select(book, [], [])
    monkeypatch.setattr(passage_notes.unjudged, "unjudged", lambda *_: [])
    passage = selection.passages[0]
    (source, apart, _) = passage_audio.sources_of(book, selection.setups, passage.track_id)
    sources = source, replace(source, setup=replace(source.setup, name=other)), apart
    notes = passage_notes.notes_on(passage, sources, passage_audio.cut(sources, passage, {}))
    found = [note for note in notes if "the very same audio" in note.what]
    assert [note.setups for note in found] == [("sallow", other)] * told
    assert all("can only serve as a control" in note.what and passage.name in note.what for note in found)


def test_notes_on_copies_are_those_of_the_pair_that_was_judged_under_their_own_names(
    book: Casebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, other, copy = SETUPS
    judged: list[Clip] = []
    told: list[set[str]] = []

    def unjudged(passage: str, clips: dict[str, Clip], found: set[str]) -> list[str]:
        judged.extend(clips.values())
        told.append(found)
        return [f"{passage}: between {' and '.join(clips)} width could not be judged"]

    monkeypatch.setattr(passage_notes.unjudged, "unjudged", unjudged)
    selection = select(book, [], [])
    passage = selection.passages[0]
    sources = passage_audio.sources_of(book, selection.setups, passage.track_id)
    clips = passage_audio.cut(sources, passage, {})
    clips[copy] = Clip(clips[other].samples.copy(), clips[other].rate_hz)
    noisy = Finding("noise-floor", other, passage.name, 5.0, 3.0, "dB", "", "noise", against=one)
    found = [noisy, replace(noisy, kind="hum", against=copy)]
    noted = passage_notes.notes_on(passage, sources, clips, found=found)
    notes = [(note.what, note.setups) for note in noted if "width" in note.what]
    assert [note.setups for note in noted if "the very same audio" in note.what] == [(other, copy)]
    assert notes == [
        (f"{passage.name}: between {one} and {which} width could not be judged", (one, which))
        for which in (other, copy)
    ]
    assert judged == [clips[one], clips[other]]
    assert told == [{"noise-floor"}]


def test_each_pair_of_setups_is_counted_on_each_passage(book: Casebook) -> None:
    said: list[str] = []
    giveaway_check.check(book, select(book, [], []), progress=said.append)
    assert len(said) == 2 * 3  # two passages, three pairs of three setups
    one, other, third = SETUPS
    first, second = (passage.name for passage in catalogue.everything(book, Passage))
    assert said[0] == f"passage 1 of 2, {first}: pair 1 of 3, {one} and {other} …"
    assert said[-1] == f"passage 2 of 2, {second}: pair 3 of 3, {other} and {third} …"


@pytest.mark.parametrize("kind", ["", "noise-floor", "coding"])
def test_a_check_that_found_no_lossy_file_says_that_it_may_be_one(
    kind: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Clean or not: nothing said of coding was taken for lossless."""
    found = (Giveaway(kind, "two", "four 1", 3.1, 0.2, "dB", "", "two differs", mendable=False),) if kind else ()
    for real in (False, True):
        giveaways.tell(GiveawayCheck(found, ("a", "b"), ("p",)), [], "earwitness", real=real)
        said = "a file that was coded lossily (MP3, AAC) can pass this check" in capsys.readouterr().out
        assert said is (not real and kind != "coding")
