"""The command line as people and programs use it: real processes, real files, one clear line for bad input."""

from __future__ import annotations

import contextlib
import io
import json
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binomtest

from audio.clip import Clip
from audio.files import reading, writing
from demo_tracks import tracks
from sessions.casebook.store import Casebook, open_casebook
from sessions.commands.main import COMMANDS, main
from sessions.listening import session


@dataclass
class Done:
    """What a command left: its exit status and what it printed."""

    returncode: int
    stdout: str
    stderr: str


def run(*arguments: object, folder: Path | None = None) -> Done:
    """The command line in this process, as its console script calls it; `run_alone` is the slower real thing."""
    out, err = io.StringIO(), io.StringIO()
    with (
        contextlib.chdir(folder or Path.cwd()),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        pytest.raises(SystemExit) as left,
    ):
        main([str(argument) for argument in arguments])
    assert isinstance(left.value.code, int)
    return Done(left.value.code, out.getvalue(), err.getvalue())


def run_alone(*arguments: object, folder: Path | None = None) -> Done:
    """The installed command, in a process of its own."""
    command = [str(Path(sys.executable).with_name("earwitness")), *map(str, arguments)]
    done = subprocess.run(command, cwd=folder, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
    return Done(done.returncode, done.stdout, done.stderr)


@pytest.fixture(autouse=True)
def no_casebook_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("EARWITNESS_CASEBOOK", raising=False)
    monkeypatch.setattr(sys, "stdin", io.StringIO())


def json_of(*arguments: object, folder: Path | None = None, status: int = 0) -> dict:
    """The JSON document a command prints."""
    done = run(*arguments, "--json", folder=folder)
    assert done.returncode == status, done.stderr
    document = json.loads(done.stdout)
    assert isinstance(document, dict)
    return document


def refused(*arguments: object, folder: Path | None = None) -> str:
    """The one line of a refusal, with exit status 2 and nothing on stdout."""
    done = run(*arguments, folder=folder)
    assert done.returncode == 2, (done.returncode, done.stdout, done.stderr)
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1, done.stderr
    assert done.stderr.startswith("earwitness: ")
    assert "Traceback" not in done.stderr
    return done.stderr


def write(path: Path, samples: np.ndarray, rate_hz: int = 48_000, subtype: str = "PCM_24") -> Path:
    writing.write(path, Clip(samples, rate_hz), subtype=subtype)
    return path


@pytest.fixture
def book(casebook: Casebook) -> Path:
    casebook.close()
    return casebook.folder


def test_help_starts_without_the_heavy_libraries() -> None:
    heavy = (
        "scipy",
        "matplotlib",
        "sounddevice",
        "soundfile",
        "pyloudnorm",
        "starlette",
        "sqlite_utils",
        "numpy",
        "jinja2",
    )
    program = f"""
import sys
from sessions.commands.main import main
try:
    main(["--help"])
except SystemExit:
    pass
print([name for name in {heavy} if name in sys.modules], file=sys.stderr)
"""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"
    for name in ("demo", "compare", "listen", "verdict", "verify"):
        assert name in done.stdout


def test_every_command_explains_itself() -> None:
    for name in COMMANDS:
        done = run(name, "--help")
        assert done.returncode == 0, done.stderr
        assert len(done.stdout.splitlines()) > 3


def test_a_phrase_from_outside_is_awaited_given_and_shown(matched_folder: Path, tmp_path: Path) -> None:
    book = tmp_path / "book"
    shutil.copytree(matched_folder, book)
    json_of("plan", "abx", "--listener", "Ada", "--trials", 5, "--name", "first", folder=book)
    assert json_of("seal", "first", "--await-phrase", folder=book)["rule"] == 2
    assert "awaits a phrase from somebody else" in run("plan", "show", "first", folder=book).stdout
    refused = run("listen", "first", "--listener", "Ada", folder=book)
    assert (refused.returncode, len(refused.stderr.splitlines())) == (2, 1)
    given = json_of("phrase", "first", " the first comment ", folder=book)
    assert (given["plan"], given["phrase"]) == ("first", "the first comment")
    assert '"the first comment"' in run("plan", "show", "first", folder=book).stdout
    assert run("phrase", "first", "another", folder=book).returncode == 2


def test_an_evening_by_hand(rendered: Path, tmp_path: Path) -> None:
    """The whole job, command by command, as a reviewer types it."""
    book = tmp_path / "book"
    assert json_of("new", book)["casebook"].startswith("casebook-")
    for name in ("sallow", "bracken"):
        assert json_of("setup", "add", name, "--from", rendered / name, folder=book)["recordings"] == [
            "drums",
            "strings",
        ]
    assert [s["name"] for s in json_of("setup", "list", folder=book)["setups"]] == ["sallow", "bracken"]
    shown = json_of("track", "show", "drums", folder=book)
    assert {recorded["of"] for recorded in shown["recordings"]} == {"sallow", "bracken"}
    added = json_of("passage", "add", "strings", "--from", 0.5, "--to", 3.5, folder=book)["passages"][0]
    assert (added["start_frame"], added["frames"], added["rate_hz"]) == (24_000, 144_000, 48_000)
    assert len(json_of("passage", "suggest", "drums", "--add", folder=book)["passages"]) == 1
    sheet = json_of("match", "files", folder=book)
    assert {"ok", "tolerance_lu", "residual_lu", "by", "passages"} <= set(sheet)
    for passage in sheet["passages"]:
        for own in passage["setups"]:
            assert {"setup", "loudness_lufs", "gain_db", "after_lufs", "true_peak_dbtp"} <= set(own)
            assert own["gain_db"] <= 0
            assert own["true_peak_dbtp"] <= -1
    check = json_of("giveaways", folder=book)
    assert check == {"ok": True, "findings": [], "notes": [], "accepted": []}
    plan = json_of("plan", "abx", "--listener", "Ada", "--trials", 5, "--name", "first", folder=book)
    assert plan["criterion"] == 5  # 5 of 5: p = 1/32
    seal = json_of("seal", "first", folder=book)
    assert len(seal["seal"]) == 64
    (listed,) = json_of("plan", "list", folder=book)["plans"]
    assert (listed["name"], listed["state"], listed["seal"], listed["published"]) == (
        "first",
        "sealed",
        seal["seal"],
        [],
    )
    json_of("rehearse", "first", "--hears", 1, "--seed", 3, folder=book)
    rehearsed = json_of("verdict", "first", "--rehearsals", folder=book)["plans"][0]
    assert (rehearsed["rehearsal"], rehearsed["verdict"]) == (True, "heard")
    word = json_of("word", "log", "Boomy", "--listener", "Ada", "--setup", "bracken", "--track", "drums", "--at", 2.5,
                "--note", "voices of the kit hang on", folder=book)  # fmt: skip
    assert word["term"] == "Boomy"
    assert json_of("word", "search", "voice", folder=book)["words"][0]["id"] == word["id"]
    with open_casebook(book) as casebook, session.begin(casebook, "first", "Ada", "none: test") as running:
        while (offered := running.next_trial()) is not None:
            running.answer(offered, "A" if offered.key["X"] == 0 else "B", 4, 900)
    verdict = json_of("verdict", "first", folder=book)["plans"][0]
    wanted = {"plan", "method", "verdict", "void_reasons", "trials", "correct", "p_value", "alpha", "critical",
              "interval",
              "d_prime", "power_planned", "listeners", "rehearsal"}  # fmt: skip
    assert wanted <= set(verdict)
    assert (verdict["verdict"], verdict["correct"], verdict["trials"], verdict["rehearsal"]) == ("heard", 5, 5, False)
    assert verdict["p_value"] == pytest.approx(1 / 32)
    assert "a difference was HEARD" in run("verdict", folder=book).stdout
    assert json_of("report", folder=book)["report"].endswith("report.html")
    assert json_of("verify", folder=book)["ok"] is True
    record = json.loads(run("verify", "--record", "first", folder=book).stdout)
    assert record["seal"] == seal["seal"]


def test_loudness_prints_each_file_and_says_what_does_not_exist(tmp_path: Path) -> None:
    tone = np.sin(2 * np.pi * 997 * np.arange(48_000 * 4) / 48_000)
    write(tmp_path / "tone.wav", 0.1 * np.stack([tone, tone], 1))
    write(tmp_path / "silence.wav", np.zeros((48_000, 2)), subtype="FLOAT")
    done = run("loudness", "tone.wav", "silence.wav", "--json", folder=tmp_path)
    assert done.returncode == 0
    first, second = json.loads(done.stdout)["files"]
    keys = ["file", "rate_hz", "channels", "length_s", "integrated_lufs", "range_lu", "momentary_max_lufs"]
    assert list(first) == [*keys, "short_term_max_lufs", "true_peak_dbtp", "sample_peak_dbfs"]
    # ITU-R BS.1770-5: a 997 Hz sine in two channels reads its peak level, here -20 dBFS
    assert first["integrated_lufs"] == pytest.approx(-20.0, abs=0.02)
    assert first["true_peak_dbtp"] == pytest.approx(-20.0, abs=0.05)
    assert second["integrated_lufs"] is None
    assert "silence.wav: no integrated_lufs" in done.stderr
    assert "997" not in done.stderr


@pytest.mark.parametrize(("correct", "verdict"), [(12, "heard"), (11, "not shown")])
def test_tally_is_the_exact_test(correct: int, verdict: str) -> None:
    document = json_of("tally", "abx", "--correct", correct, "--trials", 16)
    keys = [
        "method",
        "correct",
        "trials",
        "chance",
        "p_value",
        "alpha",
        "critical",
        "verdict",
        "proportion",
        "interval",
    ]
    assert list(document)[: len(keys) + 1] == [*keys, "d_prime"]
    assert set(document["interval"]) == {"level", "low", "high", "kind"}
    assert document["p_value"] == pytest.approx(binomtest(correct, 16, alternative="greater").pvalue)
    assert (document["critical"], document["verdict"]) == (12, verdict)


def test_a_preference_is_tallied_by_its_first_side() -> None:
    document = json_of("tally", "preference", "--for-first", 2, "--trials", 16)
    assert document["p_value"] == pytest.approx(binomtest(2, 16).pvalue)
    assert document["d_prime"] < 0
    assert "takes --for-first" in refused("tally", "preference", "--correct", 2, "--trials", 16)


def test_power_tells_both_ends_of_the_saw_tooth() -> None:
    document = json_of("power", "abx", "--proportion", 0.75)
    keys = ["method", "trials", "critical", "alpha_actual", "power", "trials_first", "trials_stable"]
    assert list(document)[: len(keys)] == keys
    assert (document["trials_first"], document["trials_stable"]) == (23, 28)  # computed independently of this code
    assert json_of("power", "abx", "--d-prime", 1.7904, "--trials", 16)["power"] == pytest.approx(1 - 0.3698, abs=1e-3)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["tally", "abx", "--correct", 17, "--trials", 16], "from 0 to the 16 trials; got 17"),
        (["tally", "abx", "--correct", 3, "--trials", 0], "trials must be a whole number from 1"),
        (["tally", "abx", "--correct", 3, "--trials", 16, "--alpha", 1], "alpha must lie between 0 and 1; got 1"),
        (["tally", "abx", "--correct", "three", "--trials", 16], "'three' is no whole number"),
        (["tally", "duel", "--correct", 3, "--trials", 16], "'duel' is not one of"),
        (["power", "abx", "--proportion", 0.4], "better than chance"),
        (["power", "abx", "--proportion", 1.2], "a number from 0 to 1; got 1.2"),
        (["power", "abx", "--proportion", 0.7, "--d-prime", 1], "give the effect once"),
        (["power", "abx", "--proportion", 0.5001], "more than 20000 trials"),
        (["demo", "--speed", 3], "No such option"),
        (["hearing", "--listener", "Ada"], "it belongs behind run (see earwitness hearing run --help)"),
        (["conjure"], "no command 'conjure'"),
        (["statsu"], "no command 'statsu'; did you mean 'status'?"),
        (["loudness"], "Missing argument 'FILE...'"),
    ],
)
def test_numbers_and_usage_out_of_range_get_one_line(arguments: list[object], says: str) -> None:
    assert says in refused(*arguments)


class TestOtherMethods:
    def test_a_triangle_is_tallied_at_a_third(self) -> None:
        document = json_of("tally", "triangle", "--correct", 10, "--trials", 16)
        assert document["p_value"] == pytest.approx(binomtest(10, 16, 1 / 3, alternative="greater").pvalue)
        assert document["critical"] == 9  # ISO 4120's rule, computed

    def test_same_different_takes_the_four_counts(self) -> None:
        counts = ("--hits", 9, "--different", 13, "--false-alarms", 5, "--same", 13)
        document = json_of("tally", "same-different", *counts)
        assert document["p_value"] == pytest.approx(binomtest(17, 26, alternative="greater").pvalue)
        assert document["same_different"]["d_prime_differencing"] == pytest.approx(1.8850, abs=5e-5)

    def test_ties_and_sides_of_a_preference(self) -> None:
        given = ("tally", "preference", "--for-first", 8, "--trials", 12, "--ties", 2)
        assert json_of(*given)["p_value"] == pytest.approx(binomtest(8, 10).pvalue)
        assert json_of(*given, "--ties-policy", "split")["p_value"] == pytest.approx(binomtest(9, 12).pvalue)
        one_sided = json_of("tally", "preference", "--for-first", 9, "--trials", 12, "--one-sided")
        assert one_sided["p_value"] == pytest.approx(binomtest(9, 12, alternative="greater").pvalue)

    def test_a_panel_is_pooled_and_told_apart(self, tmp_path: Path) -> None:
        (tmp_path / "panel.csv").write_text("listener;correct;trials\nAda;15;16\nBo;7;16\nCy;9;16\n")
        document = json_of("tally", "abx", "--file", tmp_path / "panel.csv")
        assert document["p_value"] == pytest.approx(binomtest(31, 48, alternative="greater").pvalue)
        assert document["hear_it"]["at_least"] == 1
        text = run("tally", "abx", "--file", tmp_path / "panel.csv").stdout
        assert "Ada: 15 of 16" in text
        assert "of 3 listeners at least 1 hear it" in text

    def test_grades_and_choices_come_as_tables(self, tmp_path: Path) -> None:
        (tmp_path / "grades.csv").write_text("listener,object,reference\nAda,4.0,5\nAda,4.5,5\nAda,4.9,5\n")
        document = json_of("tally", "hidden-reference", "--file", tmp_path / "grades.csv")
        assert document["p_value"] == pytest.approx(1 / 8)  # three signs
        rows = [f"Ada,{item},{name},{grade}" for item in "ab" for name, grade in
                (("reference", 100), ("one", 80), ("two", 60), ("anchor 7 kHz", 40))]  # fmt: skip
        (tmp_path / "many.csv").write_text("listener,item,stimulus,grade\n" + "\n".join(rows))
        many = json_of("tally", "multi-stimulus", "--file", tmp_path / "many.csv")
        assert many["summaries"]["one"]["median"] == 80
        assert {pair["p_value"] for pair in many["pairs"]} == {0.5}  # two of four exchanges
        choices = ["Ada,x,y,x", "Ada,y,x,x", "Ada,x,z,x", "Ada,z,x,x", "Ada,y,z,y", "Ada,z,y,z"]
        (tmp_path / "choices.csv").write_text("listener,first,second,chosen\n" + "\n".join(choices))
        robin = json_of("tally", "round-robin", "--file", tmp_path / "choices.csv")
        assert robin["bradley_terry"]["shares"][0] > 0.6
        for name in ("grades", "many", "choices"):
            method = {"grades": "hidden-reference", "many": "multi-stimulus", "choices": "round-robin"}[name]
            assert run("tally", method, "--file", tmp_path / f"{name}.csv").returncode == 0

    def test_power_of_a_sequential_plan_is_exact(self) -> None:
        document = json_of("power", "abx", "--stopping", "sprt", "--trials", 800, "--proportion", 0.75)
        assert document["alpha_real"] == pytest.approx(1 - 0.9568, abs=1e-4)  # by enumeration, Wald's test to its end
        assert document["expected_trials_effect"] == pytest.approx(20.3, abs=0.05)

    def test_power_of_the_graded_methods(self) -> None:
        from math import pi

        from scipy.stats import nct, t

        document = json_of("power", "hidden-reference", "--trials", 10, "--effect", 0.8)
        # the t-test's power, to which the randomisation test comes near for normal grades
        near = nct.sf(t.ppf(0.95, 9), 9, 0.8 * 10**0.5)
        assert document["power"] == pytest.approx(near, abs=0.01 + 4 * document["power_error"])
        # the paired t-test needs 34 (from memory of printed tables); a test of medians up to pi/2 times as many
        needed = json_of("power", "multi-stimulus", "--effect", 0.5, "--setups", 2)["trials"]
        assert 34 <= needed <= 34 * pi / 2
        robin = [json_of("power", "round-robin", "--trials", trials)["power"] for trials in (24, 48, 120)]
        assert robin == sorted(robin)
        assert robin[-1] > 0.9

    @pytest.mark.parametrize(
        ("arguments", "says"),
        [
            (["tally", "hidden-reference"], "takes --file TABLE with the columns listener, reference, object"),
            (["tally", "hidden-reference", "--file", "none.csv"], "cannot read the table none.csv"),
            (["tally", "abx", "--correct", 3, "--trials", 16, "--ties", 2], "knows no ties"),
            (["tally", "same-different", "--hits", 3], "together"),
            (["tally", "triangle", "--correct", 3], "takes --correct K (not --for-first) and --trials N"),
            (["power", "abx", "--stopping", "sprt"], "needs its greatest number of trials"),
            (["power", "round-robin", "--trials", 10], "takes a multiple of 3 trials"),
            (["power", "hidden-reference", "--stopping", "sprt", "--trials", 9], "runs to its end"),
            (["power", "multi-stimulus", "--effect", 0], "above 0 and up to 5"),
        ],
    )
    def test_what_does_not_fit_gets_one_line(self, arguments: list[object], says: str) -> None:
        assert says in refused(*arguments)

    @pytest.mark.parametrize(
        ("text", "says"),
        [
            ("listener,reference\nAda,5\n", "lacks the column 'object'"),
            ("listener,reference,object\n", "has a header and no rows"),
            ("listener,reference,object\nAda,5,four\n", "line 2: 'four' under 'object' is no number"),
            ("listener,reference,object\nAda,5,\n", "line 2: nothing under 'object'"),
            ("listener,reference,object\nAda,5,4.25\n", "more than 1 decimals"),
        ],
    )
    def test_a_table_that_does_not_fit_gets_one_line(self, tmp_path: Path, text: str, says: str) -> None:
        (tmp_path / "table.csv").write_text(text)
        assert says in refused("tally", "hidden-reference", "--file", tmp_path / "table.csv")


def noise(seconds: float, channels: int = 2, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).normal(0, 0.05, (round(48_000 * seconds), channels))


@pytest.mark.parametrize(
    ("kind", "says"),
    [
        ("missing", "No such file"),
        ("empty", "empty"),
        ("text", "is not audio that can be read here"),
        ("cut short", "cut short"),
        ("corrupt", "corrupt"),
        ("not a number", "not a number (nan) at frame 77"),
        ("folder", "folder"),
    ],
)
def test_a_bad_file_gets_one_line_that_names_it(tmp_path: Path, kind: str, says: str) -> None:
    path = tmp_path / "take.flac" if kind == "corrupt" else tmp_path / "take.wav"
    if kind == "empty":
        path.write_bytes(b"")
    elif kind == "text":
        path.write_text("these are words and no sound " * 50)
    elif kind == "cut short":
        write(path, noise(1))
        path.write_bytes(path.read_bytes()[:100_000])
    elif kind == "corrupt":
        write(path, noise(1))
        data = bytearray(path.read_bytes())
        data[len(data) // 2 : len(data) // 2 + 4000] = b"\x55" * 4000
        path.write_bytes(data)
    elif kind == "not a number":
        import soundfile

        samples = noise(1)
        samples[77, 0] = np.nan
        soundfile.write(path, samples, 48_000, subtype="FLOAT")
    elif kind == "folder":
        path.mkdir()
    line = refused("loudness", path)
    assert str(path) in line
    assert says in line


def test_bad_passages_get_one_line_and_add_nothing(book: Path, tmp_path: Path) -> None:
    quiet = np.concatenate([np.zeros((96_000, 2)), noise(2)])
    for name in ("sallow", "bracken"):
        write(tmp_path / f"{name}.wav", quiet)
        json_of("track", "add", "half", "--file", f"{name}={tmp_path / name}.wav", folder=book)
    before = json_of("passage", "list", folder=book)
    cases = {
        ("half", 2, 2.2): "0.20 s long; choose at least 1 s",
        ("half", 0, 1.5): "is silent",
        ("half", 2.5, 9): "runs past the end",
        ("half", 9, 12): "runs past the end",
        ("half", -1, 2): "starts before the track",
        ("half", 3, 2): "ends after it starts",
        ("third", 0, 2): "no track called 'third'",
    }
    for (track, start, end), says in cases.items():
        assert says in refused("passage", "add", track, "--from", start, "--to", end, folder=book)
    assert json_of("passage", "list", folder=book) == before


def test_a_setup_that_lacks_a_track_is_named(book: Path, tmp_path: Path) -> None:
    json_of("track", "add", "solo", "--file", f"sallow={write(tmp_path / 'solo.wav', noise(3))}", folder=book)
    json_of("passage", "add", "solo", "--from", 0, "--to", 2, folder=book)
    assert "setup 'bracken' lacks the track 'solo'" in refused("match", "files", folder=book)


def test_tracks_that_are_not_the_same_music_are_refused(book: Path, rendered: Path) -> None:
    for name, piece in (("sallow", "strings"), ("bracken", "drums")):
        json_of("track", "add", "mixed", "--file", f"{name}={rendered / name / piece}.flac", folder=book)
    json_of("passage", "add", "mixed", "--from", 0, "--to", 3, folder=book)
    assert "do not play the same music" in refused("match", "files", "--passage", "mixed 1", folder=book)


def test_a_recording_changed_after_it_was_added_is_refused(book: Path, tmp_path: Path) -> None:
    for name in ("sallow", "bracken"):
        json_of("track", "add", "takes", "--file", f"{name}={write(tmp_path / f'{name}.wav', noise(3))}", folder=book)
    json_of("passage", "add", "takes", "--from", 0, "--to", 2, folder=book)
    json_of("match", "files", "--passage", "takes 1", folder=book)
    write(tmp_path / "bracken.wav", noise(3, seed=2))
    assert "was changed since it was added" in refused("match", "files", "--passage", "takes 1", folder=book)


def test_names_that_are_taken_or_unusable_are_refused(book: Path) -> None:
    assert "called 'sallow' is in this casebook already" in refused("setup", "add", "sallow", folder=book)
    assert "called 'drums' is in this casebook already" in refused("track", "add", "drums", folder=book)
    assert "cannot be a setup's name" in refused("setup", "add", "a=b", folder=book)
    assert "there is a casebook in" in refused("new", book)


@pytest.mark.parametrize(("after", "status"), [("2.020", 0), ("2.040", 1)])
def test_a_match_beyond_its_tolerance_answers_no(tmp_path: Path, after: str, status: int) -> None:
    """Read again with the trims on, one setup stands 0.09 dB above the other, or 0.17 dB; 0.1 dB is allowed."""
    book = tmp_path / "book"
    json_of("new", book)
    for name, route in (("sallow", "box:1,2"), ("bracken", "box:3,4")):
        json_of("setup", "add", name, "--route", route, folder=book)
    json_of("track", "add", "drums", "--music", tracks.path("drums"), folder=book)
    json_of("passage", "add", "drums", "--from", 1, "--to", 3, folder=book)
    readings = [f"{name}@1000={volts}" for name, volts in (("sallow", "2.500"), ("bracken", "2.000"))]
    match = ("match", "volts", "--reading", readings[0], "--reading", readings[1])
    match = (*match, "--after", f"sallow={after}", "--after", "bracken=2.000", "--tolerance", "0.1")
    document = json_of(*match, folder=book, status=status)
    assert document["residual_lu"] == pytest.approx(20 * np.log10(float(after) / 2.0))
    assert document["ok"] is (status == 0)
    done = run(*match, folder=book)
    assert done.returncode == status
    assert ("MORE THAN the tolerance of 0.1 dB" in done.stdout) == (status == 1)


def test_files_that_come_out_unequally_loud_answer_no(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Gains that come out wrong are found when the prepared files are measured again."""
    from audio import match

    monkeypatch.setattr(match, "gains_db", lambda levels, *_: {name: -2.0 - n for n, name in enumerate(levels)})
    monkeypatch.setattr("audio.prepare.MOST_PASSES", 0)
    document = json_of("match", "files", folder=book, status=1)
    assert document["ok"] is False
    assert document["residual_lu"] > 0.1
    assert "MORE THAN the tolerance of 0.1 LU" in run("match", "files", folder=book).stdout
    assert "out of range" in refused("match", "files", "--tolerance", "0", folder=book)


def test_giveaways_answer_no_and_are_mended(tmp_path: Path, rendered: Path) -> None:
    """A recording 7 ms late with turned polarity: laid in step as it came in, turned round on request, clean after."""
    book = tmp_path / "book"
    json_of("new", book)
    for name in ("sallow", "bracken"):
        shutil.copytree(rendered / name, tmp_path / name)
    late = reading.read(tmp_path / "bracken" / "drums.flac")
    samples = np.concatenate([np.zeros((336, 2)), -late.samples])[: late.frames]
    writing.write(tmp_path / "bracken" / "drums.flac", Clip(samples, 48_000))
    for name in ("sallow", "bracken"):
        json_of("setup", "add", name, "--from", tmp_path / name, folder=book)
    json_of("passage", "add", "drums", "--from", 0.5, "--to", 3.5, folder=book)
    json_of("match", "files", folder=book)
    found = json_of("giveaways", folder=book, status=1)["findings"]
    assert {finding["kind"] for finding in found} == {"polarity"}
    keys = {"kind", "setup", "passage", "measured", "limit", "unit", "source", "what"}
    assert all(keys <= set(finding) for finding in found)
    half = json_of("giveaways", "--mend", folder=book, status=1)
    assert half["mended"][0]["delay_s"] == pytest.approx(0.007, abs=0.00005)
    assert {finding["kind"] for finding in half["findings"]} == {"polarity"}
    whole = json_of("giveaways", "--mend", "--polarity", folder=book)
    assert whole["ok"] is True
    assert whole["mended"][0]["invert"] is True
    again = json_of("giveaways", "--mend", "--polarity", folder=book)
    assert (again["ok"], again["mended"]) == (True, [])


def test_a_command_without_a_casebook_says_how_to_start_one(tmp_path: Path) -> None:
    assert "earwitness new" in refused("verdict", folder=tmp_path)
    assert "earwitness new" in refused("--casebook", tmp_path / "none", "verdict")


def test_a_newer_casebook_is_refused(book: Path) -> None:
    import sqlite3

    with sqlite3.connect(book / "casebook.db") as connection:
        connection.execute("INSERT INTO _sqlite_migrations SELECT 99, migration_set, '9999_future', applied_at FROM "
                           "_sqlite_migrations LIMIT 1")  # fmt: skip
    connection.close()
    assert "newer earwitness" in refused("verdict", folder=book)


def test_listening_needs_a_terminal(book: Path) -> None:
    json_of("plan", "abx", "--listener", "Ada", "--name", "first", folder=book)
    json_of("seal", "first", folder=book)
    assert "needs a terminal" in refused("listen", "first", "--listener", "Ada", folder=book)
    assert "--hears P" in refused("rehearse", "first", folder=book)
    assert "out of range" in refused("rehearse", "first", "--hears", 1.5, folder=book)


def test_debug_shows_the_traceback(tmp_path: Path) -> None:
    assert run_alone("verdict", folder=tmp_path).stderr.count("\n") == 1
    done = run_alone("--debug", "verdict", folder=tmp_path)
    assert done.returncode == 2
    assert "Traceback" in done.stderr


def test_verify_answers_no_for_a_changed_record(book: Path) -> None:
    import sqlite3

    with sqlite3.connect(book / "casebook.db") as connection:
        connection.execute("DROP TRIGGER checks_keep_content")
        connection.execute("UPDATE checks SET document = '{}'")
    connection.close()
    document = json_of("verify", folder=book, status=1)
    assert document["ok"] is False
    assert len(document["broken"]) == 2


@pytest.mark.parametrize("option", [[], ["--preference"]])
def test_compare_takes_two_folders_to_a_sealed_plan(rendered: Path, tmp_path: Path, option: list[str]) -> None:
    for name in ("sallow", "bracken"):
        shutil.copytree(rendered / name, tmp_path / name)
    (tmp_path / "bracken" / "strings.flac").rename(tmp_path / "bracken" / "take nine.flac")
    write(tmp_path / "sallow" / "only here.wav", noise(3))
    done = json_of(
        "compare", "sallow", "bracken", "--listener", "Ada", "--yes", "--no-listen", *option, folder=tmp_path
    )
    assert done["casebook"] == "sallow-vs-bracken"
    assert {(pair["track"], pair["by"]) for pair in done["pairs"]} == {("drums", "name"), ("strings", "content")}
    assert [Path(path).name for path in done["left_over"]] == ["only here.wav"]
    assert done["match"]["ok"] is True
    assert len(done["seal"]) == 64
    json_of("rehearse", done["plan"], "--hears", 1, folder=tmp_path / done["casebook"])
    assert json_of("verdict", "--rehearsals", folder=tmp_path / done["casebook"])["plans"][0]["verdict"] == "heard"


def test_compare_refuses_before_it_makes_anything(rendered: Path, tmp_path: Path) -> None:
    (tmp_path / "none").mkdir()
    write(tmp_path / "a.wav", noise(3))
    shutil.copytree(rendered / "sallow", tmp_path / "sallow")
    (tmp_path / "other").mkdir()
    write(tmp_path / "other" / "b.wav", noise(4, seed=9))
    options = ("--yes", "--no-listen", "--listener", "Ada")
    assert "no audio files in" in refused("compare", "sallow", "none", *options, folder=tmp_path)
    assert "no folder" in refused("compare", "sallow", "nowhere", *options, folder=tmp_path)
    (tmp_path / "Größe").mkdir()
    assert "did you mean 'Größe'?" in refused("compare", "sallow", "Grösse", *options, folder=tmp_path)
    (tmp_path / "Größe").rmdir()
    assert "has a partner" in refused("compare", "sallow", "other", *options, folder=tmp_path)
    assert "name two folders" in refused("compare", "sallow", "sallow", *options, folder=tmp_path)
    assert "out of range" in refused("compare", "sallow", "other", "--trials", 0, *options, folder=tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.wav", "none", "other", "sallow"]


def test_clipping_is_found_in_the_file_even_after_its_mend(tmp_path: Path, rendered: Path) -> None:
    """A driven, late recording at another clock: the mend rounds its flat tops off, the file keeps them."""
    book = tmp_path / "book"
    json_of("new", book)
    for name in ("sallow", "bracken"):
        shutil.copytree(rendered / name, tmp_path / name)
    whole = reading.read(tmp_path / "bracken" / "strings.flac")
    driven = np.clip(whole.samples * 6 / np.abs(whole.samples).max(), -0.9, 0.9)
    late = np.concatenate([np.zeros((150, 2)), driven])[: whole.frames]
    places = np.arange(late.shape[0]) + 0.37
    between = np.stack([np.interp(places, np.arange(late.shape[0]), channel) for channel in late.T], axis=1)
    writing.write(tmp_path / "bracken" / "strings.flac", Clip(np.round(between, 3), 48_000), dither=False)
    for name in ("sallow", "bracken"):
        json_of("setup", "add", name, "--from", tmp_path / name, folder=book)
    json_of("passage", "add", "strings", "--from", 0.5, "--to", 3.5, folder=book)
    json_of("match", "files", folder=book)
    found = json_of("giveaways", "--mend", folder=book, status=1)
    kinds = {finding["kind"] for finding in found["findings"]}
    assert "clipping" in kinds
    assert kinds <= {"clipping", "dc"}  # music cut off unevenly has another mean
    assert found["mended"][0]["delay_s"] > 0.002
