"""A page in a real Chromium with the sound modules loaded, on an address that is no secure context, as on a local
network. Nothing is served: the browser gets the modules from here."""

from __future__ import annotations

import base64
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
from numpy.typing import NDArray
from playwright.sync_api import Page, Route, sync_playwright

from sessions.listening import browser_playback
from sessions.listening.browser_records import BrowserTrial

MODULES = Path(browser_playback.__file__).parent / "browser"
ADDRESS = "http://sound.example/"
# fmt: off
FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]
# fmt: on
Samples = NDArray[np.float32]

_PREPARE = """async (names) => {
  for (const name of names) Object.assign(window, await import("/" + name + ".js"));
  window.bytesOf = (text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer;
  window.textOf = (values) => {
    const bytes = new Uint8Array(values.buffer, values.byteOffset, values.byteLength);
    let text = "";
    for (let i = 0; i < bytes.length; i += 32768) text += String.fromCharCode(...bytes.subarray(i, i + 32768));
    return btoa(text);
  };
  window.channelsOf = (sound) =>
    Array.from({length: sound.numberOfChannels}, (_, n) => textOf(sound.getChannelData(n)));
  window.decodedAt = async (rate, bodies) => {
    const context = new OfflineAudioContext(1, 1, rate);
    return Promise.all(bodies.map((body) => context.decodeAudioData(bytesOf(body))));
  };
  window.played = async (trial, bodies, frames, requests, channels = 2) => {
    const context = new OfflineAudioContext(channels, frames, trial.rate_hz);
    const sound = new TrialSound(context);
    sound.quiet = false;
    sound.take(trial, await decodedAt(trial.rate_hz, bodies));
    const done = requests.map(([name, ...args]) => sound[name](...args));
    const out = await context.startRendering();
    return {out: channelsOf(out), done, heard: sound.auditions(frames)};
  };
}"""


@contextmanager
def opened() -> Iterator[Page]:
    """The page; one browser for all that is done with it."""
    with TemporaryDirectory() as profile, sync_playwright() as playwright:
        browser = playwright.chromium.launch_persistent_context(
            profile, executable_path="/usr/bin/chromium", headless=True, args=FLAGS
        )
        page = browser.new_page()
        page.route("**/*", _answer)
        page.goto(ADDRESS)
        page.evaluate(_PREPARE, [path.stem for path in sorted(MODULES.glob("*.js"))])
        yield page
        browser.close()


def _answer(route: Route) -> None:
    name = route.request.url.removeprefix(ADDRESS)
    if name.endswith(".js"):
        route.fulfill(path=MODULES / name, content_type="text/javascript")
    else:
        route.fulfill(body="<!doctype html><title>Sound</title><button>Start</button>", content_type="text/html")


def text_of(body: bytes) -> str:
    """Bytes as the page takes them."""
    return base64.b64encode(body).decode()


def samples_of(channels: Sequence[str]) -> Samples:
    """What the page gives of a sound; shape (frames, channels)."""
    return np.stack([np.frombuffer(base64.b64decode(one), np.float32) for one in channels], axis=1)


def plain(trial: BrowserTrial) -> dict[str, Any]:
    """A trial as the page takes it."""
    return asdict(trial)
