"""A viewers' page as a folder: one HTML file and a script for each sound. Nothing but the sounds depends on a key.

A page that is opened from a disk may read no other file but scripts and media, so that each sound lies in a script of
its own, as text; from any server it works the same. All there is besides is inside the HTML.
"""

from __future__ import annotations

import base64
import hashlib
import json
import shutil
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from math import ceil
from pathlib import Path
from shlex import quote
from string import Template
from typing import Any

from audio.clip import Clip
from audio.levels import loudness

from .. import pages
from ..casebook.store import Casebook
from ..errors import ViewersError
from ..listening import browser_playback
from ..listening.browser_playback import PageTimes
from ..plans import viewers_test
from ..plans.viewers_rows import SealedTest
from ..plans.viewers_test import ViewersTest
from . import making, page_sounds
from .classic_script import bundled
from .page_sounds import Sounds

OWN = Path(__file__).parent / "page"
NOTEBOOK = Path(pages.__file__).parent / "static"
MODULES = (Path(browser_playback.__file__).parent / "browser", NOTEBOOK, OWN)
SOUNDS = "sounds"
INDEX = "index.html"
USUAL_LUFS = -23.0  # of the tone, where the music has no loudness of its own (EBU R 128's)
SEND = "Paste it where whoever made this test asked for it: a comment, a form or a message."
CHOICES = {
    "abx": (("A", "X is A"), ("B", "X is B")),
    "preference": (("1", "The first"), ("2", "The second")),
}


@dataclass(frozen=True)
class WrittenSound:
    """A sound that was written: the size of its script, the checksum and the number of its samples."""

    size_bytes: int
    crc32: int
    frames: int


WrittenSounds = Mapping[str, WrittenSound]
"""The sounds that were written, by their names."""


@dataclass(frozen=True)
class Written:
    """A page that was written: its files and their size, and what one viewer loads of it."""

    index: Path
    files: int
    total_bytes: int
    viewer_bytes: int


@dataclass(frozen=True)
class Made:
    """A page that was sealed and written."""

    sealed: SealedTest
    written: Written


def check_free(folder: Path) -> None:
    """Nothing, if a page can be written there.

    Raises
    ------
    ViewersError
        If something lies there already.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ViewersError(f"{folder} is not empty; name a new folder for the page")


def make(casebook: Casebook, plan: str, trials: int, rate_hz: int, folder: Path, send: str = SEND) -> Made:
    """Draw up a page of a sealed plan, write it and seal it: its sounds come before the seal, which needs them whole.

    Raises as `making.drawn_up` and the two parts below do.
    """
    ready = making.drawn_up(casebook, plan, "page", trials, {"rate_hz": rate_hz})
    parts = write_sounds(ready.test, ready.secret, ready.sounds, folder)
    sealed = making.seal(casebook, ready)
    return Made(sealed, write_index(sealed, ready.secret, ready.sounds, parts, folder, send))


def write_sounds(test: ViewersTest, secret: bytes, sounds: Sounds, folder: Path) -> WrittenSounds:
    """Write the sounds of a test, which need no seal yet; where that fails nothing of them stays.

    Raises
    ------
    ViewersError
        If something lies there, or the folder cannot be written.
    FileError
        If a sound cannot be given to a browser.
    """
    check_free(folder)
    rate_hz, home = int(test.document["rate_hz"]), folder / SOUNDS
    found = dict[str, WrittenSound]()
    try:
        home.mkdir(parents=True)
        for one in page_sounds.made(test, secret, sounds, rate_hz):
            text = f'earwitnessSound("{one.name}","{base64.b64encode(one.sound.body).decode()}");\n'
            (home / f"{one.name}.js").write_text(text, encoding="ascii", newline="\n")
            found[one.name] = WrittenSound(len(text), one.crc32, one.sound.frames)
    except OSError as error:
        shutil.rmtree(home, ignore_errors=True)
        raise ViewersError(f"cannot write the page in {folder}: {error.strerror}; check the disk") from error
    except BaseException:
        shutil.rmtree(home, ignore_errors=True)
        raise
    return found


def write_index(
    sealed: SealedTest, secret: bytes, sounds: Sounds, written: WrittenSounds, folder: Path, send: str = SEND
) -> Written:
    """Write the page itself, beside its sounds.

    Raises
    ------
    ViewersError
        If it cannot be written.
    """
    told = _told(sealed, secret, sounds, written, send)
    viewer = _viewer_bytes(told, written)
    html = _html(told | {"megabytes": ceil(viewer / 1e6)})
    try:
        (folder / INDEX).write_text(html, encoding="utf-8", newline="\n")
    except OSError as error:
        raise ViewersError(
            f"cannot write the page in {folder}: {error.strerror}; its test is sealed: write it again into another "
            f"folder: earwitness viewers page {quote(sealed.test.plan_name)} FOLDER --test {sealed.test.id}"
        ) from error
    whole = sum(one.size_bytes for one in written.values()) + len(html.encode())
    return Written(folder / INDEX, len(written) + 1, whole, viewer)


def write(sealed: SealedTest, secret: bytes, sounds: Sounds, folder: Path, send: str = SEND) -> Written:
    """Write the whole page of a sealed test; the same test gives the same bytes. Raises as its two parts do."""
    written = write_sounds(sealed.test, secret, sounds, folder)
    return write_index(sealed, secret, sounds, written, folder, send)


def _told(sealed: SealedTest, secret: bytes, sounds: Sounds, written: WrittenSounds, send: str) -> dict[str, Any]:
    """All that the page is told, in the order in which it stands there."""
    test = sealed.test
    rate_hz = int(test.document["rate_hz"])

    def names(which: tuple[str, ...]) -> list[str]:
        return [viewers_test.file_name(secret, one) for one in which]

    slots: list[dict[str, Any]] = [
        {
            "passage": viewers_test.passage_of(test, secret, slot),
            "files": names(page_sounds.slot_files(test, secret, slot)),
        }
        for slot in range(1, test.trials + 1)
    ]
    lengths = {slot["passage"]: written[slot["files"][0]].frames for slot in slots}
    given = [
        {
            "name": passage.name,
            "frames": lengths.get(place, 0),
            "channels": sounds[place].shape[2] if place in sounds else 0,
            "open": names(page_sounds.open_files(test, place)) if place in sounds else [],
        }
        for place, passage in enumerate(test.passages)
    ]
    return {
        "seal": sealed.seal,
        "tag": sealed.tag,
        "method": test.method,
        "question": test.question,
        "trials": test.trials,
        "labels": test.labels,
        "needed": ["X"] if test.method == "abx" else test.labels,
        "answers": CHOICES[test.method],
        "rate_hz": rate_hz,
        **asdict(PageTimes.at(rate_hz)),
        "tone": round(tone_gain(test, sounds), 3),
        "send": send,
        "passages": given,
        "slots": slots,
        "crc32": {name: written[name].crc32 for name in sorted(written)},
    }


def tone_gain(test: ViewersTest, sounds: Sounds) -> float:
    """How high the tone of the level check swings in each channel, so that on both it is as loud as the music.

    A tone of full scale on both channels reads 0 LUFS (BS.1770-5 near 1 kHz; at the tone's 500 Hz within 1 dB).
    """
    read = [
        loudness.integrated_lufs(Clip(sounds[place][0].astype(float), test.passages[place].rate_hz)) for place in sounds
    ]
    known = [one for one in read if one is not None]
    level = sum(known) / len(known) if known else USUAL_LUFS
    return float(min(0.25, 10 ** (level / 20)))


def _viewer_bytes(told: Mapping[str, Any], written: WrittenSounds) -> int:
    """What one viewer loads: A and B once, and of each slot one file in ABX and both in a preference."""
    of_slots = sum(sum(written[name].size_bytes for name in slot["files"]) for slot in told["slots"])
    of_open = sum(written[name].size_bytes for passage in told["passages"] for name in passage["open"])
    return of_open + (of_slots // 2 if told["method"] == "abx" else of_slots)


def _html(told: Mapping[str, Any]) -> str:
    style = "".join(
        (folder / name).read_text("utf-8") for folder, name in ((NOTEBOOK, "notebook.css"), (OWN, "viewer.css"))
    )
    script = bundled(dict(_modules()), "viewer")
    test = json.dumps(told, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")
    policy = "; ".join(
        [
            "default-src 'none'",
            f"script-src 'self' '{_hash(script)}'",
            f"style-src '{_hash(style)}'",
            "base-uri 'none'",
            "form-action 'none'",
        ]
    )
    frame = Template((OWN / "frame.html").read_text("utf-8"))
    return frame.substitute(policy=policy, style=style, script=script, test=test)


def _modules() -> Iterator[tuple[str, str]]:
    for folder in MODULES:
        for path in sorted(folder.glob("*.js")):
            yield path.stem, path.read_text("utf-8")


def _hash(text: str) -> str:
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}"
