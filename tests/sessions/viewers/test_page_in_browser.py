"""A viewers' page in a real Chromium: from the disk and from a plain static server, by keyboard, by touch, for all."""

from __future__ import annotations

import base64
import functools
import http.server
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from audio.files import wav_bytes
from sessions.casebook.store import Casebook
from sessions.plans import answer_codes, viewers_test
from sessions.plans.answer_codes import Answered
from sessions.results import viewers_collecting as collecting
from sessions.viewers import making, page_folder, page_sounds
from tests.sessions.viewers.conftest import MadePage, seal_plan
from tests.sessions.viewers.test_page_folder import body_of

pytestmark = pytest.mark.browser
PHONE = {"width": 390, "height": 844}
SERIOUS = ("serious", "critical")
ANSWERS = (0, 1, 1, 0)


class Quiet(http.server.SimpleHTTPRequestHandler):
    """The standard library's static server, without its log."""

    def log_message(self, format: str, *args: object) -> None:
        pass


@contextmanager
def served(folder: Path, how: str) -> Iterator[str]:
    """The address of a page: on the disk, or at a plain static server."""
    if how == "disk":
        yield folder.as_uri()
        return
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(Quiet, directory=str(folder))) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()
        thread.join()


@dataclass
class Seen:
    """What a page asked for, and what went wrong in it."""

    asked: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)


@contextmanager
def opened(chromium: Browser, address: str, scheme: str = "light") -> Iterator[tuple[Page, Seen]]:
    context = chromium.new_context(viewport=PHONE, has_touch=True, reduced_motion="reduce", color_scheme=scheme)
    page, seen = context.new_page(), Seen()
    page.on("request", lambda request: seen.asked.append(request.url))
    page.on("pageerror", lambda error: seen.wrong.append(str(error)))
    page.on("console", lambda line: seen.wrong.append(line.text) if line.type == "error" else None)
    page.goto(f"{address}/index.html")
    yield page, seen
    assert seen.wrong == []
    assert context.cookies() == []
    assert page.evaluate("[localStorage.length, sessionStorage.length]") == [0, 0]
    context.close()


def screen(page: Page, name: str) -> None:
    expect(page.locator(f'[data-screen="{name}"]')).to_be_visible(timeout=20_000)


def accessible(page: Page) -> None:
    """No fault that keeps somebody out, by axe-core's rules; and nothing is wider than the screen."""
    found = Axe().run(page).response["violations"]
    assert [(one["id"], one["nodes"][0]["html"]) for one in found if one["impact"] in SERIOUS] == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    expect(page.locator("h1")).to_be_focused()


def by_touch(page: Page) -> None:
    screen(page, "welcome")
    accessible(page)
    page.get_by_role("button", name="Begin").tap()
    accessible(page)
    page.get_by_role("button", name="Headphones or earphones on a cable", exact=True).tap()
    accessible(page)
    page.get_by_role("button", name="Both sides").tap()
    expect(page.locator("#told")).to_have_text("A tone on both sides.")
    page.get_by_role("button", name="Left is left").tap()
    accessible(page)
    page.get_by_role("button", name="Begin with the first trial").tap()
    for number, answer in enumerate(ANSWERS, start=1):
        screen(page, "hear")
        expect(page.locator("#count")).to_have_text(f"trial {number} of 4")
        page.get_by_role("button", name="Answer").tap()
        expect(page.locator("#told")).to_have_text("Hear X before you answer.")
        for label in "AX":
            button = page.locator(".label", has_text=label)
            button.tap()
            expect(button).to_have_attribute("aria-pressed", "true")
        if number == 1:
            for target in page.locator("button:visible").all():
                box = target.bounding_box()
                assert box is not None
                assert min(box["width"], box["height"]) >= 44
            page.locator("h1").focus()
            accessible(page)
        page.get_by_role("button", name="Answer").tap()
        if number == 1:
            accessible(page)
        page.get_by_role("button", name=("X is A", "X is B")[answer]).tap()


def by_keyboard(page: Page) -> None:
    screen(page, "welcome")
    page.keyboard.press("Enter")
    screen(page, "device")
    for key in ("Tab", "Tab", "Enter"):
        page.keyboard.press(key)
    screen(page, "level")
    for key in ("l", "Tab", "Tab", "Tab", "Tab", "Tab", "Enter"):
        page.keyboard.press(key)
    screen(page, "begin")
    page.keyboard.press("Enter")
    for answer in ANSWERS:
        screen(page, "hear")
        page.keyboard.press("x")
        expect(page.locator(".label", has_text="X")).to_have_attribute("aria-pressed", "true")
        page.keyboard.press("Enter")
        screen(page, "answer")
        page.keyboard.press("ab"[answer])


@pytest.mark.parametrize("how", ["disk", "server"])
def test_a_whole_test_from_the_disk_and_from_a_server_ends_in_a_code_that_says_it(
    chromium: Browser, made_page: MadePage, how: str
) -> None:
    test = made_page.sealed.test
    with (
        served(made_page.folder, how) as address,
        opened(chromium, address, "dark" if how == "server" else "light") as (page, seen),
    ):
        (by_touch if how == "disk" else by_keyboard)(page)
        screen(page, "end")
        accessible(page)
        code = page.locator("#code").input_value()
        drawn = page.evaluate("[modules.viewer.state.turn, modules.viewer.state.files]")
    assert all(url.startswith(f"{address}/") for url in seen.asked)
    [told] = answer_codes.collect([code], test, made_page.sealed.tag).codes.values()
    files = sum(file << place for place, file in enumerate(drawn[1]))
    assert told == Answered(
        told.drawn, False, False, how == "server", 1 if how == "disk" else 2,
        viewers_test.order_of(4, drawn[0], files), ANSWERS,
    )  # fmt: skip
    # what was loaded is what the order says, and the other file of each slot never came
    slots = viewers_test.slots_of(test, told.order)
    played = {
        viewers_test.file_name(made_page.secret, page_sounds.slot_files(test, made_page.secret, slot)[file])
        for slot, file in slots
    }
    asked = {url.rsplit("/", 1)[1].removesuffix(".js") for url in seen.asked if url.endswith(".js")}
    openly = {viewers_test.file_name(made_page.secret, f"open|{m}|{p}") for m in (1, 2) for p in (0, 1)}
    assert asked == played | openly
    assert answer_codes.code(made_page.sealed.tag, 4, told) == code


def test_the_page_plays_its_sounds_to_the_bit_and_switches_at_the_same_place_in_the_music(
    chromium: Browser, made_page: MadePage
) -> None:
    test, secret = made_page.sealed.test, made_page.secret
    slot = 1
    passage = viewers_test.passage_of(test, secret, slot)
    names = [
        viewers_test.file_name(secret, one) for one in (f"open|{passage + 1}|0", f"slot|{slot}|0", f"slot|{slot}|1")
    ]
    switch, frames, fade = 3000, 8000, 80
    with served(made_page.folder, "disk") as address, opened(chromium, address) as (page, _):
        found = page.evaluate(
            """async ([names, frames, switchAt, fade]) => {
              const test = JSON.parse(document.getElementById("test").textContent);
              const bodies = await Promise.all(names.map(modules.sound_files.bytesOf));
              const own = test.passages[test.slots[0].passage];
              const trial = {rate_hz: test.rate_hz, frames: own.frames, channels: own.channels, pause: test.pause,
                fade, ramp: test.ramp, first: 0, end: own.frames, weighting: test.weighting};
              const context = new OfflineAudioContext(2, frames, test.rate_hz);
              const sound = new modules.trial_sound.TrialSound(context);
              sound.quiet = false;
              const read = await sound.load(trial, bodies);
              sound.play(0, 1000);
              sound.play(2, switchAt);
              const out = await context.startRendering();
              const text = (values) =>
                btoa(Array.from(new Uint8Array(values.buffer), (b) => String.fromCharCode(b)).join(""));
              return [read.map((one) => one.crc32), names.map((name) => test.crc32[name]),
                [0, 1].map((n) => text(out.getChannelData(n)))];
            }""",
            [names, frames, switch, fade],
        )
    assert found[0] == found[1]
    heard = np.stack([np.frombuffer(base64.b64decode(one), np.float32) for one in found[2]], axis=1)
    first, last = (
        wav_bytes.samples(body_of((made_page.folder / "sounds" / f"{name}.js").read_text("ascii"))).astype(np.float32)
        for name in (names[0], names[2])
    )
    np.testing.assert_array_equal(heard[:1000], 0)
    np.testing.assert_array_equal(heard[1000 + fade : switch], first[fade : switch - 1000])
    np.testing.assert_array_equal(heard[switch + 2 * fade :], last[switch + 2 * fade - 1000 : frames - 1000])
    assert np.max(np.abs(heard)) > 0.01


def test_a_disturbed_trial_comes_again_drawn_anew_and_the_code_says_so(chromium: Browser, made_page: MadePage) -> None:
    with served(made_page.folder, "disk") as address, opened(chromium, address) as (page, _):
        page.keyboard.press("Enter")
        page.get_by_role("button", name="Loudspeakers", exact=True).tap()
        page.get_by_role("button", name="They are exchanged").tap()
        page.get_by_role("button", name="Begin with").tap()
        for number in range(5):
            screen(page, "hear")
            page.locator(".label", has_text="X").tap()
            expect(page.locator(".label", has_text="X")).to_have_attribute("aria-pressed", "true")
            if number == 0:
                page.evaluate("modules.viewer.page.faults.stall('planted')")
                screen(page, "disturbed")
                accessible(page)
                page.keyboard.press("Enter")
                screen(page, "hear")
                expect(page.locator("#count")).to_have_text("trial 1 of 4")
                continue
            page.get_by_role("button", name="Answer").tap()
            page.get_by_role("button", name="X is B").tap()
        screen(page, "end")
        code = page.locator("#code").input_value()
    [told] = answer_codes.collect([code], made_page.sealed.test, made_page.sealed.tag).codes.values()
    assert (told.disturbed, told.sides, told.device, told.answers) == (True, True, 3, (1, 1, 1, 1))


def test_a_preference_counts_what_was_heard_as_the_one_chosen(
    chromium: Browser, casebook: Casebook, tmp_path: Path
) -> None:
    """Somebody who always chooses the first setup, told by the names of the files that play as 1 and 2."""
    seal_plan(casebook, "preference")
    ready = making.drawn_up(casebook, "evening", "page", 4, {"rate_hz": 8000})
    sealed = making.seal(casebook, ready)
    page_folder.write(sealed, ready.secret, ready.sounds, tmp_path / "page")
    slots = range(1, 5)
    first = [viewers_test.file_name(ready.secret, f"slot|{slot}|0") for slot in slots]
    with served(tmp_path / "page", "disk") as address, opened(chromium, address) as (page, _):
        page.keyboard.press("Enter")
        page.get_by_role("button", name="I would rather not say").tap()
        page.get_by_role("button", name="Left is left").tap()
        page.keyboard.press("Enter")
        for _number in slots:
            screen(page, "hear")
            for label in "12":
                page.keyboard.press(label)
                expect(page.locator(".label", has_text=label)).to_have_attribute("aria-pressed", "true")
            names = page.evaluate("modules.viewer.page.trial.names")
            page.keyboard.press("Enter")
            screen(page, "answer")
            page.keyboard.press("1" if names[0] in first else "2")
        screen(page, "end")
        code = page.locator("#code").input_value()
    found = collecting.result(ready.test, ready.secret, answer_codes.collect([code], ready.test, sealed.tag))
    assert (found.crowd.pooled.correct, found.crowd.pooled.trials) == (4, 4)


def test_every_viewer_draws_an_order_of_their_own_evenly(chromium: Browser, made_page: MadePage) -> None:
    with served(made_page.folder, "disk") as address, opened(chromium, address) as (page, _):
        drawn = page.evaluate(
            """Array.from({length: 4000}, () => {
              const { drawn, oneOf } = modules.answer_code;
              const files = Array.from({length: 4}, () => drawn(1));
              return 16 * oneOf(4) + files.reduce((all, one, n) => all + one * 2 ** n, 0);
            })"""
        )
    counts = np.bincount(drawn, minlength=64)
    assert len(counts) == 64
    chi_square = float(np.sum((counts - 62.5) ** 2 / 62.5))
    assert chi_square < 63 + 6 * np.sqrt(2 * 63)  # 6 standard deviations of chi-square with 63 degrees of freedom
