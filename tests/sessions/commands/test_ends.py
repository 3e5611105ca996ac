"""Ends and seals at the command line: shown, kept, noted, looked for."""

from __future__ import annotations

import json
import os
import re
import shlex
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import zxingcpp

from sessions.casebook import session_ends
from sessions.casebook.store import FILE_NAME, Casebook, open_casebook
from sessions.commands import context, filmed_code, match_summary
from sessions.listening import session
from sessions.plans import seals
from tests.answered_plans import answer_all
from tests.casebooks import rewritten
from tests.command_line import earwitness
from tests.sessions.report.test_qr_codes import HALVES
from tests.terminal import Terminal

ROOT = Path(__file__).parents[3]
EARWITNESS = str(Path(sys.executable).with_name("earwitness"))
WORDS = ["End of the record: 214-0F3A-91BC-77D2-05EE-S", "Film it, or send it to somebody."]
CODE = "214-0F3A-91BC-77D2-05EE-S"
SHOWN = r"\d+(?:-[0-9A-F]{4}){4}-[0-9A-Z]"


def codes(book: Casebook) -> list[str]:
    return [str(one.end.code) for one in session_ends.of_plan(book, seals.sealed_plan(book, "evening").plan.id)]


def read_by_a_camera(screen: str) -> list[str]:
    """What a decoder reads from the blocks on a screen."""
    rows = [line for line in screen.splitlines() if set(line) & set("▀▄█")]
    width = max(map(len, rows))
    drawn = [[HALVES.get(character, (0, 0)) for character in line.ljust(width)] for line in rows]
    dark = np.pad(np.array([[pair[half] for pair in row] for row in drawn for half in (0, 1)]), 4)
    picture = 255 * (1 - np.kron(dark, np.ones((8, 8), dtype=int)))
    return [one.text for one in zxingcpp.read_barcodes(picture.astype(np.uint8))]


def test_verify_looks_for_kept_ends_and_says_no_where_one_is_not_there(sealed: Casebook, tmp_path: Path) -> None:
    answer_all(sealed, 0.0)
    begun, complete = codes(sealed)
    kept = tmp_path / "kept.txt"
    kept.write_text(f"{begun} 2026-11-26\n", encoding="utf-8")
    done = earwitness(sealed.folder, "verify", "--saw", complete.lower(), "--saw-file", str(kept))
    assert done.returncode == 0
    assert f"{complete}: end of row {complete.split('-')[0]}: after the session of Ada" in done.stdout
    assert f"{begun} (2026-11-26): end of row" in done.stdout
    assert "1 session begun, 1 boot, clock set back 0 times" in done.stdout
    assert "seen from the file alone" not in done.stdout
    assert "No end that was given" not in done.stdout
    early = earwitness(sealed.folder, "verify", "--saw", begun)
    assert early.returncode == 0
    answers = len(sealed.query("SELECT * FROM answers"))
    assert f"No end that was given covers the {answers} answers after the last of them" in early.stdout
    rewritten(sealed, "UPDATE answers SET sureness = 4")
    assert earwitness(sealed.folder, "verify").returncode == 0
    assert "seen from the file alone" in earwitness(sealed.folder, "verify").stdout
    done = earwitness(sealed.folder, "verify", "--saw", begun, "--saw", complete)
    assert done.returncode == 1
    assert f"{complete}: NOT IN THIS RECORD: row" in done.stdout
    assert "THE RECORD DOES NOT HOLD" in done.stdout
    done = earwitness(sealed.folder, "verify", "--saw", begun, "--saw", complete, "--json")
    told = json.loads(done.stdout)
    assert (done.returncode, told["ok"], [one["there"] for one in told["seen"]]) == (1, False, [True, False])
    assert told["age"] == {"sessions": 1, "boots": 1, "clock_steps": 0}
    assert re.fullmatch(SHOWN, told["end"])


def test_closing_a_plan_shows_an_end_and_the_report_lists_it(sealed: Casebook) -> None:
    answer_all(sealed, 0.0, most=3)
    done = earwitness(sealed.folder, "plan", "close", "evening", "--why", "tired", "--yes")
    closed = codes(sealed)[-1]
    assert f"End of the record so far: {closed}" in done.stdout
    assert "The plan was closed early, " in done.stdout
    assert "whether a copy from before was put back and answered by that key" in done.stdout
    assert earwitness(sealed.folder, "report", "--out", str(sealed.folder / "report.html")).returncode == 0
    page = (sealed.folder / "report.html").read_text(encoding="utf-8")
    assert f'<code>{closed}</code></td><td class="whole">the plan was closed early</td>' in page
    looked = earwitness(sealed.folder, "verify", "--saw", closed)
    assert (looked.returncode, "after plan evening was closed early" in looked.stdout) == (0, True)


def test_closing_a_plan_tells_its_end_as_json_too(sealed: Casebook) -> None:
    done = earwitness(sealed.folder, "plan", "close", "evening", "--why", "tired", "--yes", "--json")
    assert json.loads(done.stdout) == {"plan": "evening", "closed": "closed early: tired", "end": codes(sealed)[-1]}


def test_a_mistyped_code_and_a_missing_file_are_one_line(sealed: Casebook) -> None:
    answer_all(sealed, 0.0)
    wrong = codes(sealed)[1][:-1] + "?"
    for arguments, why in (
        (("--saw", wrong), "mistyped"),
        (("--saw-file", "no-such-file"), "cannot read no-such-file"),
    ):
        done = earwitness(sealed.folder, "verify", *arguments)
        assert (done.returncode, done.stderr.count("\n")) == (2, 1)
        assert why in done.stderr


def test_what_was_published_is_noted_and_told(sealed: Casebook) -> None:
    answer_all(sealed, 1.0)
    done = earwitness(sealed.folder, "plan", "show", "evening")
    assert "Nobody has noted that its seal was published." in done.stdout
    assert earwitness(sealed.folder, "witness", "evening", "--by", "a pinned comment").returncode == 0
    noted = json.loads(earwitness(sealed.folder, "witness", codes(sealed)[1], "--by", "Bo", "--json").stdout)
    assert (noted["what"], noted["code"], noted["by"]) == ("end", codes(sealed)[1], "Bo")
    assert "Its seal was said to be published: a pinned comment" in (
        earwitness(sealed.folder, "plan", "show", "evening").stdout
    )
    assert "a pinned comment" in earwitness(sealed.folder, "plan", "list").stdout
    listed = json.loads(earwitness(sealed.folder, "plan", "list", "--json").stdout)["plans"]
    assert [one["by"] for one in listed[0]["published"]] == ["a pinned comment"]
    refused = earwitness(sealed.folder, "witness", CODE, "--by", "Bo")
    assert (refused.returncode, "rolled back" in refused.stderr) == (2, True)


def test_the_verdict_says_how_the_key_was_drawn(sealed: Casebook) -> None:
    answer_all(sealed, 1.0)
    assert "The key was drawn by this machine alone" in earwitness(sealed.folder, "verdict", "evening", "--all").stdout
    told = json.loads(earwitness(sealed.folder, "verdict", "evening", "--json").stdout)["plans"][0]
    assert told["key_drawn"].startswith("The key was drawn by this machine alone")


def test_seal_gives_a_line_to_post_and_says_what_dates_it(casebook: Casebook) -> None:
    wish = ("plan", "abx", "--setup", "sallow", "--setup", "bracken", "--listener", "Ada", "--name", "one")
    assert earwitness(casebook.folder, *wish).returncode == 0
    done = earwitness(casebook.folder, "seal", "one")
    sealed = seals.sealed_plan(casebook, "one")
    assert f"Sealed {sealed.at[:10]} by Ada: plan one (earwitness, rule 1), seal {sealed.seal}\n" in done.stdout
    assert "witness one --by WHERE" in done.stdout
    assert "only publishing dates a seal" in done.stdout
    assert not set(done.stdout) & set("▀▄█")  # in a pipe nobody films it


def test_a_seal_on_a_small_screen_ends_with_the_line_to_post_and_breaks_no_word(
    casebook: Casebook, small: Terminal
) -> None:
    wish = ("plan", "abx", "--setup", "sallow", "--setup", "bracken", "--listener", "Ada Lee", "--name", "one")
    assert earwitness(casebook.folder, *wish).returncode == 0
    small.run(f"cd {shlex.quote(str(casebook.folder))} && {shlex.join([EARWITNESS, 'seal', 'one'])}")
    screen = small.wait("left with 0")
    sealed = seals.sealed_plan(casebook, "one")
    shown = [line.strip() for line in screen.split("Plan 'one' is sealed")[1].splitlines()]
    words = " ".join(shown)
    assert f"Sealed {sealed.at[:10]} by Ada Lee: plan one (earwitness, rule 1), seal {sealed.seal}" in words
    assert f"  {sealed.seal}" in [row.rstrip() for row in screen.splitlines()]  # whole, below its words
    after = words.split(sealed.seal)[1]
    assert re.search(r"witness one --by WHERE Listen: earwitness listen one --listener 'Ada Lee'", after)
    assert "the order in which things are played" in words
    assert "end of the record" not in words
    assert set("▀▄█") & set(screen.split("Plan 'one' is sealed")[0])
    assert len(shown) < 20
    assert all(len(row) <= 80 for row in screen.splitlines())  # the terminal had none to break in mid-word


@pytest.mark.parametrize(("width", "columns"), [(80, 80), (60, 60), (200, 100)])
def test_what_a_terminal_shows_is_wrapped_at_words_and_commands_stay_whole(
    width: int, columns: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    text = "  " + "A sentence of eleven-letter words, " * 9 + "ends. Note it: earwitness --casebook /a/folder witness x"
    lines = context.wrapped(text).splitlines()
    assert lines[-1] == "  earwitness --casebook /a/folder witness x"
    assert all(len(line) <= columns for line in lines)
    assert all(line.startswith("  ") for line in lines)
    assert " ".join(" ".join(lines).split()) == " ".join(text.split())


def test_a_command_that_more_is_said_after_has_a_line_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    book = "/a/folder; with/" * 6
    match = f"earwitness --casebook '{book}' match files --rate 48000 --setup 'Größe & Klang; neu'"
    seal = "earwitness seal abx-1 --elsewhere"
    refused = f"it cannot be played here; to prepare it again: {match}; or if it is heard elsewhere: {seal}"
    assert context.wrapped(refused).splitlines() == [
        "it cannot be played here; to prepare it again:",
        match,
        f"or if it is heard elsewhere: {seal}",
    ]
    two = context.wrapped("Who has it: earwitness witness X --by WHO. To look for it later: earwitness verify --saw C.")
    assert two.splitlines() == [
        "Who has it:",
        "earwitness witness X --by WHO",
        "To look for it later:",
        "earwitness verify --saw C",
    ]
    assert context.wrapped("The result: earwitness verdict one") == "The result: earwitness verdict one"


def test_a_command_is_whole_where_it_begins_its_line_or_more_is_said_before_or_after_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """It was broken in the middle of a quoted path, so that what was pasted was another command."""
    monkeypatch.setenv("COLUMNS", "80")
    book = f"earwitness --casebook '/home/a b/{'music of the evening/' * 5}'"
    assert context.wrapped(f"Next, nothing is planned yet:\n  {book} plan abx").splitlines()[1] == f"  {book} plan abx"
    found = context.wrapped(
        f"  dropout  heath in song: it was mended after it was matched; match it: {book} match files"
    )
    assert found.splitlines()[-1] == f"  {book} match files"
    lag = context.wrapped(f"it fits twice; choose: {book} track align loop (or --lag heath=3.000, every 2.000 s)")
    assert lag.splitlines()[1:] == [f"{book} track align loop", "(or --lag heath=3.000, every 2.000 s)"]
    two = context.wrapped(f"To hear one of them: {book} compare a b, or later: {book} passage suggest --add")
    assert [line for line in two.splitlines() if line.startswith("earwitness")] == [
        f"{book} compare a b",
        f"{book} passage suggest --add",
    ]


def test_the_match_table_has_room_at_80_columns_with_usual_names(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
    headings = ["passage", "setup", "before", "gain", "after", "peak"]
    rows = [
        [name, setup, "-24.11", "+0.00", "-24.11", "-11.5"] for name in ("p" * 26, "q") for setup in ("s" * 24, "t")
    ]
    lines = match_summary._fitting(headings, rows)
    assert all(len(context.wrapped(line).split("\n")) == 1 for line in lines)
    assert [line for line in lines if line.endswith(":")] == [f"{'p' * 26}:", "q:"]
    assert len([line for line in lines if "-24.11  +0.00" in line]) == 4


def test_a_table_wider_than_the_terminal_breaks_within_its_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
    headings = ["  word", "said in", "how", "note"]
    rows = [["  Boomy", "drums one and two of the evening", "said to be blind", "the kick drum is very loud " * 3]] * 2
    lines = context.table(headings, rows).split("\n")
    assert max(map(len, lines)) <= 78
    where = lines[0].index("note")
    assert all(line[where - 1 : where] in (" ", "") for line in lines)
    assert " ".join(line[where:].strip() for line in lines[1:]).split() == ("the kick drum is very loud " * 6).split()
    assert all(line.startswith("  ") for line in lines)
    never = [["x" * 90, "y"]]
    assert context.table(["a", "b"], never).split("\n")[1] == f"{'x' * 90}  y"
    monkeypatch.setattr(sys.stdout, "isatty", lambda: False, raising=False)
    assert context.table(headings, rows).count("\n") == 2  # in a pipe a row is a line


def test_rows_of_columns_and_findings_are_broken_between_words_below_their_last_column(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    said = " ".join(["the sound between the strokes is nowhere as loud"] * 5)
    for label in ("note", "edits", "gain over time  bracken in strings 1:"):
        line = f"  {label}  {said}"
        rows = context.wrapped(line).splitlines()
        assert all(len(row) <= 80 for row in rows)
        assert rows[0].startswith(f"  {label}  the sound")
        assert "\n".join(rows).split() == line.split()
        under = line.index("the sound") if len(label) < 10 else 6
        assert {len(row) - len(row.lstrip()) for row in rows[1:]} == {under}
    short = context.table(["plan", "what"], [["one", "two"]])
    assert context.wrapped(short) == short  # what has room stays as it is
    assert context.wrapped(f"/{'folder/' * 20}book  there") == f"/{'folder/' * 20}book\n    there"  # a path stays whole


def test_every_command_to_type_names_the_casebook_that_was_named(sealed: Casebook) -> None:
    seals.close(sealed, "evening", "the pair had to go back")
    over = earwitness(sealed.folder, "plan", "close", "evening", "--why", "no", "--yes")
    assert f"is over already; see earwitness --casebook {sealed.folder} verdict evening" in over.stderr
    which = earwitness(sealed.folder, "curve", "show")
    assert (which.returncode, f"see earwitness --casebook {sealed.folder} curve list" in which.stderr) == (2, True)
    said = earwitness(sealed.folder, "passage", "suggest")
    assert f"with: earwitness --casebook {sealed.folder} passage add TRACK" in said.stdout
    book = earwitness(sealed.folder / "nowhere", "status")
    assert f"start one: earwitness new {sealed.folder}/nowhere" in book.stderr  # which is named by itself


def test_a_phrase_is_followed_by_the_whole_command_for_every_listener_and_asks_for_a_published_seal(
    casebook: Casebook,
) -> None:
    listeners = ("--listener", "Ada Lee", "--listener", "Bo")
    wish = ("plan", "abx", "--setup", "sallow", "--setup", "bracken", *listeners, "--name", "one")
    assert earwitness(casebook.folder, *wish).returncode == 0
    assert earwitness(casebook.folder, "seal", "one", "--await-phrase").returncode == 0
    done = earwitness(casebook.folder, "phrase", "one", "seven grey herons")
    assert f"Listen: earwitness --casebook {casebook.folder} listen one --listener 'Ada Lee'" in done.stdout
    assert f"Listen: earwitness --casebook {casebook.folder} listen one --listener Bo" in done.stdout
    assert "Nobody has noted that its seal was published: words are only worth something if it was" in done.stdout


def test_a_phrase_after_a_published_seal_needs_no_reminder(casebook: Casebook) -> None:
    wish = ("plan", "abx", "--setup", "sallow", "--setup", "bracken", "--listener", "Ada", "--name", "one")
    assert earwitness(casebook.folder, *wish).returncode == 0
    assert earwitness(casebook.folder, "seal", "one", "--await-phrase").returncode == 0
    assert earwitness(casebook.folder, "witness", "one", "--by", "a pinned comment").returncode == 0
    done = earwitness(casebook.folder, "phrase", "one", "seven grey herons")
    assert "Nobody has noted" not in done.stdout


@pytest.mark.parametrize(
    ("width", "height", "encoding", "drawn"),
    [(80, 24, "utf-8", True), (100, 24, "utf-8", True), (60, 24, "utf-8", False), (80, 12, "utf-8", False),
     (80, 24, "ascii", False), (80, 24, "latin-1", False), (80, 24, None, False)],
)  # fmt: skip
def test_where_a_code_cannot_be_drawn_its_words_stand_alone(
    width: int, height: int, encoding: str | None, drawn: bool
) -> None:
    made = filmed_code.sheet(WORDS, CODE, width, height, encoding)
    assert bool(made.code) == drawn
    assert made.height <= height
    assert any(CODE in line for line in made.words)
    assert all(made.words_from + len(line) <= width for line in made.words)


def evening(book: Path, encoding: str = "utf-8") -> str:
    """Show the first page and the last lines of a session of which nothing is heard."""
    program = (
        "import sys; from pathlib import Path; from sessions.casebook.store import open_casebook; "
        "from sessions.commands import listen; from sessions.listening import session\n"
        "with open_casebook(Path(sys.argv[1])) as book, session.begin(book, 'evening', 'Ada', 'none') as running:\n"
        "    listen._show_end(running, chair=True)\n"
        "    running.mark('stopped')\n"
        "    listen._show_end(running, chair=False)\n"
    )
    locale = "C.UTF-8" if encoding == "utf-8" else "C"
    variables = [f"PYTHONPATH={ROOT}", f"LC_ALL={locale}", f"PYTHONIOENCODING={encoding}", "PYTHONUTF8=0"]
    return shlex.join(["env", *variables, sys.executable, "-c", program, str(book)])


@pytest.fixture
def small() -> Iterator[Terminal]:
    opened = Terminal(f"earwitness-small-{os.getpid()}", width=80, height=24)
    yield opened
    opened.close()


def test_a_session_shows_its_ends_as_codes_that_a_camera_reads(sealed: Casebook, small: Terminal) -> None:
    small.run(evening(sealed.folder))
    first = small.wait("press a key to go on")
    begun = codes(sealed)[0]
    assert read_by_a_camera(first) == [begun]
    assert begun in first
    assert "only proves something if someone else" in " ".join(re.sub("[▀▄█]", " ", first).split())
    small.keys("Space")
    last = small.wait("left with 0")
    assert codes(sealed)[0] == begun
    assert read_by_a_camera(last) == [codes(sealed)[1]]


def test_a_terminal_without_blocks_shows_the_words(sealed: Casebook, small: Terminal) -> None:
    small.run(evening(sealed.folder, "ascii"))
    first = small.wait("press a key to go on")
    assert re.search(SHOWN, first)
    assert not set(first) & set("▀▄█?")
    small.keys("Space")
    assert codes(sealed)[1] in small.wait("left with 0")


def test_a_rehearsal_shows_no_end(sealed: Casebook, capsys: pytest.CaptureFixture[str]) -> None:
    from sessions.casebook import catalogue
    from sessions.commands import listen
    from sessions.listening.session import PRACTICE, Rehearsal, begin_rehearsal

    listener = catalogue.listener_named(sealed, "Ada")
    plan = seals.sealed_plan(sealed, "evening").plan
    with begin_rehearsal(sealed, plan, listener, Rehearsal(PRACTICE, 1), "none") as running:
        listen._show_end(running, chair=True)
    assert capsys.readouterr().out == ""
    assert codes(sealed) == []


def test_an_older_casebook_tells_its_ends_too(sealed: Casebook) -> None:
    """A session begun before there were counters showed none; its marks are ends of the chain all the same."""
    with session.begin(sealed, "evening", "Ada", "none: test"):
        pass
    rewritten(sealed, "DELETE FROM counters")
    with open_casebook(sealed.folder) as book:
        assert (book.folder / FILE_NAME).is_file()
        done = earwitness(book.folder, "verify", "--saw", codes(book)[0])
    assert done.returncode == 0
    assert "1 session begun, clock set back 0 times" in done.stdout


def test_ends_of_sessions_that_begin_at_once_stand_each_with_its_own_code(monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[str] = []

    def slowly(line: str) -> None:
        time.sleep(0.002)  # another thread has its turn
        said.append(line)

    monkeypatch.setattr(filmed_code, "say", slowly)
    names = ("Ada", "Bo", "Cy")
    threads = [
        threading.Thread(target=filmed_code.tell, args=([f"{one} began", f"{one} has it"], one, f"type {one}"))
        for one in names
    ]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    blocks = [said[at : at + 3] for at in range(0, 9, 3)]
    assert sorted(blocks) == [[f"{one} began", f"{one} has it", f"type {one}"] for one in names]
