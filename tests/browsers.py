"""A phone in a real Chromium, and what tests look at on it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Literal

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect, sync_playwright

from sessions.casebook.store import open_casebook

FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
PHONE = {"width": 390, "height": 844}
SERIOUS = ("serious", "critical")


@contextmanager
def launched() -> Iterator[Browser]:
    """Debian's Chromium with a fresh profile."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
        yield browser
        browser.close()


@contextmanager
def phone(chromium: Browser) -> Iterator[Page]:
    context = chromium.new_context(viewport=PHONE, has_touch=True, reduced_motion="reduce")
    opened, wrong = context.new_page(), list[str]()
    opened.on("pageerror", lambda error: wrong.append(str(error)))
    opened.on("console", lambda line: wrong.append(line.text) if "Content Security" in line.text else None)
    yield opened
    context.close()
    assert wrong == []


def rows(folder: Path, sql: str) -> list[dict[str, Any]]:
    with open_casebook(folder) as casebook:
        return casebook.query(sql)


def screen(page: Page, name: str) -> None:
    expect(page.locator(f'[data-screen="{name}"]')).to_be_visible()


def press(page: Page, *keys: str) -> None:
    for key in keys:
        page.keyboard.press(key)


_TELLS_BY_WHAT = """
addEventListener("keydown", (event) => event.isTrusted && usedHere("keyboard"), true);
addEventListener("pointerdown", (event) => event.isTrusted && usedHere(event.pointerType), true);
"""


@contextmanager
def only_by(way: Literal["touch", "keyboard"], page: Page) -> Iterator[None]:
    """Everything on pages that are opened from now on is done that way, as the browser itself tells."""
    used = set[str]()
    page.expose_function("usedHere", lambda how: used.add(how))
    page.add_init_script(_TELLS_BY_WHAT)
    yield
    assert used == {way}


def accessible(page: Page) -> None:
    """No fault that keeps somebody out, by axe-core's rules."""
    found = Axe().run(page).response["violations"]
    told = [(one["id"], one["nodes"][0]["html"]) for one in found if one["impact"] in SERIOUS]
    assert told == []
