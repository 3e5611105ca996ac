"""A viewers' page as a folder: one HTML file and a script for each sound. Nothing but the sounds depends on a key.

A page that is opened from a disk may read no other file but scripts and media, so that each sound lies in a script of
its own, as text; from any server it works the same. All there is besides is inside the HTML.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import ceil
from pathlib import Path
from string import Template
from typing import Any

from audio.clip import Clip
from audio.levels import loudness
from audio.levels.k_weighting import k_weighting

from .. import pages
from ..errors import ViewersError
from ..listening import browser_playback
from ..listening.browser_playback import FADE_S, PAUSE_S, START_RAMP_S
from ..plans import viewers_test
from ..plans.viewers_rows import SealedTest
from . import page_sounds
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
class Written:
    """A page that was written: its files and their size, and what one viewer loads of it."""

    index: Path
    files: int
    total_bytes: int
    viewer_bytes: int


def check_free(folder: Path) -> None:
    """Nothing, if a page can be written there.

    Raises
    ------
    ViewersError
        If something lies there already.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ViewersError(f"{folder} is not empty; name a new folder for the page")


def write(sealed: SealedTest, secret: bytes, sounds: Sounds, folder: Path, send: str = SEND) -> Written:
    """Write the page of a sealed test; the same test gives the same bytes.

    Raises
    ------
    ViewersError
        If something lies there, or the folder cannot be written.
    FileError
        If a sound cannot be given to a browser.
    """
    check_free(folder)
    test, sizes, crc32 = sealed.test, dict[str, int](), dict[str, int]()
    rate_hz = int(test.document["rate_hz"])
    try:
        (folder / SOUNDS).mkdir(parents=True)
        frames: dict[str, int] = {}
        for one in page_sounds.made(test, secret, sounds, rate_hz):
            text = f'earwitnessSound("{one.name}","{base64.b64encode(one.sound.body).decode()}");\n'
            (folder / SOUNDS / f"{one.name}.js").write_text(text, encoding="ascii")
            sizes[one.name], crc32[one.name], frames[one.name] = len(text), one.crc32, one.sound.frames
        told = _told(sealed, secret, sounds, rate_hz, frames, crc32, send)
        viewer = _viewer_bytes(told, sizes)
        html = _html(told | {"megabytes": ceil(viewer / 1e6)})
        (folder / INDEX).write_text(html, encoding="utf-8")
    except OSError as error:
        raise ViewersError(f"cannot write the page in {folder}: {error.strerror}; check the disk") from error
    return Written(folder / INDEX, len(sizes) + 1, sum(sizes.values()) + len(html.encode()), viewer)


def _told(
    sealed: SealedTest,
    secret: bytes,
    sounds: Sounds,
    rate_hz: int,
    frames: Mapping[str, int],
    crc32: Mapping[str, int],
    send: str,
) -> dict[str, Any]:
    """All that the page is told, in the order in which it stands there."""
    test = sealed.test

    def names(which: tuple[str, ...]) -> list[str]:
        return [viewers_test.file_name(secret, one) for one in which]

    slots: list[dict[str, Any]] = [
        {
            "passage": viewers_test.passage_of(test, secret, slot),
            "files": names(page_sounds.slot_files(test, secret, slot)),
        }
        for slot in range(1, test.trials + 1)
    ]
    lengths = {slot["passage"]: frames[slot["files"][0]] for slot in slots}
    given = [
        {
            "name": passage.name,
            "frames": lengths.get(place, 0),
            "channels": sounds[place].shape[2] if place in sounds else 0,
            "open": names(page_sounds.open_files(test, secret, place)) if place in sounds else [],
        }
        for place, passage in enumerate(test.passages)
    ]
    labels = [*test.answers, "X"] if test.method == "abx" else [*test.answers]
    return {
        "seal": sealed.seal,
        "tag": sealed.tag,
        "method": test.method,
        "question": test.question,
        "trials": test.trials,
        "labels": labels,
        "needed": ["X"] if test.method == "abx" else labels,
        "answers": CHOICES[test.method],
        "rate_hz": rate_hz,
        "pause": -int(-PAUSE_S * rate_hz // 1),
        "fade": round(FADE_S * rate_hz),
        "ramp": round(START_RAMP_S * rate_hz),
        "weighting": [list(map(float, one)) for one in k_weighting(rate_hz)],
        "tone": round(tone_gain(test, sounds), 3),
        "send": send,
        "passages": given,
        "slots": slots,
        "crc32": {name: crc32[name] for name in sorted(crc32)},
    }


def tone_gain(test: viewers_test.ViewersTest, sounds: Sounds) -> float:
    """How high the tone of the level check swings in each channel, so that on both it is as loud as the music.

    A tone of full scale on both channels reads 0 LUFS (BS.1770-5 near 1 kHz; at the tone's 500 Hz within 1 dB).
    """
    read = [
        loudness.integrated_lufs(Clip(sounds[place][0].astype(float), test.passages[place].rate_hz)) for place in sounds
    ]
    known = [one for one in read if one is not None]
    level = sum(known) / len(known) if known else USUAL_LUFS
    return float(min(0.25, 10 ** (level / 20)))


def _viewer_bytes(told: Mapping[str, Any], sizes: Mapping[str, int]) -> int:
    """What one viewer loads: A and B once, and of each slot one file in ABX and both in a preference."""
    of_slots = sum(sum(sizes[name] for name in slot["files"]) for slot in told["slots"])
    of_open = sum(sizes[name] for passage in told["passages"] for name in passage["open"])
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
            f"script-src 'self' file: '{_hash(script)}'",
            f"style-src '{_hash(style)}' 'unsafe-inline'",
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
