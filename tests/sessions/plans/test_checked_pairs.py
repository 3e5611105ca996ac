"""What a giveaway check found counts for the plans that play what it was found between, and for no others."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from audio.clip import Clip
from audio.files import reading, writing
from demo_tracks import tracks
from sessions.casebook.documents import Kept
from sessions.casebook.store import Casebook, open_casebook
from sessions.plans import checked_pairs
from sessions.plans.checked_pairs import PairChecks
from sessions.plans.evidence_in_force import CheckedFinding, CheckSummary
from sessions.preparation.check_note import Note
from tests.command_line import earwitness

LENGTH_S = 4.0
APART_MS = 0.08  # either way from the first setup: within the limit of 0.1 ms against it, beyond it between the two
PLANS = (("ash", "birch"), ("ash", "cedar"), ("birch", "cedar"))


def late(samples: np.ndarray, rate_hz: int, by_ms: float) -> np.ndarray:
    """The second channel later, by the phase of its spectrum."""
    turned = np.fft.rfft(samples[:, 1], 2 * len(samples))
    hz = np.fft.rfftfreq(2 * len(samples), 1 / rate_hz)
    moved = np.fft.irfft(turned * np.exp(-2j * np.pi * hz * by_ms / 1000))[: len(samples)]
    return np.column_stack([samples[:, 0], moved])


@pytest.fixture(scope="module")
def three(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three setups, checked: two within the limit of the first and not of each other; the first alone is exchanged."""
    home = tmp_path_factory.mktemp("three")
    for piece in ("drums", "strings"):
        whole = reading.read(tracks.path(piece))
        samples = 0.7 * whole.samples[: round(LENGTH_S * whole.rate_hz)]
        played = {
            "ash": samples if piece == "drums" else samples[:, ::-1],
            "birch": late(samples, whole.rate_hz, APART_MS) if piece == "drums" else samples,
            "cedar": late(samples, whole.rate_hz, -APART_MS) if piece == "drums" else samples,
        }
        for name, own in played.items():
            (home / name).mkdir(exist_ok=True)
            writing.write(home / name / f"{piece}.flac", Clip(own, whole.rate_hz), seed=1)
    book = home / "book"
    told(book.parent, "new", str(book))
    for name in ("ash", "birch", "cedar"):
        told(book, "setup", "add", name, "--from", str(home / name))
    told(book, "listener", "add", "Ada")
    for piece in ("drums", "strings"):
        told(book, "passage", "add", piece, "--from", "0:00", "--to", "0:04", "--name", piece)
    told(book, "match", "files")
    checked = earwitness(book, "giveaways", "--json")
    assert checked.returncode == 1
    (home / "checked.json").write_text(checked.stdout)
    return book


def findings(three: Path, passage: str) -> list[dict[str, Any]]:
    """What the check of all said of a passage."""
    checked = json.loads((three.parent / "checked.json").read_text())
    return [one for one in checked["findings"] if one["passage"] == passage]


@pytest.fixture
def book(three: Path, tmp_path: Path) -> Path:
    shutil.copytree(three, tmp_path / "book")
    return tmp_path / "book"


def told(folder: Path, *command: str) -> str:
    done = earwitness(folder, *command)
    assert done.returncode == 0, done
    return done.stdout


def planned(book: Path, setups: tuple[str, str], passage: str) -> str:
    name = f"{'-'.join(setups)} {passage}"
    own = ("--setup", setups[0], "--setup", setups[1], "--passage", passage, "--listener", "Ada", "--trials", "8")
    told(book, "plan", "abx", *own, "--name", name)
    return name


def test_two_setups_either_side_of_a_third_are_compared_with_each_other(three: Path, book: Path) -> None:
    """They were told as clean through seal, verdict and report: each was within the limit against the first."""
    (delay,) = findings(three, "drums")
    assert (delay["kind"], delay["setup"], delay["against"]) == ("channel-delay", "cedar", "birch")
    assert abs(delay["measured"]) == pytest.approx(2 * APART_MS, abs=0.005)
    assert "than in birch" in delay["what"]
    for setups in PLANS:
        name = planned(book, setups, "drums")
        sealed = earwitness(book, "seal", name, "--elsewhere")
        if setups == ("birch", "cedar"):
            assert sealed.returncode != 0
            assert "an open giveaway in drums: channel" in sealed.stderr
            told(book, "seal", name, "--elsewhere", "--anyway")
            told(book, "plan", "close", name, "--why", "a test", "--yes")
            assert "VOID" in told(book, "verdict", name)
        else:
            assert sealed.returncode == 0, sealed
    told(book, "report")
    page = (book / "report.html").read_text(encoding="utf-8")
    assert page.count("nothing beyond its limit") == 2
    assert "than in birch" in page


def test_the_check_after_a_mend_compares_every_pair_too(book: Path) -> None:
    """All are mended towards the first setup; what lies between two others then is looked for all the same."""
    done = earwitness(book, "giveaways", "--mend", "--passage", "drums", "--json")
    found = [one for one in json.loads(done.stdout)["findings"] if one["passage"] == "drums"]
    assert [(one["kind"], one["setup"], one["against"], one["mendable"]) for one in found] == [
        ("channel-delay", "cedar", "birch", False)
    ]
    assert "than in birch" in told(book, "plan", "show", planned(book, ("birch", "cedar"), "drums"))


def test_a_fault_of_a_setup_that_is_not_in_the_plan_does_not_void_it(three: Path, book: Path) -> None:
    """Each of the others was said to have its channels exchanged, and the plan between them to be void."""
    assert {(one["kind"], one["setup"], one["against"]) for one in findings(three, "strings")} == {
        ("channels", "birch", "ash"),
        ("channels", "cedar", "ash"),
    }
    for setups in PLANS:
        shown = told(book, "plan", "show", planned(book, setups, "strings"))
        assert ("VOID" in shown) is ("ash" in setups)
        assert ("ash" in shown) is ("ash" in setups)
    status = told(book, "status")
    assert "Next, draft ash-birch strings has what cannot be mended (channels)" in " ".join(status.split())
    assert "draft birch-cedar strings is not sealed" in status


def test_a_newer_check_of_two_setups_stands_in_status_instead_of_the_older_one(book: Path) -> None:
    with open_casebook(book) as casebook:
        clean = json.loads(casebook.query("SELECT document FROM checks")[0]["document"]) | {"ok": True, "findings": []}
        casebook.append("checks", "check", {"document": json.dumps(clean)})
    assert told(book, "passage", "list").count("none found") == 2
    assert earwitness(book, "giveaways", "--setup", "birch", "--setup", "cedar").returncode == 1
    stands = json.loads(told(book, "status", "--json"))["passages"]
    assert [(one["name"], one["check"], one["giveaways"]) for one in stands] == [
        ("drums", "found", 1),
        ("strings", "clean", 0),
    ]
    assert "1 FOUND" in told(book, "passage", "list")
    own = ("--setup", "ash", "--setup", "birch", "--setup", "cedar", "--passage", "drums", "--listener", "Ada")
    plan = json.loads(told(book, "plan", "round-robin", *own, "--trials", "6", "--name", "all", "--json"))
    assert len(plan["giveaways"]["checks"]) == 2
    assert [one["kind"] for one in plan["giveaways"]["open"]] == ["channel-delay"]


def test_a_check_of_other_files_than_are_played_does_not_count(book: Path) -> None:
    """Of setups matched by another measure, on a sheet of their own, other files are played."""
    own = ("--setup", "birch", "--setup", "cedar")
    told(book, "match", "files", "--rate", "44100", *own)
    assert earwitness(book, "giveaways").returncode == 1
    planned(book, ("birch", "cedar"), "strings")
    assert f"giveaways {' '.join(own)}" in told(book, "status").splitlines()[-1]
    assert "VOID: the passages were not checked" in told(book, "plan", "show", "birch-cedar strings")
    earwitness(book, "giveaways", *own)
    assert "VOID" not in told(book, "plan", "show", "birch-cedar strings")


def older(casebook: Casebook) -> None:
    """A check of all three as one was made before: the first against each other, and notes that are sentences alone."""
    check = json.loads(casebook.query("SELECT document FROM checks")[0]["document"])
    del check["every_pair"]
    check["notes"] = ["drums: between ash and birch width could not be judged"]
    check["findings"] = [
        {name: value for name, value in one.items() if name != "against"}
        for one in check["findings"]
        if one["against"] == "ash"
    ]
    casebook.append("checks", "check", {"document": json.dumps(check)})


def test_an_older_check_counts_for_pairs_with_its_first_setup_alone(book: Path) -> None:
    told(book, "match", "files")
    with open_casebook(book) as casebook:
        older(casebook)
    for setups in PLANS:
        shown = told(book, "plan", "show", planned(book, setups, "drums"))
        assert ("VOID: the passages were not checked" in shown) is (setups == ("birch", "cedar"))
        assert ("between ash and birch width" in shown) is (setups == ("ash", "birch"))
    assert "not checked" in told(book, "status")
    waiting = "draft birch-cedar drums is not checked for giveaways: earwitness --casebook "
    (line,) = (line for line in told(book, "status").splitlines() if waiting in line)
    assert line.endswith("giveaways --setup birch --setup cedar")


def kept(seq: int, check: CheckSummary) -> Kept[CheckSummary]:
    return Kept(check, seq, f"hash {seq}", "")


def test_the_newest_check_of_a_pair_wins_and_what_names_a_third_is_left_out(sealed: Casebook) -> None:
    names = {"a": "one", "b": "two", "c": "three"}
    found = tuple(
        CheckedFinding("onset", setup, "p", against=against) for setup, against in (("two", "one"), ("three", "two"))
    )
    alone = CheckedFinding("switching", "three", "p")
    wide = CheckSummary((*found, alone), ("a", "b", "c"), ("P",), (Note("x", "p", ("one", "three")),), every_pair=True)
    narrow = CheckSummary((), ("b", "c"), ("P",), (), every_pair=True)
    checks = PairChecks(sealed, (kept(9, narrow), kept(5, wide)), {})

    def between(*setups: str, after: int = 0) -> checked_pairs.Checked:
        return checks.between(("P", "p"), {each: names[each] for each in setups}, None, after)

    assert between("a", "b").found == found[:1]
    assert between("b", "c").found == ()
    assert between("a", "c").found == (alone,)
    assert between("a", "b", "c").found == (found[0], alone)
    assert between("a", "b", "c").hashes == ("hash 9", "hash 5")
    assert between("a", "c").notes == ("x",)
    assert between("a", "b").notes == ()
    assert set(between("a", "b", "c", after=5).open) == {frozenset("ab"), frozenset("ac")}


def test_notes_of_older_checks_are_those_about_a_pair() -> None:
    notes = (
        "p: between one and two width could not be judged",
        "p: between one and three width could not be judged",
        "q: between one and two width could not be judged",
        "passage p holds single tones",
        "p: two hold sound above 20 kHz, one not",
    )
    assert checked_pairs.about(notes, "p", [frozenset(["one", "two"])]) == [notes[0], *notes[3:]]
    assert checked_pairs.about(notes, "p", [frozenset(["three", "two"])]) == [notes[3], notes[4]]
    assert checked_pairs.about(notes, "p", [frozenset(["four", "five"])]) == [notes[3]]
