"""Every screen of the chair page that its own tests do not come by, looked at with axe-core in a real Chromium."""

from __future__ import annotations

import json
from typing import Any

import pytest
from playwright.sync_api import Page, Route, expect

from sessions.casebook.store import Casebook
from sessions.chair.for_listeners import HOST
from tests.answered_plans import sealed_plan
from tests.browsers import accessible, press, screen
from tests.pages import served

pytestmark = pytest.mark.browser
expect.set_options(timeout=20_000)
SHOWN: list[tuple[str, dict[str, Any], str]] = [
    ("line", {"asking": "line", "before": 2}, "2 before you in line."),
    ("away", {"asking": "away", "message": HOST}, HOST),
    ("coming", {"asking": "coming"}, "a trial is on its way"),
    ("device", {"asking": "device"}, "waiting for the device"),
    ("disturbed", {"asking": "disturbed"}, "keeps being disturbed"),
    ("busy", {"asking": "busy"}, "the casebook is in use"),
    ("train-end", {"asking": "end", "doing": "training"}, "Back to the beginning"),
    ("silent", {"own_sound": True}, "Start the sound"),
]
"""A screen, what the host says in place of what it said, and what stands there."""


def test_every_screen_of_a_chair_that_waits_has_no_serious_fault(page: Page, book: Casebook) -> None:
    sealed_plan(book, method="abx", trials=5)
    book.close()
    with served(book.folder) as opened:
        page.goto(opened.chair)
        page.get_by_role("button", name="Ada").tap()
        page.get_by_role("button", name="Begin").tap()
        screen(page, "hear")
        said: dict[str, Any] = {}

        def told(route: Route) -> None:
            at = page.request.get(f"{opened.address}/chair/now").json()
            at["view"] |= {"asking": said.get("asking", "hear"), "said": [HOST], "sound": "a name"}
            route.fulfill(json=at | said)

        page.route("**/chair/now", told)
        page.route("**/chair/sit", told)
        for name, instead, stands in SHOWN:
            said = instead
            page.evaluate("dispatchEvent(new Event('online'))")  # it asks at once then
            screen(page, name)
            expect(page.locator("#sheet")).to_contain_text(stands)
            accessible(page)
        page.route(
            "**/chair/sound/output", lambda route: route.fulfill(json={"said": {"result": "kept", "message": ""}})
        )
        page.route("**/chair/sounds", lambda route: route.fulfill(status=422, body=json.dumps({"message": HOST})))
        page.get_by_role("button", name="Start the sound").tap()
        expect(page.get_by_text("This browser cannot play the trial")).to_be_visible()
        accessible(page)
        page.unroute_all(behavior="wait")
        page.reload()
        screen(page, "hear")
        press(page, "q")
        screen(page, "leave")
        accessible(page)
        press(page, "Escape", "x")
        expect(page.locator(".label", has_text="X")).to_have_attribute("aria-pressed", "true")
        page.route("**/chair/answer", lambda route: route.abort())
        press(page, "Enter", "a", "1")
        screen(page, "keeping")
        accessible(page)
        press(page, "q")
        page.unroute_all(behavior="wait")
        expect(page.locator("#count")).to_have_text("trial 2 of 5")
        press(page, "q", "Enter")
        screen(page, "left")
        accessible(page)
