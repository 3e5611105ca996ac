"""What will play a plan is asked before it is sealed: its rate, its channels, its switch."""

from __future__ import annotations

import json
import shlex
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy.signal
import soundfile

from audio.engine import devices
from audio.engine.devices import NO_DEVICE, Playable
from audio.errors import DeviceError, NoDeviceError
from audio.files import reading
from sessions.casebook import catalogue, passages
from sessions.casebook.catalogue import Track
from sessions.casebook.store import create, open_casebook
from sessions.commands.asked_device import NOT_ASKED, check_sealed
from sessions.plans import seals
from sessions.preparation import giveaway_check, match_files, recording_folder
from sessions.preparation.selection import select
from tests.command_line import Done, earwitness
from tests.jack import Server

CD_HZ, LENGTH_S = 44_100, 3.0


@pytest.fixture(scope="module")
def folders(rendered: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Two folders of recordings at 44.1 kHz."""
    home = tmp_path_factory.mktemp("cd")
    for name in ("sallow", "bracken"):
        (home / name).mkdir()
        clip = reading.read(rendered / name / "drums.flac")
        samples = scipy.signal.resample_poly(clip.samples, 147, 160)[: round(LENGTH_S * CD_HZ)]
        soundfile.write(home / name / "drums.wav", samples, CD_HZ, subtype="PCM_24")
    return home / "sallow", home / "bracken"


@pytest.fixture
def book(folders: tuple[Path, Path], tmp_path: Path) -> Path:
    """Both matched and checked, at 44.1 kHz."""
    with create(tmp_path / "book") as casebook:
        for folder in folders:
            recording_folder.add_folder(casebook, catalogue.add_setup(casebook, folder.name), folder)
        (track,) = catalogue.everything(casebook, Track)
        passages.add(casebook, track, 0, round(LENGTH_S * CD_HZ), CD_HZ, "drums 1")
        selection = select(casebook, [], [])
        match_files.make_match_sheet(casebook, selection)
        giveaway_check.check(casebook, selection)
    return tmp_path / "book"


class Box:
    """A device by hand: its name, its channels and the rates it takes; None: there is no device at all."""

    def __init__(self, outputs: int, *rates_hz: int) -> None:
        self.outputs, self.rates_hz = outputs, frozenset(rates_hz)

    def __call__(self, name: str | None, channels: int, rates_hz: Sequence[int] = ()) -> Playable:
        if not self.outputs:
            raise NoDeviceError(NO_DEVICE)
        if name not in (None, "box"):
            raise DeviceError(f"no sound device called {name!r}; there are: box")
        if channels > self.outputs:
            raise DeviceError(f"box has {self.outputs} output channels, but {channels} are needed; name another device")
        return Playable("box", self.rates_hz)


def plays(monkeypatch: pytest.MonkeyPatch, outputs: int, *rates_hz: int) -> None:
    monkeypatch.setattr(devices, "playable", Box(outputs, *rates_hz))


def planned(book: Path, *more: str) -> Done:
    return earwitness(book, "plan", "abx", "--name", "evening", "--listener", "Ada", *more)


def prepared(book: Path) -> dict[str, tuple[int, int]]:
    """Rate and frames of what the plan plays, by setup, as libsndfile says."""
    with open_casebook(book) as casebook:
        (passage,) = seals.sealed_plan(casebook, "evening").plan.passages
        files = {one.id: one.name for one in catalogue.everything(casebook, catalogue.Setup)}
        found = {files[own]: soundfile.info(casebook.prepared / name) for own, name in passage.files.items()}
    return {name: (info.samplerate, info.frames) for name, info in found.items()}


def test_files_are_prepared_again_at_the_rate_of_the_device_for_all_setups(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plays(monkeypatch, 2, 48_000, 96_000)
    said = planned(book).stdout
    assert "all setups were prepared again at 48000 Hz, in the same way" in said
    assert "does not play 44100 Hz (it takes: 48000, 96000)" in said
    assert "VOID" not in said
    assert earwitness(book, "seal", "evening").returncode == 0
    frames = round(LENGTH_S * 48_000)
    assert prepared(book) == {"sallow": (48_000, frames), "bracken": (48_000, frames)}
    missing = next((book / "prepared").glob("*.wav"))
    with open_casebook(book) as casebook:
        (passage,) = seals.sealed_plan(casebook, "evening").plan.passages
        missing = casebook.prepared / next(iter(passage.files.values()))
    missing.unlink()
    told = json.loads(earwitness(book, "status", "--json").stdout)["next"]
    assert told.endswith("match files --rate 48000")  # the same to the bit only at that rate
    assert earwitness(book, "match", "files", "--rate", "48000").returncode == 0
    assert missing.is_file()


def test_matching_again_keeps_the_rate_that_was_chosen_for_the_device(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plays(monkeypatch, 2, 48_000)
    planned(book)
    again = earwitness(book, "match", "files")
    assert "Prepared at 48000 Hz, the rate chosen before for these setups; for another one: --rate HZ" in again.stdout
    rates = {
        one["prepared"]["rate_hz"]
        for one in json.loads(earwitness(book, "match", "files", "--json").stdout)["passages"]
    }
    assert rates == {48_000}
    own = json.loads(earwitness(book, "match", "files", "--rate", "44100", "--json").stdout)
    assert {one["prepared"]["rate_hz"] for one in own["passages"]} == {44_100}
    assert "the rate chosen before" not in earwitness(book, "match", "files").stdout


def test_what_is_prepared_again_is_what_another_resampler_makes_of_it(
    book: Path, folders: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    plays(monkeypatch, 2, 48_000)
    planned(book)
    assert earwitness(book, "seal", "evening").returncode == 0
    with open_casebook(book) as casebook:
        (passage,) = seals.sealed_plan(casebook, "evening").plan.passages
        sallow = catalogue.find(casebook, catalogue.Setup, "sallow")
        played, _ = soundfile.read(casebook.prepared / passage.files[sallow.id])
    recorded, _ = soundfile.read(folders[0] / "drums.wav")
    inside = np.hanning(len(played))[:, None] ** 2  # without the fades
    up_to = round(18_000 * LENGTH_S)  # both keep all of it there
    one = np.fft.rfft(inside * played, axis=0)[:up_to]
    other = np.fft.rfft(inside * scipy.signal.resample(recorded, len(played)), axis=0)[:up_to]
    gain = np.vdot(other, one) / np.vdot(other, other)
    assert abs(gain.imag) < 1e-4
    left_db = 20 * np.log10(np.linalg.norm(one - gain * other) / np.linalg.norm(one))
    assert left_db < -80


@pytest.mark.parametrize(
    ("outputs", "rates_hz", "more", "says"),
    [
        (
            2,
            (48_000,),
            (),
            "to prepare it at a rate that it takes: earwitness --casebook {book} match files --rate 48000",
        ),
        (1, (44_100,), (), "box has 1 output channels, but 2 are needed"),
        (2, (44_100,), ("--device", "kitchen"), "no sound device called 'kitchen'; there are: box"),
    ],
)
def test_what_cannot_be_played_is_not_sealed_but_for_another_machine(
    book: Path,
    monkeypatch: pytest.MonkeyPatch,
    outputs: int,
    rates_hz: tuple[int, ...],
    more: tuple[str, ...],
    says: str,
) -> None:
    plays(monkeypatch, 2, 44_100)
    assert "played here" not in planned(book).stdout
    plays(monkeypatch, outputs, *rates_hz)
    refused = earwitness(book, "seal", "evening", *more)
    assert refused.returncode == 2
    assert refused.stderr.count("\n") == 1
    assert "plan 'evening' is not sealed, since it cannot be played here" in refused.stderr
    assert says.format(book=book) in refused.stderr
    assert refused.stderr.strip().endswith(f"earwitness --casebook {book} seal evening --elsewhere")
    assert earwitness(book, "seal", "evening", "--elsewhere").returncode == 0


def test_a_plan_says_at_once_what_its_device_lacks(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plays(monkeypatch, 1, 44_100)
    assert "It cannot be played here: box has 1 output channels, but 2 are needed" in planned(book).stdout


def test_without_any_device_all_goes_on_with_one_line(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plays(monkeypatch, 0)
    assert planned(book).stdout.count(NOT_ASKED) == 1
    done = earwitness(book, "seal", "evening", "--json")
    assert done.returncode == 0
    assert done.stderr.count(NOT_ASKED) == 1
    assert len(json.loads(done.stdout)["seal"]) == 64


def test_compare_seals_at_the_rate_of_its_device_or_keeps_the_draft(
    folders: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = tmp_path / "book"

    def compared() -> Done:
        names = map(str, folders)
        return earwitness(book, "compare", *names, "--listener", "Ada", "--no-listen", "--yes", "--trials", "8")

    plays(monkeypatch, 1, 48_000)
    refused = compared()
    assert refused.returncode == 2
    assert refused.stderr.strip().endswith(f"earwitness --casebook {book} seal abx-1 --elsewhere")
    assert "not sealed; the draft abx-1 is kept. It cannot be played here: box has 1 output" in refused.stderr
    plays(monkeypatch, 2, 48_000)
    done = compared()
    assert done.returncode == 0, done.stderr
    assert "all setups were prepared again at 48000 Hz" in done.stdout
    with open_casebook(book) as casebook:
        (passage,) = seals.sealed_plan(casebook, "abx-1").plan.passages
    assert passage.rate_hz == 48_000


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--route", "box:1,2"], "Device: box is there, with these channels."),
        (["--route", "box:3,4"], "Device: NOT READY: box has 2 output channels, but 4 are needed"),
        (["--route", "cellar:1,2"], "Device: NOT READY: no sound device called 'cellar'; there are: box"),
        (["--switched", "command", "--do", f"{sys.executable} -c 1"], "Switch: what works it is there; it was not"),
        (
            ["--switched", "command", "--do", "no-such-relay 1"],
            "Switch: NOT READY: the switch's command 'no-such-relay'",
        ),
        (
            ["--switched", "serial", "--do", "A0", "--port", "/dev/no-such"],
            "Switch: NOT READY: the switch's serial port",
        ),
    ],
)
def test_gear_is_asked_as_it_is_added(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: list[str], says: str
) -> None:
    plays(monkeypatch, 2, 48_000)
    assert earwitness(tmp_path / "book", "new", str(tmp_path / "book")).returncode == 0
    done = earwitness(tmp_path / "book", "setup", "add", "gear", *words)
    assert done.returncode == 0
    assert says in done.stdout
    plays(monkeypatch, 0)
    other = earwitness(tmp_path / "book", "setup", "add", "other", "--route", "box:1,2", "--json")
    document: dict[str, Any] = json.loads(other.stdout)
    assert document["checked"][0].startswith("Device: not checked, since no sound device is here now")


@pytest.mark.jack
def test_a_server_of_one_rate_has_the_files_prepared_at_its_rate(book: Path, server: Server) -> None:
    said = planned(book).stdout
    assert "all setups were prepared again at 48000 Hz" in said
    assert earwitness(book, "seal", "evening").returncode == 0
    added = earwitness(book, "setup", "add", "far", "--route", "system:9,10").stdout
    assert "NOT READY" in added
    assert "output channels, but 10 are needed" in added


def test_a_sealed_plan_of_a_rate_that_the_device_refuses_names_the_way_out_as_commands(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plays(monkeypatch, 0)  # sealed where there was no device
    planned(book, "--trials", "8")
    assert earwitness(book, "seal", "evening").returncode == 0
    plays(monkeypatch, 2, 48_000)
    with open_casebook(book) as casebook, pytest.raises(DeviceError) as refused:
        check_sealed(seals.sealed_plan(casebook, "evening").plan, None, "earwitness")
    says = str(refused.value)
    assert "does not play 44100 Hz (it takes: 48000); set the device to 44100 Hz" in says
    close = "earwitness plan close evening --why 'the device does not play 44100 Hz'"
    again = "earwitness plan abx --setup sallow --setup bracken --listener Ada --trials 8"
    assert close in says
    assert says.endswith(again)
    told = earwitness(book, "status").stdout
    assert "does not play 44100 Hz" in told.split("Next, ")[1]
    assert close.removeprefix("earwitness ") in told.split("Next, ")[1]
    for command in (f"{close} --yes", again):  # nobody is at the keyboard to be asked
        assert earwitness(book, *shlex.split(command)[1:]).returncode == 0
    assert "cannot be heard as it is" not in earwitness(book, "status").stdout
    assert earwitness(book, "seal", "abx-1").returncode == 0
